"""The plan a careful person makes with pencil and paper; every other plan must beat it.

Perishables first, then first come; each gets the first session with room, there the
tightest board that fits, and on it the first free stretch.
"""

from __future__ import annotations

from scheduler.planner.occupancy import Bench, Menu, State, lowest


def perishables(bench: Bench) -> list[int]:
    """Return what would spoil, the one with the earliest last session first."""
    waiting = bench.waiting
    found = [n for n in range(len(waiting)) if bench.would_spoil[n]]
    return sorted(found, key=lambda n: (waiting[n].last, -waiting[n].priority, n))


def keeping(bench: Bench) -> list[int]:
    """Return what would not spoil, first come first."""
    waiting = bench.waiting
    found = [n for n in range(len(waiting)) if not bench.would_spoil[n]]
    return sorted(found, key=lambda n: (waiting[n].open_at.timestamp(), n))


def place_at(state: State, number: int, session: int, menu: Menu) -> bool:
    """Insert a specimen at a session on the first board with a stretch for it, if any."""
    if not menu.choices or not state.is_open(number, session):
        return False
    roomy = set(state.roomy(number, session, menu.groups))
    if not roomy:
        return False
    bench, slot_mm = state.bench, state.bench.waiting[number].slot_mm
    for choice in menu.choices:
        if (bench.kind_of[choice.board], choice.plan_days) not in roomy:
            continue
        off_at = bench.off_at(session, choice.plan_days)
        if state.run(choice.board, session, off_at) >= slot_mm:
            state.insert(number, session, choice, lowest(state.slots(number, session, choice)))
            return True
    return False


def place_first(state: State, number: int, menu: Menu) -> bool:
    """Insert a specimen at the first session with room.

    Only what finds none, and would spoil, goes where the air gives no time.
    """
    w, left = state.bench.waiting[number], state.left_min
    for boards in (menu, state.bench.refused_menus[number]):
        if boards.choices:
            for session in range(w.first, w.last + 1):
                if left[session] >= w.minutes and place_at(state, number, session, boards):
                    return True
    return False


def fill_up(state: State, *, anyway: bool = False) -> None:
    """Go over what is left, perishables first, until nothing more finds a slot.

    What leaves the chamber by being planned makes room for what was tried before it; where
    nothing is in it, only a plan of which not everything was tried needs this `anyway`.
    """
    bench = state.bench
    order = perishables(bench) + keeping(bench)
    more = anyway or any(stay is not None for stay in bench.stay)
    while more:
        more = False
        for number in order:
            if state.spots[number] is None:
                more |= place_first(state, number, bench.menus[number])


def by_hand(bench: Bench) -> State:
    """Return the plan made by hand."""
    state = State(bench)
    for number in perishables(bench) + keeping(bench):
        place_first(state, number, bench.menus[number])
    fill_up(state)
    return state
