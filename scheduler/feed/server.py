"""One person's calendar server (CalDAV, RFC 4791), spoken to through the `caldav` library.

This is the edge: whatever the network or the server does becomes an answer or one of our errors.
The password goes to the library and nowhere else. No message here quotes the library's own words,
because those may quote what was sent.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urljoin, urlsplit

from scheduler.feed.address import (
    CAL,
    DAV,
    LOOK,
    CalendarPlace,
    calendar_place,
    same_host,
    same_server,
    same_server_or_safer,
)
from scheduler.feed.publishing import EventChange, FoundEvent
from scheduler.words.problems import Refused, WingrestError

_EVENTS = (
    '<C:calendar-query xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav"><prop><getetag/>'
    '<C:calendar-data/></prop><C:filter><C:comp-filter name="VCALENDAR">'
    '<C:comp-filter name="VEVENT"/></C:comp-filter></C:filter></C:calendar-query>'
)
_BUSY = {429, 502, 503, 504}
_OVERTAKEN = {404, 409, 412}
"""Since it was read, the event came, went or changed on the server."""


class Unreachable(WingrestError):  # noqa: N818 - reads as the trade would say it
    """A calendar server that does not answer, or is busy (exit status 4)."""

    status = 4


class CalendarServer:
    """A connection with one user's credentials; use it as a context manager."""

    def __init__(
        self, url: str, user: str, password: str, *, timeout_s: int, ca_file: str | None = None
    ) -> None:
        """Prepare to speak to the server of `url`; nothing is sent yet."""
        for name in ("caldav", "niquests", "urllib3", "urllib3_future"):
            logging.getLogger(name).setLevel(logging.CRITICAL)
        from caldav.davclient import DAVClient

        self.url, self._user, self._timeout_s = url, user, timeout_s
        self._client: Any = DAVClient(
            url=url,
            username=user,
            password=password,
            timeout=timeout_s,
            ssl_verify_cert=ca_file or True,
            enable_rfc6764=False,
        )
        # Without this a .netrc file would be asked first, perhaps for another user.
        session: Any = self._client.session
        session.auth = _unsigned
        session.hooks["response"].append(_stay_here)

    def __enter__(self) -> CalendarServer:
        return self

    def __exit__(self, *_: object) -> None:
        self._client.close()

    def look(self, url: str) -> CalendarPlace:
        """Return what is at an address. Raises Refused where it is no part of a calendar server."""
        found = self._places(url, depth=0)
        if not found:
            raise Refused(
                f"{url} is not part of a calendar server. Copy the calendar's address from the"
                " settings of your calendar app"
            )
        return replace(found[0], url=url)

    def calendars(self, place: CalendarPlace) -> list[CalendarPlace]:
        """Return the calendars that take events and to which a principal or a home leads.

        What is on another host is not looked at, because the password is for this one. Raises
        Refused, naming that host, where no calendar is found here.
        """
        homes, asked = [place.url, *place.leads_to], set[str]()
        elsewhere: list[str] = []
        found: dict[str, CalendarPlace] = {}
        while homes:
            home = homes.pop()
            if home in asked:
                continue
            asked.add(home)
            if not same_host(home, self.url):
                elsewhere.append(home)
                continue
            for one in self._places(home, depth=1, may_fail=home == place.url):
                if one.is_calendar and one.takes_events:
                    found[one.url] = one
                elif one.url.rstrip("/") == home.rstrip("/"):
                    homes += one.leads_to
        if elsewhere and not found:
            raise Refused(
                f"{_host(self.url)} says that your calendars are at {elsewhere[0]}. Your password "
                "is sent only to the host you name: if that address is right, publish to it"
            )
        return sorted(found.values(), key=lambda one: one.url)

    def events(self, calendar: str) -> list[FoundEvent]:
        """Return every event of a calendar, foreign ones too."""
        answer = self._ask("REPORT", calendar, _EVENTS, {"Depth": "1"})
        if answer.status not in (200, 207) or answer.tree is None:
            raise self._no(answer.status, calendar, "read")
        found = []
        for one in answer.tree.iter(f"{DAV}response"):
            href, data = one.findtext(f"{DAV}href"), one.findtext(f".//{CAL}calendar-data")
            if href and data:
                etag = one.findtext(f".//{DAV}getetag")
                found.append(FoundEvent(same_server(calendar, href), etag or None, data))
        return found

    def apply(self, calendar: str, change: EventChange) -> str | None:
        """Make one change; return None when made, "" when overtaken, else why it was refused.

        Only a version that was read before is ever replaced (RFC 4918 10.4), so nothing is lost
        that a phone changed meanwhile.
        """
        headers: dict[str, str] = {}
        if change.found is None:
            headers["If-None-Match"] = "*"
        elif change.found.etag is not None:
            headers["If-Match"] = change.found.etag
        url = change.found.href if change.found else urljoin(calendar, f"{change.uid}.ics")
        if change.data is None:
            answer = self._ask("DELETE", url, "", headers)
        else:
            headers["Content-Type"] = "text/calendar; charset=utf-8"
            answer = self._ask("PUT", url, change.data.decode(), headers)
        if answer.status in _OVERTAKEN:
            return ""
        return None if answer.status < 300 else _why(answer.status)

    def _places(self, url: str, *, depth: int, may_fail: bool = False) -> list[CalendarPlace]:
        answer = self._ask("PROPFIND", url, LOOK, {"Depth": str(depth)})
        if may_fail and answer.status >= 400:
            return []
        if answer.status >= 400:
            raise self._no(answer.status, url, "read")
        if answer.status != 207 or answer.tree is None:
            return []
        return [calendar_place(url, one) for one in answer.tree.iter(f"{DAV}response")]

    def _ask(self, method: str, url: str, body: str, headers: dict[str, str]) -> _Answer:
        from caldav.lib import error

        try:
            answer = self._client.request(url, method, body, headers)
        except error.RateLimitError:
            raise self._busy() from None
        except error.AuthorizationError as said:
            if getattr(said, "status", None) == 403 or said.reason == "Forbidden":
                # RFC 4791 5.3.2.1; some servers answer 409, some 403.
                taken = any("no-uid-conflict" in p for p in getattr(said, "preconditions", ()))
                return _Answer(409 if taken else 403)
            raise Refused(
                f"{_host(url)} does not let in the user {self._user!r} with this password. Check"
                " both; some servers want a password made for this one program"
            ) from None
        except NotImplementedError:
            raise Refused(
                f"{_host(url)} asks for a way to log in that is not known here. Basic and Digest"
                " work; some servers offer them with a password made for one program"
            ) from None
        except SyntaxError:  # lxml: what claims to be XML is none
            return _Answer(200)
        except OSError as fault:  # whichever HTTP library is installed, its errors are these
            raise _unreachable(fault, url, self._timeout_s) from None
        if answer.status in _BUSY:
            raise self._busy()
        return _Answer(answer.status, answer.tree)

    def _busy(self) -> Unreachable:
        return Unreachable(f"{_host(self.url)} is busy or shut for now. Try again later")

    def _no(self, status: int, url: str, verb: str) -> WingrestError:
        if status in (404, 410):
            return Refused(
                f"There is no calendar at {url}; it may have been deleted or renamed. Copy its"
                " address from the settings of your calendar app"
            )
        if status >= 500:
            return Unreachable(f"{_host(url)} failed (HTTP {status}). Try again later")
        return Refused(
            f"{url} cannot be {verb} by the user {self._user!r}: {_why(status)}. Check the address"
        )


