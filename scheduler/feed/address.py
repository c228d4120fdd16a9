"""Addresses on a calendar server (RFC 4791), and what a server says is there. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import ip_address
from typing import Any
from urllib.parse import unquote, urljoin, urlsplit, urlunsplit

from scheduler.words.problems import BadInput

DAV, CAL = "{DAV:}", "{urn:ietf:params:xml:ns:caldav}"
LOOK = (
    '<propfind xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav"><prop><resourcetype/>'
    "<displayname/><current-user-principal/><current-user-privilege-set/>"
    "<C:calendar-home-set/><C:supported-calendar-component-set/></prop></propfind>"
)
"""What an address is asked (PROPFIND)."""

MAY_WRITE = {"all", "write", "write-content", "bind"}
"""Each of these rights lets a person add events (RFC 3744 3)."""


@dataclass(frozen=True, slots=True)
class CalendarPlace:
    """What is at an address: a calendar, or something that leads to calendars.

    `writable` is None when the server does not say.
    """

    url: str
    name: str = ""
    is_calendar: bool = False
    takes_events: bool = True
    writable: bool | None = None
    leads_to: tuple[str, ...] = ()


def address(text: str) -> tuple[str, str | None]:
    """Return a calendar's address without anything secret, and the user named in it or None.

    Raises BadInput for anything but http or https, and for a password, which it never repeats.
    """
    try:
        parts = urlsplit(text.strip())
        host, port = parts.hostname, parts.port
    except ValueError:
        host, port = None, None
    if not host or parts.scheme not in ("http", "https"):
        raise BadInput("That is no calendar's address. Write it as https://host/path/")
    if parts.password is not None:
        raise BadInput(
            "The address holds a password, which other users of this computer can read. Leave it "
            "out: set WINGREST_CALDAV_PASSWORD or wait to be asked"
        )
    shown = f"[{host}]" if ":" in host else host
    shown += f":{port}" if port is not None else ""
    path = parts.path if parts.path.endswith("/") else parts.path + "/"
    return urlunsplit((parts.scheme, shown, path, "", "")), parts.username and unquote(
        parts.username
    )


def sends_in_clear(url: str) -> bool:
    """Say whether a password sent to this address crosses a network unencrypted."""
    parts = urlsplit(url)
    try:
        loopback = ip_address(parts.hostname or "").is_loopback
    except ValueError:
        loopback = parts.hostname == "localhost"
    return parts.scheme == "http" and not loopback


def calendar_place(base: str, response: Any) -> CalendarPlace:
    """Return what one part of a server's answer to `LOOK` says."""

    def hrefs(name: str) -> list[str]:
        return [e.text for e in response.iterfind(f".//{name}/{DAV}href") if e.text]

    kinds = {e.tag for e in response.iterfind(f".//{DAV}resourcetype/*")}
    components = [
        (e.get("name") or "").upper()
        for e in response.iterfind(f".//{CAL}supported-calendar-component-set/{CAL}comp")
    ]
    rights = response.find(f".//{DAV}current-user-privilege-set")
    may = (
        {e.tag.removeprefix(DAV) for e in rights.iterfind(f"{DAV}privilege/*")}
        if (rights is not None)
        else set()
    )
    return CalendarPlace(
        url=same_server(base, response.findtext(f"{DAV}href") or ""),
        name=" ".join((response.findtext(f".//{DAV}displayname") or "").split()),
        is_calendar=f"{CAL}calendar" in kinds,
        takes_events=not components or "VEVENT" in components,
        writable=bool(may & MAY_WRITE) if may else None,
        leads_to=tuple(
            elsewhere
            for href in (*hrefs(f"{CAL}calendar-home-set"), *hrefs(f"{DAV}current-user-principal"))
            if (elsewhere := _elsewhere(base, href))
        ),
    )


def same_server(base: str, href: str) -> str:
    """Return an address on the server of `base`, whatever host the server writes into it."""
    told, here = urlsplit(urljoin(base, href)), urlsplit(base)
    return urlunsplit((here.scheme, here.netloc, told.path, "", ""))


def same_host(one: str, other: str) -> bool:
    """Say whether two addresses have the same scheme, host and port (RFC 6454 4)."""
    return _origin(one) == _origin(other)


def same_server_or_safer(one: str, other: str) -> bool:
    """Say whether another address has the same scheme, host and port, or https instead of http."""
    return same_host(one, other) or (
        one[:5] == "http:" and same_host("https" + one[4:], other) and urlsplit(one).port is None
    )


def _origin(url: str) -> tuple[str, str | None, int | None]:
    parts = urlsplit(url)
    return parts.scheme, parts.hostname, parts.port or {"http": 80, "https": 443}.get(parts.scheme)


def _elsewhere(base: str, href: str) -> str | None:
    """Return where a home is, which may be another host; None if it is not http(s) or less safe."""
    told = urlsplit(urljoin(base, href))
    if told.scheme not in ("http", "https") or (base[:6] == "https:" and told.scheme == "http"):
        return None
    path = told.path if told.path.endswith("/") else told.path + "/"
    return urlunsplit((told.scheme, told.netloc.rpartition("@")[2], path, "", ""))
