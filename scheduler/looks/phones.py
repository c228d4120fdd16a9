"""Whether phones may be behind: nobody fetched the calendar for days."""

from __future__ import annotations

from datetime import datetime, timedelta

from scheduler.looks.worry import Worry
from scheduler.words import wording

SILENT = timedelta(days=3)
"""So long without a fetch, and a phone may be behind; readers ask hourly to daily."""


def phone_behind(asked: datetime | None, now: datetime) -> Worry | None:
    """Return a worry when a calendar that was once fetched or published no longer is.

    `now` is local to the record.
    """
    if asked is None or now - asked < SILENT:
        return None
    since = wording.weekday(asked.astimezone(now.tzinfo), now)
    text = f"no phone asked for the calendar since {since}: what phones show may be behind"
    return Worry("phone", (), text, "wingrest serve")
