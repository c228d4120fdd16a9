"""What still holds of a plan made earlier, read back into the problem as it is now."""

from __future__ import annotations

from scheduler.planner.bench import Bench
from scheduler.planner.occupancy import Spot, State
from scheduler.planner.problem import Plan


def kept_spots(bench: Bench, kept: Plan, pinned: frozenset[str] = frozenset()) -> dict[int, Spot]:
    """Return the spots of a plan that are still possible, `pinned` ones first.

    Each is tried where it was: same session, board and mm. In the order of the plan, so that
    of two that now exclude each other the earlier one stays.
    """
    number = {w.specimen: n for n, w in enumerate(bench.waiting)}
    session = {s.session: k for k, s in enumerate(bench.sessions)}
    state = State(bench)
    found: dict[int, Spot] = {}
    for one in sorted(kept.placements, key=lambda p: p.specimen not in pinned):
        n, k = number.get(one.specimen), session.get(one.session)
        board = bench.board_number.get(one.board)
        if n is None or k is None or board is None or n in found:
            continue
        for menu in (bench.menus[n], bench.refused_menus[n]):
            choice = menu.by_board.get(board)
            if choice is not None and state.allows(n, k, choice, one.from_mm):
                state.insert(n, k, choice, one.from_mm)
                off_at = bench.off_at(k, choice.plan_days)
                found[n] = Spot(k, choice, one.from_mm, off_at)
    return found
