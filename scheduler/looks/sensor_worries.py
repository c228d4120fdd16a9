"""Evidence against sensors: stuck, implausible, apart, drifting or swapped ones.

All bounds are common practice, no source: what a sound sensor from a shop does not do.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import combinations, permutations

from scheduler.air.sensors import AGREE_POINTS, LEAST_PCT, Days, Offset, apart, hours_of, middle
from scheduler.looks.worry import Worry
from scheduler.record.measured import offsets_of
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.records import Room
from scheduler.words.tuples import NamedTuple

LOOK_BACK_DAYS = 90
STUCK_DAYS = 21
DRIFT_POINTS, DRIFT_HOURS = 6.0, 14 * 24
RECENT = timedelta(days=7)
SAME_POINTS = 5.0


class _Logger:
    """The corrected hours of a logger; most questions need only the latest ones."""

    def __init__(self, days: Days, offsets: Sequence[Offset]) -> None:
        self.days, self.offsets = days, offsets

    @cached_property
    def hours(self) -> Sequence[tuple[datetime, float]]:
        """Return all hours, the earliest first."""
        return hours_of(self.days, self.offsets)

    def since(self, day: date) -> Sequence[tuple[datetime, float]]:
        """Return the hours from a date on, the earliest first."""
        return hours_of({d: self.days[d] for d in self.days if d >= day}, self.offsets)

    def latest(self) -> Iterator[tuple[datetime, float]]:
        """Yield the hours, the latest first."""
        for day in sorted(self.days, reverse=True):
            yield from reversed(hours_of({day: self.days[day]}, self.offsets))


class _Heard(NamedTuple):
    """The loggers of a room that know any hour, and the readings of its dial by the hour."""

    room: Room
    loggers: Mapping[str, _Logger]
    dial: Mapping[datetime, float]


def sensor_worries(view: View) -> Iterator[Worry]:
    """Yield which sensors cannot be believed, room by room."""
    heard = [_heard(view, room) for _, room in sorted(view.rooms.items())]
    swapped = set()
    for first, second in combinations(heard, 2):
        if _swapped(first, second):
            swapped |= {first.room.room, second.room.room}
            names = (first.room.room, second.room.room)
            text = (
                f"The loggers of {wording.listed(names)} read like each other's dials: look"
                " whether they, or their files, are swapped"
            )
            yield Worry("sensor", names, text, "wingrest journal")
    for one in heard:
        yield from _implausible(view, one)
        yield from _stuck(one)
        yield from _loggers_apart(view, one)
        if one.room.room not in swapped:
            yield from _off_the_dial(one)


def _heard(view: View, room: Room) -> _Heard:
    since = view.wall(view.now) - timedelta(days=LOOK_BACK_DAYS)
    loggers = {
        name: _Logger(days, offsets_of(room.room, name, view.facts))
        for name, days in view.facts.loggers_of(room.room, since.date()).items()
    }
    dials = view.facts.dials_of(room.room, view.now - timedelta(days=LOOK_BACK_DAYS))
    by_hour = {
        view.wall(d.read_at).replace(minute=0, second=0, microsecond=0): d.rh_pct for d in dials
    }
    return _Heard(room, {name: one for name, one in loggers.items() if any(one.latest())}, by_hour)


def _named(one: _Heard, logger: str) -> str:
    return f"{one.room.room}'s {'logger' if len(one.loggers) == 1 else logger}"


def _implausible(view: View, one: _Heard) -> Iterator[Worry]:
    least, since = LEAST_PCT[one.room.regime], view.wall(view.now) - RECENT
    said = [(name, logger.since(since.date())) for name, logger in one.loggers.items()]
    for name, hours in (*said, ("dial", sorted(one.dial.items()))):
        low = [rh for at, rh in hours if at >= since and rh < least]
        if low:
            who = f"{one.room.room}'s dial" if name == "dial" else _named(one, name)
            text = (
                f"{who} said {min(low):.3g} %: no ordinary room is so dry. See whether it is"
                " broken; dates that rest on it come too soon"
            )
            yield Worry("sensor", (one.room.room,), text, f"wingrest air {one.room.room} RH")


def _stuck(one: _Heard) -> Iterator[Worry]:
    for name, logger in one.loggers.items():
        hours = logger.latest()
        last_at, last = next(hours)
        since = last_at
        for at, rh in hours:
            if rh != last:
                break
            since = at
        days = (last_at - since).total_seconds() / 86_400
        if days >= STUCK_DAYS and one.room.regime != "desiccant":
            text = (
                f"{_named(one, name)} has said {last:.3g} % for {days:.0f} days without a change:"
                " it is stuck. Read a dial, or test it over salt"
            )
            yield Worry("sensor", (one.room.room,), text, f"wingrest air {one.room.room} RH")


def _loggers_apart(view: View, one: _Heard) -> Iterator[Worry]:
    chosen = view.facts.counting_loggers.get(one.room.room)
    for (a, first), (b, second) in combinations(sorted(one.loggers.items()), 2):
        found = apart(first.hours, dict(second.hours))
        if found is None:
            continue
        if found.hours >= DRIFT_HOURS and abs(found.end - found.begin) >= DRIFT_POINTS:
            text = (
                f"{one.room.room}: {a} and {b} drift apart, from {found.begin:+.0f} to"
                f" {found.end:+.0f} points in {found.hours} h. Test both over salt"
            )
            yield Worry("sensor", (one.room.room,), text, f"wingrest air {one.room.room} --salt RH")
        elif abs(found.median) > AGREE_POINTS and chosen not in (a, b):
            damper = a if found.median > 0 else b
            text = (
                f"{one.room.room}: {a} and {b} are {abs(found.median):.0f} points apart. The"
                f" damper one counts, {damper}, until you say which is right"
            )
            command = f"wingrest air {one.room.room} --logger NAME"
            yield Worry("sensor", (one.room.room,), text, command)


def _off_the_dial(one: _Heard) -> Iterator[Worry]:
    for name, logger in one.loggers.items():
        points = _from_dial(logger, one.dial)
        if points is not None and abs(points) > AGREE_POINTS:
            way = "above" if points > 0 else "below"
            text = (
                f"{_named(one, name)} is {abs(points):.0f} points {way} the dial: one of them is"
                " wrong. Test them over salt"
            )
            yield Worry("sensor", (one.room.room,), text, f"wingrest air {one.room.room} --salt RH")


def _from_dial(logger: _Logger, dial: Mapping[datetime, float]) -> float | None:
    if not dial:
        return None
    found = [rh - dial[at] for at, rh in logger.hours if at in dial]
    return middle(found) if found else None


def _swapped(first: _Heard, second: _Heard) -> bool:
    """Say whether each room's loggers follow the other room's dial instead of their own."""
    for mine, other in permutations((first, second), 2):
        own = [_from_dial(logger, mine.dial) for logger in mine.loggers.values()]
        theirs = [_from_dial(logger, other.dial) for logger in mine.loggers.values()]
        if not own or any(p is None or abs(p) <= AGREE_POINTS for p in own):
            return False
        if any(p is None or abs(p) > SAME_POINTS for p in theirs):
            return False
    return True
