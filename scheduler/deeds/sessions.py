"""Bench time: a single session, one every week, more or fewer minutes, or none at all."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import NamedTuple

from scheduler.deeds.outcome import Outcome, Telling, told
from scheduler.deeds.replan import with_plan_mended
from scheduler.intake.batch import cells
from scheduler.intake.batch.columns import SESSIONS
from scheduler.intake.typed import Words, reader_by_column
from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words import names, repeats, wording
from scheduler.words.people import usual_name, whose
from scheduler.words.problems import BadInput
from scheduler.words.records import Session
from scheduler.words.repeats import Repeat

CLOCK = "09:00"
"""When a session begins for which only a date was given; the person is told."""

USUAL_WEEKS = 26
"""Sessions without a last day repeat for so many weeks: as far as the calendar shows."""

MOST_SAID = 3
"""So many sessions that overlap others are named."""

_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


class Asked(NamedTuple):
    """What was typed: an id, a date with or without a time, or weekdays; and whose it is."""

    words: tuple[str, ...]
    minutes: str | None
    until: str | None
    who: str | None = None


def set_session(store: Store, rules: Rulebook, asked: Asked, when: When) -> Outcome:
    """Record bench time as it was typed, and mend the kept plan.

    Raises BadInput for words that cannot be used.
    """
    with store.deed(when, "session") as deed:
        tell = _typed(deed, store.facts(), asked)
    if deed.line is None:
        return told(deed, tell)
    return told(deed, lambda: with_plan_mended(tell(), store, rules, when.now))


def _typed(deed: Deed, snap: Snapshot, asked: Asked) -> Telling:
    typed = [part for word in asked.words for part in _parts(word)]
    text = " ".join(asked.words)
    known = names.lookup(text, snap.sessions)
    words = Words("session")
    who = words.read("--who", asked.who, reader_by_column(SESSIONS)["who"])
    if who is not None:
        asked = asked._replace(who=usual_name(who, snap.sessions.values()))
    until: date | None = words.read("--until", asked.until, cells.calendar_day)
    if typed and _DATE.fullmatch(typed[0]):
        return _dated(deed, snap, typed, asked, words)
    if known is not None:
        return _known(deed, snap, known, _minutes(asked, words), asked.who)
    if repeats.names_weekday(text):
        repeat = _repeat(text, asked, until, words, snap.local(deed.when.now).date())
        return _repeated(deed, snap, repeat, asked.who, words)
    raise names.unknown([text], [*snap.sessions, *repeats.WEEKDAY_WORDS], "session")


def _parts(word: str) -> list[str]:
    """Return the words of a date with its time: "2027-05-08T09:00" gives two of them."""
    return (word.replace("T", " T") if _DATE.match(word) else word).split()


def _minutes(asked: Asked, words: Words) -> int:
    if asked.until is not None:
        remedy = f'Give weekdays, as in "{repeats.WEEKDAY_WORDS[5]} 09:00", or leave --until out'
        words.fault("--until", asked.until, "goes with a session that repeats", remedy)
    minutes = words.read("--minutes", asked.minutes, cells.whole(0, repeats.MOST_MIN, "min"))
    if minutes is None and not words.problems:
        words.fault("--minutes", None, "is not given", "Say how long; 0 cancels the session")
    words.raise_if_any()
    return int(minutes)


def _known(deed: Deed, snap: Snapshot, session: Session, minutes: int, who: str | None) -> Telling:
    """Give a session other minutes, or a person if it was anybody's."""
    if who is not None and session.who not in (None, who):
        remedy = f"`wingrest amend {session.session} who={who}` gives it to {who}"
        raise BadInput(f"{session.session} is {session.who}'s. {remedy}")
    changed = session._replace(minutes=minutes, who=who or session.who)
    start = wording.moment(snap.local(session.start), deed.when.now) + whose(changed)
    if changed == session:
        already = Outcome((f"{session.session} ({start}) has {minutes} min already",))
        return lambda: already
    if not minutes:
        deed.text = f"{session.session} ({start}) is cancelled"
    elif minutes == session.minutes:
        deed.text = f"{session.session} ({start}): {minutes} min, {who}'s now"
    else:
        deed.text = f"{session.session} ({start}): {minutes} min instead of {session.minutes}"
    deed.update("session", session.session, {"minutes": minutes, "who": changed.who})
    return lambda: Outcome((deed.text,), tuple(_warnings(snap, [changed], deed.when)))


def _dated(deed: Deed, snap: Snapshot, typed: Sequence[str], asked: Asked, words: Words) -> Telling:
    """Change the session of that day or moment; make one when there is none."""
    minutes = _minutes(asked, words)
    day = words.read("date", typed[0], cells.calendar_day)
    clock = " ".join(typed[1:]).removeprefix("T")
    at = words.read("time", clock.zfill(5) if clock else CLOCK, cells.clock)
    words.raise_if_any()
    # A session whose id is the date may have been moved to another day.
    that_day = [
        s
        for s in snap.sessions.values()
        if snap.local(s.start).date() == day or (not clock and s.session == typed[0])
    ]
    start = words.local("time", datetime.combine(day, at), snap.zone)
    words.raise_if_any()
    assert start is not None
    same = [s for s in that_day if asked.who in (None, s.who) and (not clock or s.start == start)]
    on = wording.weekday(day, deed.when.now)
    if len(same) > 1:
        which = wording.listed(f"{s.session} ({snap.local(s.start):%H:%M}{whose(s)})" for s in same)
        remedy = "Give the id of one" if clock else "Give the id or the time of one"
        raise BadInput(f"on {on} there are {which}. {remedy}")
    if same:
        return _known(deed, snap, same[0], minutes, asked.who)
    if not minutes and that_day:
        which = wording.listed(
            f"{s.session} ({snap.local(s.start):%H:%M}{whose(s)})" for s in that_day
        )
        raise BadInput(
            f"on {on} there is no such session to cancel, only {which}. Give the id of one"
        )
    hint = f"  no time was said: {CLOCK}. `wingrest amend` corrects it"
    return _create(deed, snap, [start], asked.who, minutes, () if clock else (hint,))


