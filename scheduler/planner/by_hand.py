"""The plan a careful person makes with pencil and paper; every other plan must beat it.

Perishables first, then first come; each gets the first session with room, there the
tightest board that fits, and on it the first free stretch.
"""

from __future__ import annotations

from scheduler.planner.occupancy import Bench, Choice, State, lowest


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


def place_at(state: State, number: int, session: int, choices: list[Choice]) -> bool:
    """Insert a specimen at a session on the first board with a stretch for it, if any."""
    if not state.is_open(number, session):
        return False
    for choice in choices:
        from_mm = lowest(state.slots(number, session, choice))
        if from_mm >= 0:
            state.insert(number, session, choice, from_mm)
            return True
    return False


def place_first(state: State, number: int, choices: list[Choice]) -> bool:
    """Insert a specimen at the first session with room.

    Only what finds none, and would spoil, goes where the air gives no time.
    """
    w = state.bench.waiting[number]
    for boards in (choices, state.bench.refused[number]):
        if boards and any(
            place_at(state, number, session, boards) for session in range(w.first, w.last + 1)
        ):
            return True
    return False


def fill_up(state: State) -> None:
    """Go over what is left, perishables first, until nothing more finds a slot.

    What leaves the chamber by being planned makes room for what was tried before it.
    """
    bench = state.bench
    order = perishables(bench) + keeping(bench)
    more = any(stay is not None for stay in bench.stay)
    while more:
        more = False
        for number in order:
            if state.spots[number] is None:
                more |= place_first(state, number, bench.choices[number])


def by_hand(bench: Bench) -> State:
    """Return the plan made by hand."""
    state = State(bench)
    for number in perishables(bench) + keeping(bench):
        place_first(state, number, bench.choices[number])
    fill_up(state)
    return state
