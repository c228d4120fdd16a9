"""The chamber and the cold: when things go in, are looked at, come out, and are put away.

Pure. There is one event per kind and local day; it is ticked when its work is recorded.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from scheduler.feed.bench_days import TIMED_ALARMS
from scheduler.feed.ical import Reminder
from scheduler.feed.titles import as_counted, fitted, natural
from scheduler.record.snapshot import grouped
from scheduler.words import cautions
from scheduler.words.records import Place
from scheduler.words.wording import WEEKDAYS, moment

TASK = timedelta(minutes=30)


@dataclass(frozen=True, slots=True)
class GoingIn:
    """One that is planned to go in at `by` and is not in yet; `stale`: its session changed.

    `who`: the person whose session it is for, None: anybody's.
    """

    specimen: str
    by: datetime
    out_by: datetime | None
    session: datetime
    board: str
    stale: bool = False
    who: str | None = None


@dataclass(frozen=True, slots=True)
class Inside:
    """One that went in at `since`; `until` is None while it is in.

    `mounted`: it came out to be mounted. `who`: the person whose session it is for, None: anybody's
    session, or none.
    """

    specimen: str
    since: datetime
    look_at: datetime
    out_by: datetime
    until: datetime | None = None
    mounted: bool = False
    who: str | None = None


@dataclass(frozen=True, slots=True)
class Cold:
    """One for the cold: `by` when it must be there; `done` is when it was put there."""

    specimen: str
    place: Place
    by: datetime
    done: datetime | None = None


def chamber_events(
    going: Iterable[GoingIn], inside: Iterable[Inside], away: Iterable[Cold], of: str = ""
) -> tuple[Reminder, ...]:
    """Return the events of what goes in, is looked at, comes out and goes into the cold.

    `of` is added to the end of their keys, so that one person's events are not everybody's.
    """
    planned, there = tuple(going), tuple(inside)
    to_do = grouped(planned, lambda g: g.by.date())
    went_in = grouped(there, lambda s: s.since.date())
    looked = [s for s in there if s.until is None or s.until > s.look_at]
    put_away = grouped(away, lambda a: (a.done or a.by).date())
    found = (
        *(_in(day, to_do.get(day, ()), went_in.get(day, ())) for day in {**to_do, **went_in}),
        *(_look(day, here) for day, here in grouped(looked, lambda s: s.look_at.date()).items()),
        *(
            _out(day, here)
            for day, here in grouped(there, lambda s: (s.until or s.out_by).date()).items()
        ),
        *(_cold(day, here) for day, here in put_away.items()),
    )
    return tuple(replace(r, key=r.key + of) for r in found) if of else found


def _in(day: date, going: Sequence[GoingIn], inside: Sequence[Inside]) -> Reminder:
    names = as_counted(g.specimen for g in going)
    done = [f"In since {moment(s.since, day)}: {s.specimen}" for s in _ordered(inside)]
    if not going:
        title = fitted("✓ Chamber: in ", as_counted(s.specimen for s in inside))
        start = min(s.since for s in inside)
        return _timed(f"chamber/{day.isoformat()}", start, title, "\n".join(done), ())
    days = dict.fromkeys(WEEKDAYS[g.session.weekday()] for g in going)
    stale = any(g.stale for g in going)
    if stale:
        title = f"Chamber: plan again first ({len(names)} for {', '.join(days)})"
    else:
        title = fitted("Chamber: in ", names, f" for {', '.join(days)}")
    lines = ["The plan no longer holds. Plan again: wingrest plan"] if stale else []
    for one in sorted(going, key=lambda g: (g.by.astimezone(UTC), natural(g.specimen))):
        out = f", out by {moment(one.out_by, day)} at the latest" if one.out_by else ""
        session = f"for {moment(one.session, day)} on {one.board}"
        lines.append(f"- {one.specimen}: in {moment(one.by, day)}{out}, {session}")
    text = "\n".join([*lines, *done, "", cautions.CHAMBER])
    start = min(g.by for g in going)
    return _timed(f"chamber/{day.isoformat()}", start, title, text, TIMED_ALARMS)


def _look(day: date, here: Sequence[Inside]) -> Reminder:
    waits = [s for s in here if s.until is None]
    names = as_counted(s.specimen for s in waits or here)
    title = fitted("Chamber: look at " if waits else "✓ Chamber: first look ", names)
    lines = [
        f"- {s.specimen}: in since {moment(s.since, day)}, look {moment(s.look_at, day)}"
        + (f", out {moment(s.until, day)}" if s.until else f", out by {moment(s.out_by, day)}")
        for s in _ordered(here)
    ]
    lines += ["", cautions.FIRST_LOOK, cautions.CHAMBER] if waits else []
    start = min(s.look_at for s in waits or here)
    alarms = TIMED_ALARMS if waits else ()
    return _timed(f"look/{day.isoformat()}", start, title, "\n".join(lines), alarms)


def _out(day: date, here: Sequence[Inside]) -> Reminder:
    waits = [s for s in here if s.until is None]
    lines = [
        f"- {s.specimen}: out by {moment(s.out_by, day)}, in since {moment(s.since, day)}"
        for s in _ordered(waits)
    ]
    lines += [
        f"- {s.specimen}: out {moment(s.until, day)}" + (", mounted" if s.mounted else "")
        for s in _ordered(here)
        if s.until
    ]
    if not waits:
        title = fitted("✓ Chamber: out ", as_counted(s.specimen for s in here))
        start = min(s.until for s in here if s.until)
        return _timed(f"out/{day.isoformat()}", start, title, "\n".join(lines), ())
    first = min(s.out_by for s in waits)
    when = f" by {first.hour}:{first:%M}"
    title = fitted("Chamber: out ", as_counted(s.specimen for s in waits), when)
    text = "\n".join([*lines, "", cautions.CHAMBER])
    return _timed(f"out/{day.isoformat()}", first - TASK, title, text, TIMED_ALARMS)


def _cold(day: date, here: Sequence[Cold]) -> Reminder:
    waits = [a for a in here if a.done is None]
    places = as_counted(a.place for a in waits or here)
    place = " and ".join(places).capitalize()
    names = as_counted(a.specimen for a in waits or here)
    lines = [
        f"- {a.specimen}: into the {a.place} by {moment(a.by, day)}, in a closed box"
        if a.done is None
        else f"- {a.specimen}: in the {a.place} since {moment(a.done, day)}"
        for a in sorted(here, key=lambda a: natural(a.specimen))
    ]
    key = f"cold/{day.isoformat()}"
    if not waits:
        start = min(a.done for a in here if a.done)
        return _timed(key, start, fitted(f"✓ {place}: ", names), "\n".join(lines), ())
    first = min(a.by for a in waits)
    title = fitted(f"{place}: ", names, f" by {first.hour}:{first:%M}")
    lines.append("No session takes these before they spoil: the cold keeps them.")
    # The event begins two hours before, and its alarm rings an hour earlier still: on that evening
    # the person may be hours away from home.
    return _timed(key, first - 4 * TASK, title, "\n".join(lines), TIMED_ALARMS)


def _ordered(here: Iterable[Inside]) -> list[Inside]:
    return sorted(here, key=lambda s: natural(s.specimen))


def _timed(
    key: str, start: datetime, title: str, text: str, alarms: tuple[timedelta, ...]
) -> Reminder:
    begin = start.astimezone(UTC)
    return Reminder(key, begin, begin + TASK, title, text, alarms=alarms, stays=bool(alarms))
