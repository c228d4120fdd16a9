"""Whether the computer's clock can be right, as far as the record knows.

A clock is refused when it is behind what is recorded, more than 400 days ahead of it, or earlier
than this program. A pause of weeks or of a winter is normal, and a clock may go wrong during it.
So a person who records more than a day after the newest known moment is asked once whether it is
really that late, unless the system says that a time server set its clock, or the computer was on
all the time. The line they record is then the newest known moment. A script says
`--clock-is-right`; a time given with `--now` is believed.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from scheduler.words.wording import counted

BEHIND_MOST = timedelta(minutes=10)
"""How far behind the record a clock may be: it may have been set back to the right time."""

AHEAD_MOST = timedelta(days=400)
AHEAD_UNASKED = timedelta(days=1)
EARLIEST = datetime(2026, 1, 1, tzinfo=UTC)


def clock_doubt(latest: datetime | None, now: datetime) -> str | None:
    """Return why a clock that says `now` cannot be right, None where it can.

    `latest` is when the latest journal line was recorded.
    """
    says = f"the clock of this computer says {_said(now, now)}"
    if latest is not None and now < latest - BEHIND_MOST:
        return f"{says}, which is before the last line was recorded ({_said(latest, now)})"
    if latest is not None and now > latest + AHEAD_MOST:
        years = counted(round((now - latest).days / 365.25), "year")
        return f"{says}, {years} after the last line was recorded ({_said(latest, now)})"
    if now < EARLIEST:
        return f"{says}, which was before this program"
    return None


def clock_question(known: datetime | None, now: datetime) -> str | None:
    """Return the question to ask about a clock that says `now`, None where none is needed.

    `known` is the newest moment that has certainly passed.
    """
    if known is None or now <= known + AHEAD_UNASKED:
        return None
    days = (now - known).days
    since = "day" if days == 1 else f"{days} days"
    return f"nothing is known of the last {since}. Is it really {now:%a} {_said(now, now)}?"


def _said(moment: datetime, now: datetime) -> str:
    return f"{moment.astimezone(now.tzinfo):%Y-%m-%d %H:%M}"
