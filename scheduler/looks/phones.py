"""Whether phones may be behind: nobody fetched the calendar, or recorded anything, for days."""

from __future__ import annotations

from datetime import datetime, timedelta

from scheduler.looks.worry import Worry
from scheduler.words import wording

SILENT = timedelta(days=3)
"""After so long without a fetch or a record a phone may be behind.

Calendar apps fetch every hour to every day.
"""


def phone_behind(
    asked: datetime | None, recorded: datetime | None, now: datetime, *, waits: bool
) -> Worry | None:
    """Return a worry when a calendar that was fetched or published before no longer is.

    Also when nothing was recorded meanwhile although something `waits` to be done: then a phone
    shows what was, not how things are at the bench. `now` is local to the record.
    """
    if asked is None:
        return None
    if now - asked >= SILENT:
        since = wording.weekday(asked.astimezone(now.tzinfo), now)
        text = f"no phone asked for the calendar since {since}: what phones show may be behind"
        return Worry("phone", (), text, "wingrest serve")
    if waits and recorded is not None and now - recorded >= SILENT:
        since = wording.weekday(recorded.astimezone(now.tzinfo), now)
        text = f"nothing was recorded since {since}: what phones show may be behind the bench"
        return Worry("phone", (), text, "wingrest journal")
    return None
