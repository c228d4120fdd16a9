"""Quick plans: the one that a careful person makes with pencil and paper, and several greedy ones.

By hand: perishables come first, then the others in the order in which they can be used. Each gets
the first session with room, there the tightest board that fits, and on it the first free stretch.

Greedy: perishables by their last session, the others by several ranks. The ranks follow Smith's
rule (W. E. Smith 1956, Naval Research Logistics Quarterly 3): weight over the time a job blocks
the machine, the greatest first. Here a job blocks groove (mm-days) and hands (minutes), so several
ranks are tried, each in two ways: one specimen after the other over all sessions, or one session
after the other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from scheduler.planner.spread import first_with_time
from scheduler.planner.state import Group, Menu, PlanBench, PlanState, lowest


def perishables(bench: PlanBench) -> list[int]:
    """Return what would spoil if it were not mounted, the earliest last session first."""
    waiting = bench.waiting
    found = [n for n in range(len(waiting)) if bench.would_spoil[n]]
    return sorted(found, key=lambda n: (waiting[n].last, -waiting[n].priority, n))


def keeping(bench: PlanBench) -> list[int]:
    """Return what would not spoil, by the moment from which it can go into the chamber."""
    waiting = bench.waiting
    found = [n for n in range(len(waiting)) if not bench.would_spoil[n]]
    return sorted(found, key=lambda n: (waiting[n].open_at.timestamp(), n))


def place_at(state: PlanState, number: int, session: int, menu: Menu) -> bool:
    """Insert a specimen at a session on the first board with a stretch for it; say if there was."""
    if not menu.choices or not state.is_open(number, session):
        return False
    roomy = set(state.roomy(number, session, menu.groups))
    if not roomy:
        return False
    bench, slot_mm = state.bench, state.bench.waiting[number].slot_mm
    for choice in menu.choices:
        if Group(bench.kind_of[choice.board], choice.plan_days, choice.extra) not in roomy:
            continue
        off_at = state.off_at(session, choice.plan_days)
        if state.run(choice.board, session, off_at) >= slot_mm:
            from_mm = lowest(state.slots(number, session, choice))
            state.insert(number, session, choice, from_mm, off_at)
            return True
    return False


def place_first(state: PlanState, number: int, menu: Menu) -> bool:
    """Insert a specimen at the first session with room; say whether there was one.

    One that would spoil and finds none goes where the air gives no time, else where taking off
    what stands can be put off for it.
    """
    w, left = state.bench.waiting[number], state.left_min
    for boards in (menu, state.bench.refused_menus[number]):
        if boards.choices:
            for session in range(w.first, w.last + 1):
                if left[session] >= w.minutes and place_at(state, number, session, boards):
                    return True
    return state.bench.would_spoil[number] and _place_instead(state, number)


def _place_instead(state: PlanState, number: int) -> bool:
    """Insert a specimen at the first session whose minutes suffice if less is taken off there."""
    w, bench = state.bench.waiting[number], state.bench
    each = bench.problem.take_off_min
    for session in range(w.first, w.last + 1):
        there, moved = state.stands_off[session][:], []
        if not 0 < w.minutes - state.left_min[session] <= each * len(there):
            continue
        while state.left_min[session] < w.minutes and there:
            s = there.pop()
            may = range(session + 1, len(bench.on) + 1)
            off = next((k for k in may if state.may_shift(s, k)), None)
            if off is not None:
                state.shift(s, off)
                moved.append(s)
        for boards in (bench.menus[number], bench.refused_menus[number]):
            if moved and boards.choices and place_at(state, number, session, boards):
                return True
        for s in moved:
            state.shift(s, session)
    return False


def fresh_first(state: PlanState, menus: list[Menu]) -> None:
    """Place what would spoil, first of all where nothing must come off for it.

    Then what stands comes off, which leaves time for mounting; then the rest of what would spoil.
    """
    bench, end = state.bench, len(state.bench.on)
    order = perishables(bench)
    stands = sorted(range(len(bench.stands)), key=lambda s: bench.stand_first[s])
    for s in stands:
        if state.may_shift(s, end):
            state.shift(s, end)
    for n in order:
        w = bench.waiting[n]
        may = range(w.first, w.last + 1) if state.spots[n] is None else ()
        any(place_at(state, n, k, menus[n]) for k in may)
    for s in stands:
        if state.stand_off[s] == end:
            k = first_with_time(bench, state.left_min, range(bench.stand_first[s], end))
            if k >= 0:
                state.shift(s, k)
    one_by_one(state, [n for n in order if state.spots[n] is None], menus)


def unpack(state: PlanState, fixed: frozenset[int]) -> None:
    """Move specimens out of grooves that must be packed, if that costs no waiting.

    They stay at their session; the `fixed` ones stay where they are.
    """
    bench = state.bench
    for n, spot in enumerate(state.spots):
        if spot is None or not spot.choice.extra or n in fixed:
            continue
        now = bench.waits(n, spot.session, spot.choice)
        snug = [
            c
            for c in bench.menus[n].choices
            if not c.extra and bench.waits(n, spot.session, c) <= now
        ]
        state.remove(n)
        if not place_at(state, n, spot.session, bench.menus[n]._replace(choices=snug)):
            state.insert(n, *spot)


def take_off_early(state: PlanState) -> bool:
    """Let everything come off as soon as there are minutes for it; say if any does sooner."""
    bench, sooner = state.bench, False
    for s in sorted(range(len(bench.stands)), key=lambda s: bench.stand_first[s]):
        for off in range(bench.stand_first[s], state.stand_off[s]):
            if state.may_shift(s, off):
                state.shift(s, off)
                sooner = True
                break
    for n, spot in enumerate(state.spots):
        if spot is not None:
            first = bench.off_at(spot.session, spot.choice.plan_days)
            may = range(first, spot.off_at)
            off = next((k for k in may if state.may_take_off(k)), spot.off_at)
            if off < spot.off_at:
                state.remove(n)
                state.insert(n, spot.session, spot.choice, spot.from_mm, off)
                sooner = True
    return sooner


def fill_up(state: PlanState, *, anyway: bool = False) -> None:
    """Try what is left out, perishables first, until nothing more finds a slot.

    Then everything comes off as soon as the remaining minutes allow, which may make room for more.
    The first pass is done only where it can help: where specimens are in the chamber, since each
    that is planned makes room there for others, or `anyway`, where not everything was tried yet.
    """
    bench = state.bench
    order = perishables(bench) + keeping(bench)

    def fill(more: bool) -> None:
        while more:
            more = False
            for number in order:
                if state.spots[number] is None:
                    more |= place_first(state, number, bench.menus[number])

    fill(anyway or any(stay is not None for stay in bench.stay))
    fill(take_off_early(state))


def by_hand(bench: PlanBench) -> PlanState:
    """Return the plan that a careful person makes by hand."""
    state = PlanState(bench)
    for number in perishables(bench) + keeping(bench):
        place_first(state, number, bench.menus[number])
    fill_up(state)
    return state


Rank = Callable[[PlanBench, int], tuple[float, ...]]


def _board_days(bench: PlanBench, number: int) -> int:
    """Return the fewest days that a board takes to dry the specimen; 1 where none has a time."""
    return min((g.plan_days or 1 for g in bench.menus[number].groups), default=1)


def by_groove(bench: PlanBench, number: int) -> tuple[float, ...]:
    """Rank by priority per mm-day of groove."""
    w = bench.waiting[number]
    return (-w.priority / (w.slot_mm * _board_days(bench, number)),)


def by_days(bench: PlanBench, number: int) -> tuple[float, ...]:
    """Rank by priority per day on the board."""
    return (-bench.waiting[number].priority / _board_days(bench, number),)


def by_minutes(bench: PlanBench, number: int) -> tuple[float, ...]:
    """Rank by priority per minute at the bench, then per mm-day of groove."""
    w = bench.waiting[number]
    return -w.priority / max(1, w.minutes), *by_groove(bench, number)


def by_wish(bench: PlanBench, number: int) -> tuple[float, ...]:
    """Rank by the last mounting day that frees it by the wished date, then as `by_groove`."""
    w = bench.waiting[number]
    day = bench.never if w.wanted_by is None else w.wanted_by.toordinal()
    return day - _board_days(bench, number), *by_groove(bench, number)


RANKS: tuple[tuple[str, Rank], ...] = (
    ("priority per mm-day", by_groove),
    ("priority per day", by_days),
    ("priority per minute", by_minutes),
    ("wanted first", by_wish),
)


def soonest_clear(bench: PlanBench) -> list[Menu]:
    """Return each specimen's menu with the boards first on which its slot is free soonest."""
    known: dict[int, Menu] = {}
    for menu in bench.menus:
        if id(menu) not in known:
            choices = sorted(menu.choices, key=lambda c: c.plan_days or 0)
            known[id(menu)] = menu._replace(choices=choices)
    return [known[id(menu)] for menu in bench.menus]


