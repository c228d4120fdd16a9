"""Push a finished plan to the left: the same specimens, sessions and boards, the lowest mm.

A proof finds some positions; a person wants the first free ones, and the groove in one piece.
"""

from __future__ import annotations

from scheduler.planner.occupancy import Spot, State, lowest


def tidied(state: State, fixed: frozenset[int] = frozenset()) -> State:
    """Return the plan with the slots of every board, but the fixed ones, laid anew from the left.

    By session, then by position. A board on which that leaves no place for the last ones is
    only pushed together, slot by slot.
    """
    tidy = state.copy()
    boards: dict[int, list[tuple[int, Spot]]] = {}
    for number, spot in enumerate(tidy.spots):
        if spot is not None and number not in fixed:
            boards.setdefault(spot.choice.board, []).append((number, spot))
    for _, laid in sorted(boards.items()):
        laid.sort(key=lambda one: (one[1].session, one[1].from_mm, one[0]))
        if not _laid_anew(tidy, laid):
            _pushed(tidy, laid)
    return tidy


def _laid_anew(tidy: State, laid: list[tuple[int, Spot]]) -> bool:
    """Lay a board's slots anew; say whether all found a place, and leave them else."""
    for number, _ in laid:
        tidy.remove(number)
    new: list[int] = []
    for number, spot in laid:
        place = lowest(tidy.slots(number, spot.session, spot.choice))
        if place < 0:
            break
        tidy.insert(number, spot.session, spot.choice, place)
        new.append(number)
    if len(new) == len(laid):
        return True
    for number in new:
        tidy.remove(number)
    for number, spot in laid:
        tidy.insert(number, spot.session, spot.choice, spot.from_mm)
    return False


def _pushed(tidy: State, laid: list[tuple[int, Spot]]) -> None:
    """Move each slot as far left as the others allow, where they are now."""
    for number, spot in laid:
        tidy.remove(number)
        place = lowest(tidy.slots(number, spot.session, spot.choice))
        # Its own place is free again; only minutes may stand in the way of asking.
        left = spot.from_mm if place < 0 else place
        tidy.insert(number, spot.session, spot.choice, left)
