"""Whether the computer's clock can be right, as far as the record knows.

A clock is refused which is behind what is recorded, or more than a year and a month ahead of it,
or older than this program. A pause of weeks or a winter is normal, and so is a clock that went
wrong in it: who records more than a day after the newest moment that is known is asked once
whether it is really that late, unless the system says that a time server set its clock, or the
computer was on all the while. Their line is then the newest moment known. A script says
`--clock-is-right`; who says what time it is (`--now`) is believed.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from scheduler.words.wording import counted

BEHIND_MOST = timedelta(minutes=10)
"""Clocks are set back by so much when they find the right time."""

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
    """Return what to ask of a clock that says `now`, None where nothing needs to be asked.

    `known` is the newest moment that is known to have been.
    """
    if known is None or now <= known + AHEAD_UNASKED:
        return None
    days = (now - known).days
    since = "day" if days == 1 else f"{days} days"
    return f"nothing is known of the last {since}. Is it really {now:%a} {_said(now, now)}?"


def _said(moment: datetime, now: datetime) -> str:
    return f"{moment.astimezone(now.tzinfo):%Y-%m-%d %H:%M}"
