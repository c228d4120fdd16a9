"""A session on one sheet of text: chamber, what comes off first, what goes where.

Pure: lines no wider than a terminal, from a plan and the problem it answers.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from scheduler.deeds.replan import moved_lines
from scheduler.faces.howgood import how_good_lines
from scheduler.planner.problem import Plan, Planned, PlanProblem, PlanSession
from scheduler.planner.problem_json import plan_to_json
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words import cautions, wording

if TYPE_CHECKING:
    from scheduler.deeds.plan import Planning
    from scheduler.looks.evening import Evening


def plan_lines(made: Planning, rules: Rulebook, sheets: int | None = None) -> list[str]:
    """Return the whole plan: every session, what is not placed and why, how good it is.

    `sheets` is how many sessions to show, all by default.
    """
    problem = made.problem
    lines = [*moved_lines(made), "`wingrest plan --anew` starts over.", ""] if made.moved else []
    if not problem.sessions:
        lines += ["No session ahead. Record one: wingrest session DATE TIME --minutes N", ""]
    for session in problem.sessions[:sheets]:
        lines += [*session_lines(problem, made.plan, session, made.snap, rules), ""]
    more = 0 if sheets is None else max(0, len(problem.sessions) - sheets)
    if more:
        lines += [f"{wording.counted(more, 'more session')}: `wingrest plan` shows all.", ""]
    lines += _unplaced_lines(made.plan)
    lines += how_good_lines(made)
    return lines


def evening_lines(made: Evening, rules: Rulebook) -> list[str]:
    """Return the sheet of a free evening, and how to record it."""
    problem, plan = made.planning.problem, made.planning.plan
    (session,) = problem.sessions
    if not problem.waiting and not problem.misfits:
        return wording.wrapped(
            "Nothing can be mounted then: nothing is in the chamber, out of the cold, or of a"
            " kind that needs no chamber."
        )
    lines = [*session_lines(problem, plan, session, made.planning.snap, rules), ""]
    if made.gently:
        lines += wording.wrapped(
            f"Try {wording.listed(made.gently)} with a gentle push first: out of the cold, not"
            " out of the chamber. What is stiff waits."
        )
    lines += _unplaced_lines(plan)
    lines += ["Nothing of this is kept or recorded. Afterwards:"]
    for command in made.commands:
        lines += wording.wrapped(command, "  ", "    ")
    return lines if made.commands else lines[:-1]


def session_lines(
    problem: PlanProblem, plan: Plan, session: PlanSession, snap: Snapshot, rules: Rulebook
) -> list[str]:
    """Return one session's sheet."""
    facts = plan_to_json(problem, plan)
    mine = next(s for s in facts["sessions"] if s["session"] == session.session)
    placements = [p for p in plan.placements if p.session == session.session]
    head = (
        f"{session.session}: {wording.weekday(session.on)} {session.on.year},"
        f" {session.start:%H:%M}, {mine['minutes_used']} of {session.minutes} min"
    )
    lines = [head, "=" * len(head)]
    if not placements and not mine["test_first"]:
        return [*lines, "Nothing to mount and nothing to take off."]
    lines += _chamber_lines(placements, snap)
    lines += _first_lines(mine["test_first"], problem, placements)
    lines += _damp_lines(mine["test_first"], View(snap, rules, problem.now))
    lines += _mount_lines(placements, problem, snap, rules)
    return lines


def _chamber_lines(placements: Sequence[Planned], snap: Snapshot) -> list[str]:
    lines = _into_chamber_lines(placements, snap)
    limp = [p.specimen for p in placements if p.relax_from is None]
    if limp:
        lines += [
            "",
            f"Limp already: {wording.listed(limp)}",
            *wording.wrapped(cautions.NO_CHAMBER, "  "),
        ]
    return lines


def _into_chamber_lines(placements: Sequence[Planned], snap: Snapshot) -> list[str]:
    groups: dict[tuple[datetime, datetime], list[str]] = {}
    for p in placements:
        if p.relax_from is not None and p.out_by is not None:
            groups.setdefault((p.relax_from, p.out_by), []).append(p.specimen)
    if not groups:
        return []
    lines = ["", "Into the relaxing chamber"]
    inside = {s.specimen for s in snap.chamber if s.until is None}
    for (since, out_by), specimens in sorted(groups.items()):
        names = [s + (" (in already)" if s in inside else "") for s in sorted(specimens)]
        lead = (
            f"  {wording.moment(snap.local(since))}, out by {wording.moment(snap.local(out_by))}: "
        )
        lines += wording.wrapped(lead + ", ".join(names), "", " " * 6)
    lines += wording.wrapped(cautions.FIRST_LOOK, "  ", "  ")
    lines += wording.wrapped(cautions.CHAMBER, "  ")
    return lines


