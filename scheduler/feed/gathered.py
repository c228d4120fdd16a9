"""From the record and the kept plan to what the calendar says, through one view."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from scheduler.drying.answer import SpecimenAnswer
from scheduler.drying.dates import body_on_board
from scheduler.drying.on_board import OnBoard
from scheduler.drying.softening import hours_after
from scheduler.feed.bench_days import BenchSession, Done, SessionLine
from scheduler.feed.cold import for_the_cold
from scheduler.feed.hands import hands, is_in_hands
from scheduler.feed.holding import Holding, holding
from scheduler.feed.in_chamber import Cold, GoingIn, Inside
from scheduler.feed.releases import FeedDays, FirstDay, Release, SoftTest
from scheduler.view import View
from scheduler.words.records import ChamberStay, Placement, Session
from scheduler.words.wording import between, counted, day

if TYPE_CHECKING:
    from scheduler.planner.problem import Planned

PAST_DAYS, NEXT_DAYS = 30, 180
"""How many days the calendar reaches back and ahead."""
WENT_IN = timedelta(days=3)
"""What went in up to so long before it was asked for went in for that session."""
READ_AT = timedelta(hours=7)
"""The local time at which a day's titles are read: they go by the air of that hour."""


def days_of(view: View) -> FeedDays:
    """Return the calendar's today, and who is there when."""
    return FeedDays(view.now.date(), there=view.facts.there_on, away=view.facts.is_away)


def releases(view: View, also: Set[int] = frozenset()) -> list[Release]:
    """Return what stands, and what was mounted or came off in the days that the calendar shows.

    `also` are further placements to include, unless they were taken back.
    """
    found = _lately(view)
    missing = also - {p.id for p in found}
    if missing:
        found += tuple(p for p in view.facts.placements if p.id in missing)
    return [release_of(view, view.of(p)) for p in found]


def _lately(view: View) -> tuple[Placement, ...]:
    """Return what stands, and what was mounted or came off in the days that the calendar shows."""
    first = view.now.date() - timedelta(days=PAST_DAYS)
    return view.facts.placements_from(midnight(first, view))


def release_of(view: View, one: OnBoard) -> Release:
    """Return a placement as the calendar needs it."""
    placement = one.placement
    off = placement.released_at and view.local(placement.released_at).date()
    gone = view.facts.gone.get(placement.specimen)
    last = one.tests[-1] if one.tests else None
    told = one.told(view.now.date())
    waits, unread = (False, False) if off else _waits_for_air(view, one)
    return Release(
        placement=placement.id,
        specimen=placement.specimen,
        board=placement.board,
        room=one.room.room if one.room else "",
        due=told.due,
        clear=told.clear,
        off_on=off,
        lost=off is not None and gone is not None and placement.early_reason == gone,
        asked_on=last.due_on if last and one.tested_on(last) == off else None,
        soft=tuple(_soft_tests(one)),
        stiff=off is None and one.stiff,
        too_damp=waits and not unread,
        unread=waits and unread,
        taxon=one.specimen.taxon,
        body_mm=one.body_mm,
        estimated=one.size.estimated,
        basis=_basis(one, view),
        between="" if off or one.stiff else between(*one.spans[0], view.now),
    )


def _basis(one: OnBoard, view: View) -> str:
    """Return what its date rests on: the table's row, and what its room's tests made of it."""
    basis = one.time.basis if one.time else ""
    if one.learned is None:
        return basis
    says, dry = one.learned.says, one.learned.share_dry
    by = f", {says.share_pct} % of such dry by {day(dry, view.now)}" if dry else ""
    tests = counted(says.tests, "test")
    return f"{basis}, {says.times:.2f} times the table's days by {tests} in {says.room}{by}"


def _waits_for_air(view: View, one: OnBoard) -> tuple[bool, bool]:
    """Say whether nothing may be taken off this morning, and whether a dial must be read first."""
    at = max(view.now, midnight(view.now.date(), view) + READ_AT)
    air = view.air_now(one.room, at) if one.room else None
    waits = SpecimenAnswer(one, air, at).answer == "dry, but not today"
    return waits, air is not None and air.unread