def one_by_one(state: PlanState, order: list[int], menus: list[Menu]) -> None:
    """Give each specimen, in this order, the first session with room."""
    for number in order:
        place_first(state, number, menus[number])


def session_by_session(state: PlanState, order: list[int], menus: list[Menu]) -> None:
    """Fill one session after the other with what it can take, in this order."""
    waiting = state.bench.waiting
    left = order
    for session in range(len(state.bench.sessions)):
        later = []
        for number in left:
            open_now = waiting[number].first <= session <= waiting[number].last
            if not (open_now and place_at(state, number, session, menus[number])):
                later.append(number)
        left = later


def due_date_greedy(state: PlanState) -> PlanState:
    """Fill a plan and return it: perishables by last session, others by priority per mm-day."""
    bench = state.bench
    left = [n for n in range(len(bench.waiting)) if state.spots[n] is None]
    one_by_one(state, [n for n in perishables(bench) if state.spots[n] is None], bench.menus)
    order = [n for n in left if not bench.would_spoil[n]]
    order.sort(key=lambda n: (*by_groove(bench, n), n))
    session_by_session(state, order, bench.menus)
    fill_up(state)
    return state


def greedy_plans(bench: PlanBench) -> Iterator[tuple[str, PlanState]]:
    """Yield a plan for every rank, way of filling and choice of board, with its name."""
    others = [n for n in range(len(bench.waiting)) if not bench.would_spoil[n]]
    if len(others) < len(bench.waiting) and bench.stands:
        state = PlanState(bench)
        fresh_first(state, bench.menus)
        yield "fresh first", due_date_greedy(state)
    boards = [("tightest board", bench.menus)]
    quick = soonest_clear(bench)
    if quick != bench.menus:
        boards.append(("soonest clear", quick))
    for which, menus in boards:
        saved = PlanState(bench)
        one_by_one(saved, perishables(bench), menus)
        for name, rank in RANKS:
            order = sorted(others, key=lambda n: (*rank(bench, n), n))
            for way, fill in (("in turn", one_by_one), ("by session", session_by_session)):
                state = saved.copy()
                fill(state, order, menus)
                fill_up(state)
                yield f"{name}, {way}, {which}", state