def _first_lines(
    off: Sequence[dict[str, object]], problem: PlanProblem, placements: Sequence[Planned]
) -> list[str]:
    if not off:
        return []
    needed = {name for p in placements for name in p.after}
    boards: dict[str, list[str]] = {}
    for one in off:
        star = " *" if one["specimen"] in needed else ""
        boards.setdefault(str(one["board"]), []).append(
            f"{one['specimen']} ({one['from_mm']}-{one['to_mm']} mm){star}"
        )
    minutes = problem.take_off_min
    lines = ["", f"Test and take off first ({minutes} min each; * its slot is used again)"]
    for board, names in boards.items():
        lines += wording.wrapped(f"  {board}: {', '.join(names)}", "", " " * 6)
    return lines


def _damp_lines(off: Sequence[dict[str, object]], view: View) -> list[str]:
    """Say which boards stand in air too damp to take anything off, as it is known now."""
    limit = view.rules.limit("take_off_rh_pct")
    damp = []
    for board in dict.fromkeys(str(one["board"]) for one in off):
        room = view.room_of(board)
        air = room and view.air_now(room)
        if air and air.regime == "room" and air.rh_pct is not None and air.rh_pct > limit:
            damp.append(f"{board} in {air}")
    if not damp:
        return []
    text = f"Too damp to take anything off, above {limit:g} %: {wording.listed(damp)}."
    remedy = "Two or three days in a drier room before, or leave it until the air is drier."
    return wording.wrapped(f"{text} {remedy}", "  ")


def _mount_lines(
    placements: Sequence[Planned], problem: PlanProblem, snap: Snapshot, rules: Rulebook
) -> list[str]:
    if not placements:
        return []
    bodies = {w.specimen: w for w in problem.waiting}
    lines = ["", "Mount, board by board"]
    body = []
    for number, p in enumerate(placements, 1):
        w = bodies[p.specimen]
        pack = ", pack the groove" if p.board in w.pack else ""
        body.append(
            (
                str(number),
                p.specimen,
                p.board,
                f"{p.from_mm}-{p.to_mm}",
                rules.pin(w.body_mm).pin,
                str(p.minutes),
                wording.day(p.due) if p.due else "none",
                wording.day(p.clear) if p.clear else "none",
                (snap.specimens[p.specimen].taxon or "") + pack,
            )
        )
    head = ("", "who", "board", "mm", "pin", "min", "due", "clear", "taxon")
    lines += wording.table(head, body, frozenset({0, 3, 5}))
    lines += _strip_lines(placements, snap)
    lines += _rule_lines(placements)
    lines += _estimate_lines(placements, problem)
    lines += ["", *wording.wrapped(cautions.BENCH)]
    rooms = {b.board: snap.rooms[b.room] for b in problem.boards}
    if any(rooms[p.board].regime == "warm" for p in placements):
        lines += wording.wrapped(cautions.WARM)
    return lines


def _strip_lines(placements: Sequence[Planned], snap: Snapshot) -> list[str]:
    strips = [wording.strip(p.specimen, snap.local(p.mount_at).date(), p.due) for p in placements]
    half = (len(strips) + 1) // 2
    width = max(len(s) for s in strips)
    lines = ["", "Write on the strip beside each"]
    if 2 * width + 6 > wording.COLUMNS:
        return lines + [f"  {s}" for s in strips]
    pairs = zip(strips[:half], [*strips[half:], ""], strict=False)
    return lines + [f"  {left.ljust(width)}    {right}".rstrip() for left, right in pairs]


def _rule_lines(placements: Sequence[Planned]) -> list[str]:
    groups: dict[tuple[object, ...], list[str]] = {}
    for p in placements:
        key = (p.min_days, p.plan_days, p.rule_ids, p.basis)
        groups.setdefault(key, []).append(p.specimen)
    lines = ["", "Days on the board, by which rules"]
    for (least, usual, rule_ids, basis), names in groups.items():
        days = "this air gives no time: then move the board to a drier room"
        if least is not None:
            days = f"{least} to {usual} days" if least != usual else f"{least} days"
        assert isinstance(rule_ids, tuple)
        said = f" ({basis}: {', '.join(rule_ids)})" if rule_ids else ""
        lines += wording.wrapped(f"  {', '.join(names)}: {days}{said}", "", " " * 6)
    return lines


def _estimate_lines(placements: Sequence[Planned], problem: PlanProblem) -> list[str]:
    names = {p.specimen for p in placements}
    estimated = [(w.specimen, w.estimated) for w in problem.waiting if w.estimated]
    lines = [
        line
        for name, how in estimated
        if name in names
        for line in wording.wrapped(f"  {name}: {how}", "", " " * 6)
    ]
    return ["", "Sizes estimated, measure before you mount", *lines] if lines else []


def _unplaced_lines(plan: Plan) -> list[str]:
    if not plan.unplaced:
        return ["Everything that waits has its place.", ""]
    lines = [f"Not placed: {wording.counted(len(plan.unplaced), 'specimen')}"]
    reasons: dict[str, list[str]] = {}
    for specimen, reason in plan.unplaced:
        reasons.setdefault(reason, []).append(specimen)
    for reason, names in reasons.items():
        lines += wording.wrapped(f"  {', '.join(names)}: {reason}", "", " " * 6)
    return [*lines, ""]
