"""Small planning problems for tests, said as one would say them at the bench.

All specimens, boards and dates are invented. The plan is made on Monday 3 May 2027, 10:00.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import product
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from scheduler.planner.problem import (
    BoardDays,
    PlanBoard,
    PlanProblem,
    PlanSession,
    PlanStanding,
    PlanWaiting,
    Weights,
)
from scheduler.planner.state import PlanBench, PlanState, Spot

ZONE = ZoneInfo("Europe/Berlin")
NOW = datetime(2027, 5, 3, 10, tzinfo=ZONE)


def may(day: int, hour: int = 14) -> datetime:
    return datetime(2027, 5, 1, hour, tzinfo=ZONE) + timedelta(days=day - 1)


def on(day: int) -> date:
    return may(day).date()


def session(day: int, minutes: int = 120, hour: int = 14) -> PlanSession:
    return PlanSession(f"{on(day):%d.%m}-{hour}", may(day, hour), minutes)


def board(name: str, length_mm: int = 100, room: str = "study") -> PlanBoard:
    return PlanBoard(name, length_mm, room)


def takes(min_days: int, plan_days: int) -> BoardDays:
    return BoardDays(min_days, plan_days, ("fresh-4.5",), "scaled")


def standing(
    name: str, on_board: str, from_mm: int, to_mm: int, free: date | None, due: date | None = None
) -> PlanStanding:
    return PlanStanding(name, on_board, from_mm, to_mm, due or free, free, free)


def specimen(
    name: str,
    fits: Iterable[str] | Mapping[str, float] = ("B1",),
    *,
    slot_mm: int = 40,
    days: int | None = 7,
    rooms: Mapping[str, BoardDays | None] | None = None,
    minutes: int = 10,
    priority: int = 1,
    open_at: datetime = NOW,
    first_look_hours: float = 12,
    most_hours: float = 72,
    chamber_since: datetime | None = None,
    spoils: date | None = None,
    wanted_by: date | None = None,
    pack: Iterable[str] = (),
) -> PlanWaiting:
    soft_at = (chamber_since or open_at) + timedelta(hours=first_look_hours)
    lost = [] if spoils is None else [datetime.combine(spoils, time(23, 59), ZONE)]
    if chamber_since is not None:
        lost.append(chamber_since + timedelta(hours=most_hours))
    in_study = None if days is None else takes(max(1, days - 2), days)
    return PlanWaiting(
        specimen=name,
        slot_mm=slot_mm,
        body_mm=4.5,
        minutes=minutes,
        priority=priority,
        open_at=open_at,
        soft_at=soft_at,
        first_look_hours=first_look_hours,
        most_hours=most_hours,
        chamber=True,
        chamber_since=chamber_since,
        lost_at=min(lost, default=None),
        wanted_by=wanted_by,
        spare_mm=fits if isinstance(fits, Mapping) else dict.fromkeys(fits, 0.5),
        pack=frozenset(pack),
        days=rooms or {"study": in_study},
        first=0,
        last=0,
    )


WEIGHTS = Weights(late_days=2, left_days=100, off_sessions=3)


def problem(
    boards: Sequence[PlanBoard],
    sessions: Sequence[PlanSession],
    waiting: Sequence[PlanWaiting],
    *,
    stands: Sequence[PlanStanding] = (),
    places: int | None = None,
    take_off_min: int = 2,
    misfits: Mapping[str, str] | None = None,
) -> PlanProblem:
    """Return a problem; the sessions open to each specimen are worked out here."""
    return PlanProblem(
        now=NOW,
        timezone=ZONE.key,
        end=sessions[-1].on + timedelta(days=30),
        chamber_places=places,
        chamber_time=time(20, 0),
        take_off_min=take_off_min,
        boards=tuple(boards),
        standing=tuple(stands),
        sessions=tuple(sessions),
        waiting=tuple(_with_window(w, sessions) for w in waiting),
        misfits=misfits or {},
        weights=WEIGHTS,
    )


def _with_window(w: PlanWaiting, sessions: Sequence[PlanSession]) -> PlanWaiting:
    soft = [k for k, s in enumerate(sessions) if w.soft_at <= s.start]
    kept = [k for k, s in enumerate(sessions) if w.lost_at is None or s.start <= w.lost_at]
    first = soft[0] if soft else len(sessions)
    return replace(w, first=first, last=kept[-1] if kept else -1)


def fresh_state(of: PlanProblem) -> PlanState:
    return PlanState(PlanBench(of))


def every_off(bench: PlanBench, spots: Sequence[Spot | None]) -> Iterator[PlanState]:
    """Yield the plan once for every way of taking off what stands and what is planned here."""
    sessions, wait = len(bench.on), bench.problem.weights.off_sessions
    stands = [range(k, sessions + 1) for k in bench.stand_first]
    placed = [(n, spot) for n, spot in enumerate(spots) if spot is not None]
    firsts = [bench.off_at(spot.session, spot.choice.plan_days) for _, spot in placed]
    may = [range(k, min(k + wait, sessions - 1) + 1) or (sessions,) for k in firsts]
    order = sorted(range(len(placed)), key=lambda at: placed[at][1].session)
    for offs in product(*stands, *may):
        spent = [bench.problem.take_off_min * offs.count(k) for k in range(sessions)]
        for n, spot in placed:
            spent[spot.session] += bench.waiting[n].minutes
        if any(used > s.minutes for used, s in zip(spent, bench.sessions, strict=True)):
            continue
        state = PlanState(bench, offs[: len(stands)])
        for at in order:
            (n, spot), off = placed[at], offs[len(stands) + at]
            free = state.free(spot.choice.board, spot.session, off) >> spot.from_mm
            whole = (1 << bench.waiting[n].slot_mm) - 1
            if free & whole != whole:
                break
            state.insert(n, spot.session, spot.choice, spot.from_mm, off)
        else:
            yield state


@st.composite
def problems(draw: st.DrawFn) -> PlanProblem:
    """Any small problem: crowded boards, few minutes, a full chamber, damp rooms."""
    rooms = ("study", "cellar")
    boards = [
        board(f"B{n}", draw(st.integers(20, 60)), draw(st.sampled_from(rooms)))
        for n in range(draw(st.integers(1, 3)))
    ]
    gaps = draw(st.lists(st.integers(0, 6), min_size=1, max_size=5))
    day, sessions = 4, []
    for n, gap in enumerate(gaps):
        day += gap
        if n and gap == 0:
            day += 1
        sessions.append(session(day, draw(st.integers(1, 60)), draw(st.sampled_from((9, 19)))))
    names = [b.board for b in boards]
    waiting = [draw(_specimens(f"M{n}", names)) for n in range(draw(st.integers(0, 9)))]
    places = draw(st.none() | st.integers(1, 4))
    stands = [one for b in boards for one in draw(_stands(b))]
    take_off_min = draw(st.integers(0, 6))
    return problem(
        boards, sessions, waiting, stands=stands, places=places, take_off_min=take_off_min
    )


@st.composite
def _specimens(draw: st.DrawFn, name: str, boards: list[str]) -> PlanWaiting:
    fits = draw(st.lists(st.sampled_from(boards), min_size=1, unique=True))
    days = st.none() | st.integers(2, 20).map(lambda d: takes(d - 1, d))
    since = draw(st.none() | st.integers(1, 40).map(lambda h: NOW - timedelta(hours=h)))
    return specimen(
        name,
        {b: draw(st.sampled_from((0.0, 0.4, 1.7))) for b in fits},
        slot_mm=draw(st.integers(5, 40)),
        rooms={"study": draw(days), "cellar": draw(days)},
        minutes=draw(st.integers(1, 25)),
        priority=draw(st.integers(1, 10)),
        open_at=NOW + timedelta(hours=draw(st.sampled_from((0, 0, 5, 60, 200)))),
        first_look_hours=draw(st.sampled_from((0.0, 8.0, 24.0))),
        most_hours=draw(st.sampled_from((48.0, 72.0))),
        chamber_since=since,
        spoils=draw(st.none() | st.integers(3, 40).map(on)),
        wanted_by=draw(st.none() | st.integers(5, 40).map(on)),
    )


@st.composite
def _stands(draw: st.DrawFn, of: PlanBoard) -> list[PlanStanding]:
    cuts = sorted(draw(st.sets(st.integers(0, of.length_mm), max_size=4)))
    return [
        standing(f"{of.board}-{a}", of.board, a, b, draw(st.none() | st.integers(3, 25).map(on)))
        for a, b in zip(cuts[::2], cuts[1::2], strict=False)
    ]