@dataclass(frozen=True, slots=True)
class _Answer:
    status: int
    tree: Any = None


def _stay_here(answer: Any, *_: Any, **__: Any) -> Any:
    """Raise Refused where a server redirects to another host: the password is not sent there."""
    to = urljoin(answer.url, answer.headers.get("Location", ""))
    if answer.is_redirect and not same_server_or_safer(answer.url, to):
        raise Refused(
            f"{_host(answer.url)} sends on to {to}. Your password is sent only to the host you"
            " name: if that address is right, publish to it"
        )
    return answer


def _unsigned(request: Any) -> Any:
    return request


def _host(url: str) -> str:
    return urlsplit(url).netloc


def _unreachable(fault: OSError, url: str, timeout_s: int) -> Unreachable:
    # By name: the library may use one of two HTTP libraries, which have the same class names.
    kinds = {kind.__name__ for kind in type(fault).__mro__}
    if "SSLError" in kinds:
        return Unreachable(
            f"{_host(url)} cannot prove who it is (its certificate is not trusted), "
            "so nothing was sent. For a server of your own, name its certificate with --ca-file"
        )
    if "Timeout" in kinds or "TimeoutError" in kinds:
        return Unreachable(
            f"{_host(url)} did not answer within {timeout_s} s. Try again later, or give it more"
            " time with --timeout"
        )
    return Unreachable(
        f"{_host(url)} cannot be reached. Check the address and the network, then try again"
    )


def _why(status: int) -> str:
    known = {
        400: "the server does not accept it",
        403: "the server forbids it",
        405: "the server does not do this here",
        413: "it is too long for the server",
        415: "the server does not accept it",
        423: "it is locked on the server",
        507: "the calendar is full",
    }
    return f"{known.get(status, 'the server refused it')} (HTTP {status})"
