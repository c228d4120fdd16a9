"""How good a plan is, and what is scarce in it, for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scheduler.planner.problem import Plan, Quality
from scheduler.words import wording
from scheduler.words.names import natural_order

if TYPE_CHECKING:
    from scheduler.looks.planning import Planning

MORE_MINUTES = 30

MOST_SCARCE = 2
"""At most so many grooves and so many sessions are named, the scarcest first."""


def how_good_lines(made: Planning) -> list[str]:
    """Return the four tiers of the plan and of planning by hand, the proof, and what is scarce."""
    ours = made.plan.quality
    lines = _tiers(ours, made.plan.by_hand or ours)
    if ours.unsavable:
        named = wording.listed(ours.unsavable)
        lines += wording.wrapped(f"No plan could save {named} in these sessions.")
    lines += wording.wrapped(_proof_said(made.plan))
    lines += _scarce_lines(made)
    return lines


def how_good_in_short(made: Planning, before: str = "") -> list[str]:
    """Return in a sentence or two how good the plan is, and what is scarcest, after `before`."""
    ours = made.plan.quality
    hand = made.plan.by_hand or ours
    text = (
        f"{before}Waiting: {ours.weighted_waiting_days} days x priority (by hand"
        f" {hand.weighted_waiting_days})"
    )
    if ours.spoiled or hand.spoiled:
        text += f"; {ours.spoiled} would spoil; by hand: {hand.spoiled}"
    lines = wording.wrapped(f"{text}. {_proof_said(made.plan, short=True)}")
    return [*lines, *_scarce_lines(made, 1)]


def _tiers(ours: Quality, by_hand: Quality) -> list[str]:
    rows = [
        (what, _figure(a), _figure(b))
        for what, a, b in (
            ("spoiled specimens", ours.spoiled, by_hand.spoiled),
            ("spoiled, priority summed", ours.spoiled_priority, by_hand.spoiled_priority),
            (
                "waiting, days x priority",
                ours.weighted_waiting_days,
                by_hand.weighted_waiting_days,
            ),
            ("spare groove, mm on average", ours.spare_groove_mm, by_hand.spare_groove_mm),
            ("days a dry one blocks others", ours.blocked_board_days, by_hand.blocked_board_days),
        )
    ]
    return wording.table(("how good", "plan", "by hand"), rows, frozenset({1, 2}))


def _figure(value: float) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _proof_said(plan: Plan, *, short: bool = False) -> str:
    broken = " The search was broken off; this is the best plan so far." if plan.stopped else ""
    if plan.status == "optimal":
        return f"Proven: no plan lets less spoil, or waits less.{broken}"
    if plan.gap is None:
        return f"It is not known how far this is from the best possible.{broken}"
    said = f"at most {100 * plan.gap:.1f} % from the best possible waiting"
    if short and plan.status == "mended":
        return f"At most {100 * plan.gap:.1f} % from the best.{broken}"
    if not short and plan.bound is not None and plan.quality.weighted_waiting_days:
        said += f" (no plan waits less than {plan.bound})"
    mended = "Mended, and " if plan.status == "mended" else ""
    return f"{mended}{said}.{broken}" if mended else f"{said[0].upper()}{said[1:]}.{broken}"


def _scarce_lines(made: Planning, most: int = 2 * MOST_SCARCE) -> list[str]:
    """Return what one more board and half an hour more would save, by the prices of the bound."""
    named = [*_boards_worth(made)[:MOST_SCARCE], *_minutes_worth(made)[:MOST_SCARCE]]
    named = sorted((one for one in named if one[0] >= 1), key=lambda one: -one[0])[:most]
    if not named:
        return []
    (saves, what), *others = named
    days = wording.counted(round(saves), "specimen-day")
    if any(w.priority != 1 for w in made.problem.waiting):
        days += " x priority"
    said = [f"{what} would save at most about {days}"]
    said += [f"{what} at most about {saves:.0f}" for saves, what in others]
    return wording.wrapped(f"What would help most: {'; '.join(said)}.")


def _boards_worth(made: Planning) -> list[tuple[float, str]]:
    """Return what one more board would save, by width of groove, the scarcest first.

    Each width is represented by the board that would save most. Its name is given where boards of
    that width differ in size, and its room where they stand in several rooms.
    """
    worth: dict[float, tuple[float, str]] = {}
    for name in sorted((b.board for b in made.problem.boards), key=natural_order):
        board = made.view.boards[name]
        saves = made.plan.scarce.board_mm.get(name, 0.0) * board.length_mm
        if saves > worth.get(board.groove_mm, (0.0, ""))[0]:
            worth[board.groove_mm] = saves, name
    ranked = sorted(worth.values(), key=lambda one: (-one[0], one[1]))
    return [(saves, _one_more(name, made)) for saves, name in ranked]


def _one_more(name: str, made: Planning) -> str:
    board = made.view.boards[name]
    alike = [
        (made.view.boards[b.board], b.room)
        for b in made.problem.boards
        if made.view.boards[b.board].groove_mm == board.groove_mm
    ]
    said = f"one more board with a groove of {board.groove_mm:g} mm"
    if len({(b.span_mm, b.length_mm) for b, _ in alike}) > 1:
        said = f"one more board like {name}, with a groove of {board.groove_mm:g} mm"
    rooms = {b.board: room for b, room in alike}
    return f"{said} (in {rooms[name]})" if len(set(rooms.values())) > 1 else said


def _minutes_worth(made: Planning) -> list[tuple[float, str]]:
    """Return what half an hour more would save, by session, the scarcest first."""
    saves = made.plan.scarce.minute
    worth = [
        (MORE_MINUTES * saves[s.session], s) for s in made.problem.sessions if s.session in saves
    ]
    worth.sort(key=lambda one: -one[0])
    return [
        (saved, f"{MORE_MINUTES} more minutes on {wording.day(s.on, made.view.now)} ({s.session})")
        for saved, s in worth
    ]
