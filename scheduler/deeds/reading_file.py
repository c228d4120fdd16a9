"""A logger's file before it is recorded: read, compared with the record, shown, asked about."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from scheduler.air.sensors import AGREE_POINTS, apart, hours_of, middle
from scheduler.deeds.reading_days import over_recorded, tally_of
from scheduler.intake.asking import Asking, Option
from scheduler.intake.readings import LoggerFile, LoggerManner, Readings, read_readings
from scheduler.intake.readings.merge import Tally, differing_said
from scheduler.looks.logger_file import ReadFile
from scheduler.looks.moved import MovedDate, moved_dates
from scheduler.record.measured import heard_in, offsets_of
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import names, wording
from scheduler.words.problems import BadInput
from scheduler.words.records import Room

LOGGER = "logger"
"""The name of a room's only logger when nobody names it."""


def read_file(
    store: Store,
    rules: Rulebook,
    file: Path,
    room: str,
    manner: LoggerManner,
    now: datetime,
    logger: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> ReadFile:
    """Read a file and compare it with the record, without recording anything.

    logger: its name; None: the room's only one, or a question is asked. Raises BadInput with every
    problem that keeps the file from being read.
    """
    view = view_of(store, rules, now)
    where = names.find(room, view.rooms, "room")
    found = read_readings(
        file,
        zone=view.zone,
        now=now,
        manner=replace(manner, regime=where.regime),
        progress=progress,
    )
    if found.problems:
        raise BadInput(
            f"{wording.counted(len(found.problems), 'problem')} in {file}; nothing was recorded",
            [*found.problems, *found.readings.left_out],
        )
    return _held_against(store, view, where, found, manner, logger)


def _held_against(
    store: Store,
    view: View,
    where: Room,
    found: LoggerFile,
    manner: LoggerManner,
    logger: str | None,
) -> ReadFile:
    asking, room = Asking(manner.answers), where.room
    name = _logger(store, view, room, found.readings, logger, asking)
    tally = tally_of(store.db, room, name, found.readings)
    compared = _compared(view, room, name, found.readings, asking, changes=tally.changes)
    said, moved = tuple(compared), tuple[MovedDate, ...]()
    if tally.changes and not found.questions and not asking.questions:
        after = _as_if(store, view, room, name, found.readings)
        moved = moved_dates(after.standing(), view)
    return ReadFile(where, name, found, tally, (*found.questions, *asking.questions), said, moved)


def _logger(
    store: Store,
    view: View,
    room: str,
    readings: Readings,
    named: str | None,
    asking: Asking,
) -> str:
    """Return the logger that wrote a file; it is asked about if it may be another one."""
    known = list(view.facts.loggers_of(room))
    if named is not None:
        return next((k for k in known if k.casefold() == named.casefold()), named)
    if not known:
        return LOGGER
    tallies = {k: tally_of(store.db, room, k, readings) for k in known}
    same = [k for k, t in tallies.items() if t.known and not t.differing]
    if same:
        return same[0]
    if len(known) == 1 and not tallies[known[0]].differing:
        return known[0]
    another = next(n for i in range(2, 1000) if (n := f"{LOGGER} {i}") not in known)
    options = [Option(k, _corrected(k, tallies[k])) for k in known]
    chosen = asking.ask(
        "logger",
        f"{room} has readings of {wording.listed(known)}. Which logger wrote this file?"
        " (--logger NAME gives a name)",
        [*options, Option("another", f'a further logger of {room}, to be called "{another}"')],
    )
    return another if chosen == "another" else chosen


def _corrected(name: str, tally: Tally) -> str:
    if not tally.differing:
        return f"{name} goes on"
    return f"a corrected file of {name}: {differing_said(tally)}"


def _compared(
    view: View, room: str, logger: str, readings: Readings, asking: Asking, *, changes: bool
) -> Iterator[str]:
    """Yield how a file agrees with the room's dial and its other loggers; ask if it does not.

    changes: whether the file says anything new; what is recorded already was asked about before.
    """
    own = offsets_of(room, logger, view.facts)
    hours = {day: held.hours().packed for day, held in readings.days.items()}
    mine = hours_of(hours, own)
    far = []
    for name, points, count in (
        *_dials_apart(view, room, mine),
        *_loggers_apart(view, room, logger, mine),
    ):
        way = "above" if points > 0 else "below"
        yield f"{abs(points):.1f} points {way} {name} ({count})"
        if abs(points) > AGREE_POINTS:
            far.append(f"{abs(points):.0f} points {way} {name}")
    if far and changes:
        asking.ask(
            "agreement",
            f"The humidity is {wording.listed(far)}. Is it {room}'s air, and a sound sensor?",
            [Option("as-read", "yes: both are kept, and the damper counts until one is named")],
        )


Difference = tuple[str, float, str]


def _dials_apart(
    view: View, room: str, mine: Sequence[tuple[datetime, float]]
) -> Iterator[Difference]:
    known = dict(mine)
    found = []
    for dial in view.facts.dials_of(room):
        at = view.wall(dial.read_at).replace(minute=0, second=0, microsecond=0)
        if at in known:
            found.append(known[at] - dial.rh_pct)
    if found:
        yield "the dial", middle(sorted(found)), wording.counted(len(found), "reading")


def _loggers_apart(
    view: View, room: str, logger: str, mine: Sequence[tuple[datetime, float]]
) -> Iterator[Difference]:
    for name, days in view.facts.loggers_of(room).items():
        if name != logger:
            theirs = dict(hours_of(days, offsets_of(room, name, view.facts)))
            found = apart(mine, theirs)
            if found is not None:
                yield name, found.median, wording.counted(found.hours, "hour")


def _as_if(store: Store, view: View, room: str, logger: str, readings: Readings) -> View:
    """Return the record as it would be with a file's readings in it."""
    facts = view.facts
    loggers: dict[str, Mapping[date, bytes]] = dict(facts.loggers_of(room))
    days = over_recorded(store.db, room, logger, readings, 0)
    hours = {one.day: one.merged.readings.hours().packed for one in days}
    loggers[logger] = {**loggers.get(logger, {}), **hours}
    air = heard_in(room, loggers, facts)
    changed = facts.but(
        air_days={**facts.air_days, room: air}, loggers={**facts.loggers, room: loggers}
    )
    return View(changed, view.rules, view.now)