def _soft_tests(one: OnBoard) -> Iterator[SoftTest]:
    for n, test in enumerate(one.tests):
        if test.verdict == "soft":
            asked = test.due_on or replace(one, tests=one.tests[:n]).dates.due
            if asked is not None and asked <= one.tested_on(test):
                yield SoftTest(asked, one.tested_on(test))


def bench_sessions(
    view: View, asked: Sequence[FirstDay], days: FeedDays, older: str = ""
) -> list[BenchSession]:
    """Return the sessions from `PAST_DAYS` ago on, the earliest first.

    older: when something was recorded that the kept plan does not know; empty if nothing was.
    """
    first = days.today - timedelta(days=PAST_DAYS)
    every = sorted(view.sessions.values(), key=lambda s: (s.start, s.session))
    shown = [s for s in every if s.minutes and view.local(s.start).date() >= first]
    done = _done_at(view, shown)
    ahead: list[Session] = []
    found = []
    for s in shown:
        start = view.local(s.start)
        if view.is_off(s) and s.session not in done:
            continue
        one = BenchSession(s.session, start, s.minutes, done=done.get(s.session, Done()), who=s.who)
        if start.date() < days.today:
            found.append(replace(one, over=True))
            continue
        before = [view.local(b.start).date() for b in ahead if b.end <= s.start]
        found.append(_ahead(view, one, s, (asked, max(before, default=None)), older))
        ahead += [s] if s.end > view.now else []
    return found


def _ahead(
    view: View,
    one: BenchSession,
    session: Session,
    work: tuple[Sequence[FirstDay], date | None],
    older: str,
) -> BenchSession:
    """Return a session ahead, with what of its plan holds and what falls due until then.

    Where several people are there at one time, each tests what is in their hands.
    """
    asked, before = work
    held, dealt = holding(view, session), hands(view, session)
    asked = [a for a in asked if is_in_hands(a.one.board, session, dealt)]
    test, leave = _at_bench(asked, held.lines, one.start.date(), before)
    return replace(
        one,
        lines=tuple(_line(view, p) for p in held.lines),
        test=test,
        leave=leave,
        planned=held.planned,
        stale=held.stale,
        older=older if held.planned else "",
    )


def _at_bench(
    asked: Sequence[FirstDay], lines: Iterable[Planned], day: date, before: date | None
) -> tuple[tuple[Release, ...], tuple[Release, ...]]:
    """Return who is tested or taken off at a bench, and who stays on its boards.

    What falls due before an earlier bench is work of that earlier one.
    """
    standing = [a for a in asked if not a.outcome]
    first = {name for p in lines for name in p.after}
    test = [
        a
        for a in standing
        if (before is None or a.day > before) and (a.day <= day or (a.one.stiff and not before))
    ]
    named = {a.one.specimen for a in test}
    test += [
        a for a in standing if a.one.specimen in first - named and (a.day <= day or a.one.stiff)
    ]
    boards = {a.one.board for a in test}
    leave = [a for a in standing if a.one.board in boards and a.day > day and not a.one.stiff]
    return tuple(a.one for a in test), tuple(a.one for a in leave)


def _line(view: View, planned: Planned) -> SessionLine:
    specimen = view.specimens[planned.specimen]
    size = body_on_board(specimen, view.boards[planned.board].groove_mm, view.rules)
    room = view.room_of(planned.board)
    return SessionLine(
        specimen=planned.specimen,
        board=planned.board,
        from_mm=planned.from_mm,
        to_mm=planned.to_mm,
        minutes=planned.minutes,
        due=planned.due,
        clear=planned.clear,
        room=room.room if room else "",
        taxon=specimen.taxon,
        pin=view.rules.pin(size.body_mm).pin,
        basis=planned.basis or "",
        relax_from=planned.relax_from and view.local(planned.relax_from),
        out_by=planned.out_by and view.local(planned.out_by),
    )


