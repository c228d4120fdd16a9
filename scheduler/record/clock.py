"""Whether the computer's clock can be right, as far as the record knows.

A pause of weeks or a winter is normal, so that only a clock is doubted which is behind what is
recorded, or more than a year and a month ahead of it; and one that is older than this program.
Who says what time it is (`--now`) is believed.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

BEHIND_MOST = timedelta(minutes=10)
"""Clocks are set back by so much when they find the right time."""

AHEAD_MOST = timedelta(days=400)
EARLIEST = datetime(2026, 1, 1, tzinfo=UTC)


def clock_doubt(latest: datetime | None, now: datetime) -> str | None:
    """Return why a clock that says `now` cannot be right, None where it can.

    `latest` is when the latest journal line was recorded.
    """
    says = f"the clock of this computer says {_said(now, now)}"
    if latest is not None and now < latest - BEHIND_MOST:
        return f"{says}, which is before the last line was recorded ({_said(latest, now)})"
    if latest is not None and now > latest + AHEAD_MOST:
        years = (now - latest).days / 365.25
        return f"{says}, {years:.0f} years after the last line was recorded ({_said(latest, now)})"
    if now < EARLIEST:
        return f"{says}, which was before this program"
    return None


def _said(moment: datetime, now: datetime) -> str:
    return f"{moment.astimezone(now.tzinfo):%Y-%m-%d %H:%M}"
