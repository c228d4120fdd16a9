"""One tap, one record: forms are neither forged, nor counted twice, nor out of date.

Every form carries a slip: a number used once and the journal line from which its page was made,
signed with the bench's token, which only somebody who has the address can know. The tap is noted
in the same transaction as what it records, so that neither exists without the other.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from flask import Request
from itsdangerous import BadSignature, URLSafeSerializer
from markupsafe import Markup
from werkzeug.exceptions import Forbidden

from scheduler.record.deed import Deed, When
from scheduler.record.store import Store
from scheduler.words.problems import Refused

AFTER_MOST = 50


class AlreadyRecorded(Refused):
    """The same tap came again; `line` is the journal line it made, None if it changed nothing."""

    def __init__(self, line: int | None, text: str) -> None:
        super().__init__(text)
        self.line = line


@dataclass(frozen=True, slots=True)
class Slip:
    """What a form carries besides its own fields; `line` is 0 for an empty journal.

    `after` are taps that the same phone sent just before; what they changed is no conflict.
    """

    once: str
    line: int
    after: tuple[str, ...] = ()


def slip_field(bench_token: str, line: int) -> Markup:
    """Return a new slip for a page made from a journal line, as a hidden field of a form."""
    signed = _signer(bench_token).dumps([secrets.token_urlsafe(16), line])
    return Markup('<input type="hidden" name="slip" value="{}">').format(signed)


def read_slip(request: Request, bench_token: str) -> Slip:
    """Return the slip of a form that was sent; raise Forbidden unless the form is ours."""
    _refuse_foreign(request)
    signer = _signer(bench_token)
    try:
        once, line = signer.loads(request.form.get("slip", ""))
        before = request.form.getlist("sent_before")[-AFTER_MOST:]
        return Slip(once, line, tuple(signer.loads(text)[0] for text in before))
    except BadSignature:
        raise Forbidden from None


def _signer(bench_token: str) -> URLSafeSerializer:
    return URLSafeSerializer(bench_token, salt="slip")


@contextmanager
def tapped(path: Path, slip: Slip) -> Iterator[TapStore]:
    """Open the record for what one tap records.

    Raises AlreadyRecorded when the tap was recorded before, and Overtaken when others changed the
    same things since its page was made; nothing is recorded then.
    """
    with TapStore(path, slip) as store:
        store.refuse_repeated()
        yield store


class TapStore(Store):
    """An open record in which everything that is written belongs to one tap."""

    def __init__(self, path: Path, slip: Slip) -> None:
        """Open the record at `path` for the tap of a slip."""
        super().__init__(path)
        self.slip = slip

    @contextmanager
    def deed(self, when: When, command: str, text: str = "") -> Iterator[Deed]:
        """Record as `Store.deed` does, but once for each tap, and only if nobody was quicker."""
        seen = when._replace(seen=self.slip.line, own=self._lines_of(self.slip.after))
        with super().deed(seen, command, text) as deed:
            self.refuse_repeated()
            yield deed
            made = (self.slip.once, deed.line or 0)
            self.db.execute("INSERT INTO tap(once, line) VALUES (?, ?)", made)

    def _lines_of(self, those: tuple[str, ...]) -> frozenset[int]:
        sql = "SELECT line FROM tap WHERE once IN (SELECT value FROM json_each(?))"
        return frozenset(row["line"] for row in self.db.execute(sql, (json.dumps(those),)))

    def refuse_repeated(self) -> None:
        """Raise AlreadyRecorded when this tap is in the record already."""
        row = self.db.execute(
            "SELECT journal.line AS line, text FROM tap LEFT JOIN journal USING (line)"
            " WHERE once = ?",
            (self.slip.once,),
        ).fetchone()
        if row is None:
            return
        if row["line"] is None:
            raise AlreadyRecorded(None, "this was tapped before, and there was nothing to change")
        raise AlreadyRecorded(
            row["line"], f"this is recorded already, as line {row['line']}: {row['text']}"
        )


def _refuse_foreign(request: Request) -> None:
    # Under no-referrer browsers send "Origin: null", and on plain http to another computer they
    # leave out Sec-Fetch-Site. What they do send must fit; the signed slip is needed in any case.
    if request.headers.get("Sec-Fetch-Site", "same-origin") != "same-origin":
        raise Forbidden
    origin = request.headers.get("Origin", "null")
    if origin not in ("null", request.host_url.rstrip("/")):
        raise Forbidden
