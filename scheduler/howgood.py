"""How good a plan is, what is scarce in it, and what moved when it was mended, for people."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from scheduler import wording
from scheduler.planner.problem import Planned, PlanProblem, Quality
from scheduler.records import Board

if TYPE_CHECKING:
    from scheduler.bench.kept import Proof
    from scheduler.bench.plan import Planning

MORE_MINUTES = 30


def how_good_lines(made: Planning) -> list[str]:
    """Return the four tiers beside planning by hand, the proof, and what is scarce."""
    ours = made.plan.quality
    lines = _tiers(ours, made.by_hand)
    if ours.unsavable:
        named = wording.listed(ours.unsavable)
        lines += wording.wrapped(f"No plan could save {named} in these sessions.")
    lines += wording.wrapped(_proof_said(made.proof, ours))
    lines += _scarce_lines(made.proof, made.problem, made.snap.boards)
    return lines


def moved_lines(made: Planning) -> list[str]:
    """Return who is no longer where the kept plan had it, and why; nothing when none is."""
    if not made.moved:
        return []
    count = wording.counted(len(made.moved), "specimen")
    lines = [f"The kept plan was mended, {count} moved; --anew starts over"]
    for m in made.moved:
        now = _place(m.now) if m.now else "waits"
        lines += wording.wrapped(f"  {m.specimen}: {_place(m.was)} -> {now} ({m.why})", "", " " * 6)
    return [*lines, ""]


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
            ("blocked board-days", ours.blocked_board_days, by_hand.blocked_board_days),
        )
    ]
    return wording.table(("how good", "plan", "by hand"), rows, frozenset({1, 2}))


def _figure(value: float) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _proof_said(proof: Proof, ours: Quality) -> str:
    broken = " The search was broken off; this is the best plan so far." if proof.stopped else ""
    if proof.status == "optimal":
        return f"Proven: no plan lets less spoil, or waits less.{broken}"
    if proof.gap is None:
        return f"How far from the best possible is not known.{broken}"
    said = f"at most {100 * proof.gap:.1f} % from the best possible waiting"
    if proof.bound is not None and ours.weighted_waiting_days:
        said += f" (no plan waits less than {proof.bound})"
    mended = "Mended, and " if proof.status == "mended" else ""
    return f"{mended}{said}.{broken}" if mended else f"{said[0].upper()}{said[1:]}.{broken}"


def _scarce_lines(proof: Proof, problem: PlanProblem, boards: Mapping[str, Board]) -> list[str]:
    """Return what one more board and half an hour more would save at most."""
    said = []
    worth = {b: price * boards[b].length_mm for b, price in proof.board_saves.items()}
    best = max(sorted(worth), key=lambda b: worth[b], default=None)
    if best is not None and worth[best] >= 1:
        said.append(
            f"one more board like {best} (groove {boards[best].groove_mm:g} mm) would save at"
            f" most about {worth[best]:.0f} specimen-days"
        )
    minutes = {s: MORE_MINUTES * price for s, price in proof.minute_saves.items()}
    session = max(sorted(minutes), key=lambda s: minutes[s], default=None)
    if session is not None and minutes[session] >= 1:
        day = next(wording.day(s.on) for s in problem.sessions if s.session == session)
        said.append(
            f"{MORE_MINUTES} more minutes on {day} ({session}) at most about {minutes[session]:.0f}"
        )
    if not said:
        return []
    return wording.wrapped(f"Scarce: {'; '.join(said)} (days x priority).")


def _place(planned: Planned) -> str:
    return f"{planned.board} {planned.from_mm}-{planned.to_mm} mm at {planned.session}"
