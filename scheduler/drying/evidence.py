"""What a date rests on: the days so far, the damp spells and what they cost, what was measured.

Pure. "Days at 50 %" are the days of the rule table, at 20 deg C and 50 %; a day in damper air is
worth less than one of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from scheduler.drying.dates import Stretch
from scheduler.drying.on_board import OnBoard
from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.air.room_air import AirMean

SPELL_DAYS = 2
"""So many damp days in a row are a spell; a single one is only weather."""

KNOWN_SHARE = 0.5
"""A day of which a smaller share is known counts as neither damp nor dry."""

_DAY = timedelta(days=1)
_HOUR = timedelta(hours=1)


class Spell(NamedTuple):
    """Damp days in a row in one room, `first` to `last` included.

    A day is damp when the mean counting humidity of its known hours is above the limit
    `mould_rh_pct`. `lost_days` are the days of the spell less the days at 50 % that they were
    worth to this body.
    """

    room: str
    first: date
    last: date
    rh_pct: float
    counts_pct: float
    lost_days: float


class KnownAir(NamedTuple):
    """How the air of the time so far is known, in % of its hours.

    `regime_pct`: in a box or a cabinet of which nothing was ever measured.
    """

    logger_pct: float
    dial_pct: float
    assumed_pct: float
    regime_pct: float


class Evidence(NamedTuple):
    """What stands behind the dates of one specimen on a board, at a moment.

    `days` have begun since the mounting, the mounting day included; they were worth `worth_days` at
    20 deg C and 50 %. `days_at_50` and `days_expected` are the table's minimum at 50 % and in the
    expected air. `assumed_due` is the due date by the assumed air alone. `next_date` is when to
    come next: the due date, or today once it is past; None without a date.
    """

    days: int
    worth_days: float
    days_at_50: int | None
    days_expected: int | None
    assumed_due: date | None
    spells: tuple[Spell, ...]
    known: KnownAir
    next_date: date | None


def evidence_of(one: OnBoard, now: datetime) -> Evidence:
    """Return what the dates of a standing specimen rest on at a moment (local)."""
    wall, due = now.replace(tzinfo=None), one.told(now.date()).due
    at_50 = one.paces.ordinary_time(one.specimen, one.body_mm)
    limit = one.rules.limit("mould_rh_pct")
    return Evidence(
        days=max(0, (wall.date() - one.placement.mounted_on).days + 1),
        worth_days=one.worth(now),
        days_at_50=at_50.min_days,
        days_expected=one.time.min_days if one.time else None,
        assumed_due=one.assumed_dates.due,
        spells=tuple(s for stretch in one.air for s in _spells(one, stretch, wall, limit)),
        known=_known(one, wall),
        next_date=due and max(due, wall.date()),
    )


def _known(one: OnBoard, now: datetime) -> KnownAir:
    total = logger = dial = regime = 0.0
    for s in one.air:
        end = now if s.end is None else min(s.end, now)
        hours = max(0.0, (end - s.begin) / _HOUR)
        total += hours
        measured = one.paces.of(s.room)
        if measured is None:
            regime += hours if s.room.regime != "room" else 0.0
        elif hours:
            covered = measured.air.covered(s.begin, end)
            # The running hour counts as a whole one: never report more hours than there were.
            logger += min(hours, covered["logger"])
            dial += min(max(0.0, hours - covered["logger"]), covered["dial"])
    if not total:
        return KnownAir(0.0, 0.0, 0.0, 0.0)
    parts = (logger, dial, total - logger - dial - regime, regime)
    return KnownAir(*(round(100 * part / total, 1) for part in parts))


def _spells(one: OnBoard, stretch: Stretch, now: datetime, limit_pct: float) -> Iterator[Spell]:
    days: list[tuple[date, AirMean, float]] = []
    for day, mean, lost in _damp_days(one, stretch, now, limit_pct):
        if days and day - days[-1][0] != _DAY:
            yield from _spell(stretch, days)
            days = []
        days.append((day, mean, lost))
    yield from _spell(stretch, days)


def _damp_days(
    one: OnBoard, stretch: Stretch, now: datetime, limit_pct: float
) -> Iterator[tuple[date, AirMean, float]]:
    """Yield the damp days of a stretch so far, each with its air and the days that it lost."""
    measured, body = one.paces.of(stretch.room), stretch.drying
    if measured is None or body is None:
        return
    end = now if stretch.end is None else min(stretch.end, now)
    air, begin = measured.air, stretch.begin
    while begin < end:
        until = min(end, datetime.combine(begin.date(), time()) + _DAY)
        mean = air.mean(begin, until)
        hours = (until - begin) / _HOUR
        known = sum(air.covered(begin, until).values())
        if mean and known >= KNOWN_SHARE * hours and mean.counting_pct > limit_pct:
            yield begin.date(), mean, hours / 24 - body.between(begin, until)
        begin = until


def _spell(stretch: Stretch, days: list[tuple[date, AirMean, float]]) -> Iterator[Spell]:
    if len(days) >= SPELL_DAYS:
        hours = sum(mean.hours for _, mean, _ in days)
        yield Spell(
            stretch.room.room,
            days[0][0],
            days[-1][0],
            sum(mean.rh_pct * mean.hours for _, mean, _ in days) / hours,
            sum(mean.counting_pct * mean.hours for _, mean, _ in days) / hours,
            round(sum(lost for _, _, lost in days), 9),
        )