def _done_at(view: View, sessions: Sequence[Session]) -> Mapping[str, Done]:
    """Return what was recorded on the days of the sessions, by session.

    What was mounted as planned belongs to its session. Anything else belongs to the session under
    way; of several at one time, to the one that had the board.
    """
    by_day: dict[date, list[Session]] = {}
    for s in sessions:
        by_day.setdefault(view.local(s.start).date(), []).append(s)
    found: dict[str, Done] = {}
    lately = _lately(view)
    had = {(p.board, p.mounted_on): p.session for p in lately if p.session is not None}

    def note(moment: datetime, board: str, **more: tuple[object, ...]) -> None:
        day = view.local(moment).date()
        there = by_day.get(day)
        if there:
            under_way = [s for s in there if s.start <= moment] or there[:1]
            last = under_way[-1]
            name = had.get((board, day), "")
            if name not in {s.session for s in there}:
                name = hands(view, last).get(board, last.session)
            done = found.get(name, Done())
            found[name] = replace(done, **{k: (*getattr(done, k), *v) for k, v in more.items()})

    for p in lately:
        note(p.mounted_at, p.board, mounted=((p.specimen, p.board),))
        if p.released_at is not None and p.specimen not in view.facts.gone:
            note(p.released_at, p.board, off=(p.specimen,))
        for test in view.facts.tests_of(p.id):
            if test.verdict == "soft":
                note(test.tested_at, p.board, soft=(p.specimen,))
    return found


def going_in(view: View) -> list[GoingIn]:
    """Return what is planned to go into the chamber and has not gone in for that session."""
    found = []
    for s in view.sessions.values():
        start = view.local(s.start)
        if not s.minutes or view.is_off(s):
            continue
        held: Holding = holding(view, s)
        for p in held.lines:
            soft = view.waits(view.specimens[p.specimen]).softening
            if p.relax_from is not None and soft.since is None and soft.chamber:
                by = view.local(p.relax_from)
                if any(by - WENT_IN <= stay.since for stay in view.facts.chamber_of(p.specimen)):
                    continue
                out_by = p.out_by and view.local(p.out_by)
                stale = bool(held.stale)
                found.append(GoingIn(p.specimen, by, out_by, start, p.board, stale, s.who))
    return found


def inside(view: View) -> list[Inside]:
    """Return what is in the chamber, and what was there in the days that the calendar shows."""
    first = view.now - timedelta(days=PAST_DAYS + 1)
    placed: dict[str, list[Placement]] = {}
    for p in _lately(view):
        placed.setdefault(p.specimen, []).append(p)
    return [
        _inside(view, stay, placed.get(stay.specimen, ()))
        for stay in view.facts.chamber
        if stay.until is None or stay.until >= first
    ]


def _inside(view: View, stay: ChamberStay, placed: Iterable[Placement]) -> Inside:
    soft = view.waits(view.specimens[stay.specimen]).softening_in(stay)
    since = view.local(stay.since)
    out_by = hours_after(since, soft.rule.most_hours)
    if stay.until is None and soft.clock is not None:
        out_by = view.local(soft.clock.lost_at)
    mounted = [p for p in placed if p.mounted_at == stay.until]
    planned = view.planned_for(stay.specimen)
    names = [planned.session] if planned else [p.session for p in mounted if p.session]
    session = view.sessions.get(names[0]) if names else None
    return Inside(
        specimen=stay.specimen,
        since=since,
        look_at=hours_after(since, soft.rule.first_look_hours),
        out_by=out_by,
        until=stay.until and view.local(stay.until),
        mounted=bool(mounted),
        who=session.who if session else None,
    )


def put_away(view: View) -> list[Cold]:
    """Return what must go into the cold today or later, and what was put there lately."""
    first, morning = view.now - timedelta(days=PAST_DAYS), midnight(view.now.date(), view)
    ahead = [c for c in for_the_cold(view) if c.by >= morning]
    due = [Cold(n, c.place, view.local(c.by)) for c in ahead for n in c.specimens]
    done = [
        Cold(k.specimen, k.place, view.local(k.since), view.local(k.since))
        for k in view.facts.keeping
        if k.place != "thawed" and k.since >= first
    ]
    return [*due, *done]


def midnight(view_day: date, view: View) -> datetime:
    """Return the first moment of a day in the record's zone."""
    return datetime.combine(view_day, time(), view.zone)