def _repeat(text: str, asked: Asked, until: date | None, words: Words, today: date) -> Repeat:
    """Return the repeat that was typed; its minutes and last day are words or options."""
    minutes = words.read("--minutes", asked.minutes, cells.whole(1, repeats.MOST_MIN, "min"))
    try:
        repeat = repeats.parse_repeat(text)
    except repeats.RepeatFault as fault:
        words.fault(None, text, fault.reason, fault.remedy)
        words.raise_if_any()
        raise
    repeat = repeat._replace(minutes=minutes or repeat.minutes, until=until or repeat.until)
    if repeat.minutes is None and not words.problems:
        words.fault("--minutes", None, "is not given", "Say how long each is: --minutes 180")
    if repeat.until is None and asked.until is None:
        repeat = repeat._replace(until=today + timedelta(weeks=USUAL_WEEKS))
    elif repeat.until and repeat.until > today + timedelta(days=366 * repeats.MOST_YEARS):
        reason = f"is more than {repeats.MOST_YEARS} years ahead"
        words.fault("--until", repeat.until.isoformat(), reason, "Check the year")
    words.raise_if_any()
    return repeat


def _repeated(deed: Deed, snap: Snapshot, repeat: Repeat, who: str | None, words: Words) -> Telling:
    after = snap.local(deed.when.now).replace(tzinfo=None)
    starts = [words.local("time", start, snap.zone) for start in repeat.starts(after)]
    words.raise_if_any()
    there = {s.start for s in snap.sessions.values() if who in (None, s.who)}
    every = [start for start in starts if start is not None]
    new = [start for start in every if start not in there]
    left = len(every) - len(new)
    kept = f"  {wording.counted(left, 'session')} at those times exist already: left as they are"
    if not every:
        raise BadInput("no such day comes before --until. Check both")
    if not new:
        return lambda: Outcome(("nothing to record", kept))
    return _create(deed, snap, new, who, repeat.minutes or 0, (kept,) if left else ())


def new_sessions(
    snap: Snapshot, starts: Iterable[datetime], minutes: int, who: str | None = None
) -> list[Session]:
    """Return a session for each start, named by date and person; with its time if that is taken."""
    taken = {n.casefold() for n in (*snap.specimens, *snap.boards, *snap.sessions, *snap.rooms)}
    sign = re.sub(r"\W+", "-", who or "").strip("-_")[:20]
    new = []
    for start in starts:
        name = f"{start:%Y-%m-%d}{'-' if sign else ''}{sign}"
        if name.casefold() in taken:
            name = f"{name}-{start:%H%M}"
        taken.add(name.casefold())
        new.append(Session(name, start, minutes, who))
    return new


def _create(
    deed: Deed,
    snap: Snapshot,
    starts: Sequence[datetime],
    who: str | None,
    minutes: int,
    more: tuple[str, ...],
) -> Telling:
    new = new_sessions(snap, starts, minutes, who)
    deed.text = _created(new, minutes, deed.when.now)
    for session in new:
        deed.insert("session", rows.session_row(session))
    return lambda: Outcome((deed.text, *more), tuple(_warnings(snap, new, deed.when)))


def _created(new: Sequence[Session], minutes: int, now: datetime) -> str:
    first, last = new[0], new[-1]
    if len(new) == 1:
        when = wording.moment(first.start, now)
        return f"session {first.session}: {when}, {minutes} min{whose(first)}"
    return (
        f"{len(new)} sessions of {minutes} min{whose(first)}:"
        f" {first.session} ({wording.moment(first.start, now)})"
        f" to {last.session} ({wording.moment(last.start, now)})"
    )


def _warnings(snap: Snapshot, sessions: Iterable[Session], when: When) -> list[str]:
    """Return which sessions are over already, and which run into another.

    Two people may work at the same time: only sessions of the same person, or of nobody by name,
    are told.
    """
    said = []
    into = []
    for session in sessions:
        if not session.minutes:
            continue
        end = _end(session)
        if end <= when.now:
            said.append(f"{session.session} is over already: nothing is planned for it")
        into += [
            (session, other)
            for other in snap.sessions.values()
            if other.session != session.session
            and other.minutes
            and session.start < _end(other)
            and other.start < end
            and (None in (session.who, other.who) or session.who == other.who)
        ]
    said += [
        f"{session.session} runs into {other.session}"
        f" ({wording.moment(snap.local(other.start), when.now)}, {other.minutes} min)"
        for session, other in into[:MOST_SAID]
    ]
    if len(into) > MOST_SAID:
        said.append(f"so do {len(into) - MOST_SAID} more")
    nobody = next((o.session for s, o in into if s.who and o.who is None), None)
    if nobody is not None:
        who = next(s.who for s, o in into if s.who and o.who is None)
        said.append(f"if {nobody} is {who}'s: `wingrest amend {nobody} who={who}`")
    return said


def _end(session: Session) -> datetime:
    return rows.moment_of(rows.moment_text(session.start)) + timedelta(minutes=session.minutes)
