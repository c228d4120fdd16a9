"""One tap, one record: forms that are neither forged, nor counted twice, nor out of date.

Every form carries a slip: a number used once, the journal line that its page was made from,
and a proof of both that only the holder of the bench's address can have been given. The tap is
noted in the same transaction as what it records, so that neither can exist without the other.
"""

from __future__ import annotations

import hmac
import json
import secrets
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from flask import Request
from markupsafe import Markup
from werkzeug.exceptions import Forbidden

from scheduler.record.store import Line, Store
from scheduler.words.problems import BadInput, Refused

LINES_TOLD = 5


class AlreadyRecorded(Refused):
    """The same tap came again; `line` is the journal line it made, None if it changed nothing."""

    def __init__(self, line: int | None, text: str) -> None:
        super().__init__(text)
        self.line = line


class Overtaken(Refused):
    """Somebody else recorded something about the same things since the page was made."""


@dataclass(frozen=True, slots=True)
class Slip:
    """What a form carries beside its own fields; `line` is 0 on an empty journal."""

    once: str
    line: int
    proof: str

    def as_fields(self) -> Markup:
        """Return the slip as hidden fields of an HTML form."""
        return Markup(
            '<input type="hidden" name="once" value="{}">'
            '<input type="hidden" name="line" value="{}">'
            '<input type="hidden" name="proof" value="{}">'
        ).format(self.once, self.line, self.proof)


def new_slip(bench_token: str, line: int) -> Slip:
    """Return the slip of one form on a page that was made from a journal line."""
    once = secrets.token_urlsafe(16)
    return Slip(once, line, _proof(bench_token, once, line))


def latest_line(store: Store) -> int:
    """Return the number of the latest journal line; ask before reading what a page shows."""
    found: int | None = store.db.execute("SELECT max(line) FROM journal").fetchone()[0]
    return found or 0


def read_slip(request: Request, bench_token: str) -> Slip:
    """Return the slip of a form that was sent; raise Forbidden unless it is one of ours."""
    _refuse_foreign(request)
    once, proof = request.form.get("once", ""), request.form.get("proof", "")
    line = request.form.get("line", "")
    if not (once and line.isascii() and line.isdecimal() and len(line) < 19):
        raise Forbidden
    wanted = _proof(bench_token, once, int(line))
    if not hmac.compare_digest(proof.encode("utf-8", "replace"), wanted.encode()):
        raise Forbidden
    return Slip(once, int(line), proof)


@contextmanager
def tapped(path: Path, slip: Slip) -> Iterator[Store]:
    """Open the record for what one tap records.

    Raises AlreadyRecorded when the tap was recorded before, Overtaken when what it is about
    was changed since its page was made; nothing is recorded then.
    """
    store = TapStore(path, slip)
    with store:
        store.refuse_repeated()
        try:
            yield store
        except (AlreadyRecorded, Overtaken):
            raise
        except (Refused, BadInput) as error:
            # The same tap may have come in twice at once, or another phone was first: what
            # is refused now was right when the page was made.
            store.refuse_repeated()
            later = store.lines_after(slip.line)
            if later:
                raise Overtaken(f"{error}\n{_told(later)}") from error
            raise


class TapStore(Store):
    """A record in which whatever is written belongs to one tap."""

    def __init__(self, path: Path, slip: Slip) -> None:
        """Open the record at `path` for the tap of a slip."""
        super().__init__(path)
        self._slip = slip

    @contextmanager
    def writing(self, line: Line) -> Iterator[int]:
        """Write as ever, but once per tap and only if nobody was quicker."""
        # The same tap coming in twice at once fails here, on the key; `tapped` says why.
        with super().writing(line) as number:
            self.db.execute("INSERT INTO tap(once, line) VALUES (?, ?)", (self._slip.once, number))
            yield number
            self._refuse_overtaken(number)

    def refuse_repeated(self) -> None:
        """Raise AlreadyRecorded when this tap is in the record."""
        row = self.db.execute(
            "SELECT journal.line AS line, text FROM tap LEFT JOIN journal USING (line)"
            " WHERE once = ?",
            (self._slip.once,),
        ).fetchone()
        if row is None:
            return
        if row["line"] is None:
            raise AlreadyRecorded(None, "this was tapped before, and there was nothing to change")
        raise AlreadyRecorded(
            row["line"], f"this is recorded already, as line {row['line']}: {row['text']}"
        )

    def lines_after(self, line: int) -> list[sqlite3.Row]:
        """Return the journal lines after one, the latest first."""
        return self.db.execute(
            "SELECT line, text FROM journal WHERE line > ? ORDER BY line DESC", (line,)
        ).fetchall()

    def _refuse_overtaken(self, number: int) -> None:
        changes = self.db.execute(
            "SELECT line, of_table, key, coalesce(after, before) AS image FROM change"
            " WHERE line > ? AND line <= ?",
            (self._slip.line, number),
        ).fetchall()
        mine = {t for c in changes if c["line"] == number for t in _things(c)}
        quicker = {
            c["line"] for c in changes if c["line"] != number and not mine.isdisjoint(_things(c))
        }
        if quicker:
            lines = [e for e in self.lines_after(self._slip.line) if e["line"] in quicker]
            raise Overtaken(f"somebody was quicker.\n{_told(lines)}")


def _things(change: sqlite3.Row) -> set[tuple[str, str]]:
    """Return what a changed row is about, so that two rows about one specimen meet."""
    table, image = change["of_table"], json.loads(change["image"])
    about = {(table, str(change["key"]).casefold())}
    if table == "dryness_test":
        about.add(("placement", str(image["placement"])))
    elif table in ("placement", "chamber_stay", "keeping"):
        about.add(("specimen", str(image["specimen"]).casefold()))
    elif table == "board_stay":
        about.add(("board", str(image["board"]).casefold()))
    return about


def _told(lines: Iterable[sqlite3.Row]) -> str:
    every = list(lines)
    said = [f"Line {e['line']} since this page was made: {e['text']}." for e in every[:LINES_TOLD]]
    if len(every) > LINES_TOLD:
        said.append(f"And {len(every) - LINES_TOLD} more.")
    return "\n".join([*said, "Your tap was not recorded. Look again, then decide."])


def _proof(bench_token: str, once: str, line: int) -> str:
    message = f"{once} {line}".encode("utf-8", "replace")
    return hmac.new(bench_token.encode(), message, "sha256").hexdigest()


def _refuse_foreign(request: Request) -> None:
    # Browsers write Origin: null under no-referrer, and leave Sec-Fetch-Site out on plain http
    # beyond loopback: what they do say must fit, and the proof is asked for in any case.
    if request.headers.get("Sec-Fetch-Site", "same-origin") != "same-origin":
        raise Forbidden
    origin = request.headers.get("Origin", "null")
    if origin not in ("null", request.host_url.rstrip("/")):
        raise Forbidden
