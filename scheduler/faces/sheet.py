"""A session on one sheet of text: chamber, what comes off first, what goes where.

No line is wider than a terminal; the facts are those of `looks.sheet`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from scheduler.faces.howgood import how_good_in_short, how_good_lines
from scheduler.faces.moved import moved_lines
from scheduler.looks.planning import Planning
from scheduler.looks.sheet import SessionSheet, session_sheet
from scheduler.planner.problem import Plan, PlanSession
from scheduler.words import cautions, wording

if TYPE_CHECKING:
    from scheduler.looks.evening import Evening


MOST_IN_A_LINE = 2
"""So many of the later sessions have a line of their own, and a third if it is the last one."""

MOST_REASONS = 2
"""The short form tells so many reasons, the most common ones."""


def plan_lines(
    made: Planning,
    full: Collection[str],
    sessions: Sequence[PlanSession] | None = None,
    *,
    whole: bool = False,
) -> list[str]:
    """Return the plan: the sheets of the sessions named in `full`, and a line for each later one.

    sessions: those to show; None: all of the plan. With `whole`, every specimen without a place is
    named, and all is told that is known of how good the plan is.
    """
    problem = made.problem
    moved = moved_lines(made, far=whole)
    lines = [*moved, ""] if made.moved else []
    if not problem.sessions:
        lines += ["No session ahead. Record one: wingrest session DATE TIME --minutes N", ""]
    others: list[SessionSheet] = []
    for session in problem.sessions if sessions is None else sessions:
        sheet = session_sheet(made, session)
        if session.session in full:
            lines += [*session_lines(sheet, brief=not whole), ""]
        else:
            others.append(sheet)
    lines += _others_lines(others)
    if whole:
        return [*lines, *_unplaced_lines(made.plan), *how_good_lines(made)]
    if not made.plan.unplaced:
        return [*lines, *how_good_in_short(made, "Everything that waits has its place. ")]
    return [*lines, *_unplaced_in_short(made.plan), *how_good_in_short(made)]


def why_lines(made: Planning, specimen: str) -> list[str]:
    """Return where a specimen is planned, else why it has no place."""
    planned = next((p for p in made.plan.placements if p.specimen == specimen), None)
    if planned is None:
        why = dict(made.plan.unplaced).get(specimen, "it is not waiting to be mounted")
        return wording.wrapped(f"{specimen} has no place: {why}", "", "  ")
    day = next(s.start for s in made.problem.sessions if s.session == planned.session)
    now = made.view.now
    text = (
        f"{specimen}: {planned.session} on {wording.moment(day, now)}, {planned.board}"
        f" {planned.from_mm}-{planned.to_mm} mm"
    )
    if planned.relax_from is not None:
        text += f"; into the chamber {wording.moment(made.view.local(planned.relax_from), now)}"
    if planned.after:
        text += f"; {wording.listed(planned.after)} must be off first"
    return wording.wrapped(text, "", "  ")


def _others_lines(others: Sequence[SessionSheet]) -> list[str]:
    """Return a line for each of the next sessions, and one for all later ones."""
    if not others:
        return []
    lines = ["The other sessions (`wingrest plan SESSION` shows one)"]
    near = others if len(others) <= MOST_IN_A_LINE + 1 else others[:MOST_IN_A_LINE]
    lines += [line for sheet in near for line in _in_a_line(sheet)]
    if far := others[len(near) :]:
        last = wording.weekday(far[-1].start, far[-1].asked_on)
        mounts = sum(len(sheet.mount) for sheet in far)
        text = f"  and {len(far)} more until {last}: {mounts} to mount (`wingrest plan --all`)"
        lines += wording.wrapped(text, "", " " * 6)
    return [*lines, ""]


def _in_a_line(sheet: SessionSheet) -> list[str]:
    parts = [f"{len(sheet.first)} to test"] if sheet.first else []
    parts += [f"{len(sheet.mount)} to mount"] if sheet.mount else []
    text = (
        f"  {sheet.session}: {wording.moment(sheet.start, sheet.asked_on)}, {sheet.minutes_used} of"
        f" {sheet.minutes} min{_whose(sheet)}: {', '.join(parts) or 'nothing planned'}"
    )
    return wording.wrapped(text, "", " " * 6)


def _whose(sheet: SessionSheet) -> str:
    return f", {sheet.who}" if sheet.who else ""


def evening_lines(made: Evening) -> list[str]:
    """Return the sheet of a free evening, and how to record it."""
    problem, plan = made.planning.problem, made.planning.plan
    (session,) = problem.sessions
    if not problem.waiting and not problem.misfits:
        return wording.wrapped(
            "Nothing can be mounted then: nothing is in the chamber, out of the cold, or of a"
            " kind that needs no chamber."
        )
    lines = [*session_lines(session_sheet(made.planning, session)), ""]
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


def session_lines(sheet: SessionSheet, *, brief: bool = False) -> list[str]:
    """Return one session's sheet.

    `brief` leaves out the full cautions, the strips, the sizes and the rules, and says how to see
    them.
    """
    head = (
        f"{sheet.session}: {wording.weekday(sheet.start, sheet.start)} {sheet.start.year},"
        f" {sheet.start:%H:%M}, {sheet.minutes_used} of {sheet.minutes} min{_whose(sheet)}"
    )
    if not sheet.mount and not sheet.first and not sheet.as_well:
        return [head, "Nothing to mount and nothing to take off."]
    lines = [head] if brief else [head, "=" * len(head)]
    if brief:
        into = [*_into_lines(sheet, still=True), *_inside_lines(sheet)]
        parts = into, _limp_in_short(sheet), _first_lines(sheet), _table_lines(sheet)
        more = f"{cautions.IN_SHORT}: `wingrest plan {sheet.session}`."
        return [*lines, *(x for part in parts for x in part if x), *wording.wrapped(more)]
    return [
        *lines, *_chamber_lines(sheet), *_limp_lines(sheet), *_first_lines(sheet),
        *_mount_lines(sheet),
    ]  # fmt: skip


def _into_lines(sheet: SessionSheet, *, still: bool = False) -> list[str]:
    """Return what goes into the chamber when; `still`: leave out rows that are in already."""
    rows = [i for i in sheet.chamber if not (still and set(i.specimens) <= set(i.inside))]
    lines = ["", "Into the relaxing chamber"] if rows else []
    for into in rows:
        outside, inside = (
            ", ".join(name for name in into.specimens if (name in into.inside) == there)
            for there in (False, True)
        )
        since, out_by = (wording.moment(m, sheet.asked_on) for m in (into.since, into.out_by))
        named = "; ".join(x for x in (outside, inside and f"{inside} (already in)") if x)
        lines += wording.wrapped(f"  {since}, out by {out_by}: {named}", "", " " * 6)
        if into.boxes:
            lines += wording.wrapped(wording.from_boxes(into.boxes), " " * 6, " " * 8)
    return lines


def _inside_lines(sheet: SessionSheet) -> list[str]:
    """Return in a line what is in the chamber already, with the first moment to come out."""
    rows = [i for i in sheet.chamber if set(i.specimens) <= set(i.inside)]
    if not rows:
        return []
    names = ", ".join(name for into in rows for name in into.specimens)
    out_by = wording.moment(min(into.out_by for into in rows), sheet.asked_on)
    return wording.wrapped(f"In the chamber, the first out by {out_by}: {names}", "", "  ")


def _chamber_lines(sheet: SessionSheet) -> list[str]:
    if not sheet.chamber:
        return []
    told = (cautions.FIRST_LOOK, cautions.CHAMBER)
    return [*_into_lines(sheet), *(x for text in told for x in wording.wrapped(text, "  "))]


def _limp_lines(sheet: SessionSheet) -> list[str]:
    if not sheet.limp:
        return []
    said = f"Limp already: {wording.listed(sheet.limp)}"
    return ["", said, *wording.wrapped(cautions.NO_CHAMBER, "  ")]


def _limp_in_short(sheet: SessionSheet) -> list[str]:
    said = f"Limp already, mount at once: {wording.listed(sheet.limp)}"
    return wording.wrapped(said, "", "  ") if sheet.limp else []


def _first_lines(sheet: SessionSheet) -> list[str]:
    if not sheet.first:
        return _as_well_lines(sheet)
    boards: dict[str, list[str]] = {}
    for off in sheet.first:
        slot = f"{off.specimen} ({off.from_mm}-{off.to_mm} mm){' *' if off.needed else ''}"
        boards.setdefault(off.board, []).append(slot)
    minutes = sheet.take_off_min
    lines = ["", f"Test and take off first ({minutes} min each; * its slot is used again)"]
    for board, slots in boards.items():
        lines += wording.wrapped(f"  {board}: {', '.join(slots)}", "", " " * 6)
    if sheet.damp:
        damp = wording.listed(f"{board} in {air}" for board, air in sheet.damp)
        text = f"Too damp to take anything off, above {sheet.take_off_rh_pct:g} %: {damp}."
        remedy = (
            "Bring such a board into a drier room for two or three days first, or leave it until"
            " the air is drier."
        )
        lines += wording.wrapped(f"{text} {remedy}", "  ")
    return lines + _as_well_lines(sheet)


def _as_well_lines(sheet: SessionSheet) -> list[str]:
    said = (f"{one.board}: {', '.join(one.specimens)}" for one in sheet.as_well)
    text = f"If minutes are left, test and take off: {'; '.join(said)}"
    return ["", *wording.wrapped(text, "", " " * 6)] if sheet.as_well else []


def _table_lines(sheet: SessionSheet) -> list[str]:
    if not sheet.mount:
        return []
    body = [
        (
            str(number),
            m.specimen,
            m.board,
            f"{m.from_mm}-{m.to_mm}",
            m.pin,
            str(m.minutes),
            wording.day(m.due, sheet.asked_on) if m.due else "none",
            wording.day(m.clear, sheet.asked_on) if m.clear else "none",
            m.taxon + (", pack the groove" if m.pack else ""),
        )
        for number, m in enumerate(sheet.mount, 1)
    ]
    head = ("", "who", "board", "mm", "pin", "min", "due", "clear", "taxon")
    return ["", "Mount, board by board", *wording.table(head, body, frozenset({0, 3, 5}))]


def _mount_lines(sheet: SessionSheet) -> list[str]:
    lines = _table_lines(sheet)
    if not lines:
        return []
    lines += [*_strip_lines(sheet), *_rule_lines(sheet), *_estimate_lines(sheet)]
    lines += ["", *wording.wrapped(cautions.BENCH)]
    return lines + (wording.wrapped(cautions.WARM) if sheet.warm else [])


def _strip_lines(sheet: SessionSheet) -> list[str]:
    strips = [wording.strip(m.specimen, m.mounted_on, m.due) for m in sheet.mount]
    half = (len(strips) + 1) // 2
    width = max(len(s) for s in strips)
    lines = ["", "Write on the strip beside each"]
    if 2 * width + 6 > wording.COLUMNS:
        return lines + [f"  {s}" for s in strips]
    pairs = zip(strips[:half], [*strips[half:], ""], strict=False)
    return lines + [f"  {left.ljust(width)}    {right}".rstrip() for left, right in pairs]


def _rule_lines(sheet: SessionSheet) -> list[str]:
    lines = ["", "Days on the board, and by which rules"]
    for alike in sheet.days:
        least, usual = alike.min_days, alike.plan_days
        days = "this air gives no time: move the board to a drier room"
        if least is not None:
            days = f"{least} to {usual} days" if least != usual else f"{least} days"
        said = f" ({alike.basis}: {', '.join(alike.rule_ids)})" if alike.rule_ids else ""
        lines += wording.wrapped(f"  {', '.join(alike.specimens)}: {days}{said}", "", " " * 6)
    return lines


def _estimate_lines(sheet: SessionSheet) -> list[str]:
    lines = [
        line
        for name, how in sorted((m.specimen, m.estimated) for m in sheet.mount if m.estimated)
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


def _unplaced_in_short(plan: Plan) -> list[str]:
    """Return how many have no place, and the reasons that most of them share."""
    counted = Counter(_without_size(reason) for _, reason in plan.unplaced)
    how = "(`wingrest plan --all` names them, `--why SPECIMEN` explains)"
    lines = wording.wrapped(f"Not placed: {len(plan.unplaced)} {how}")
    for reason, count in counted.most_common(MOST_REASONS):
        lines += wording.wrapped(f"  {count}: {reason}", "", " " * 6)
    if len(counted) > MOST_REASONS:
        rest = sum(counted.values()) - sum(n for _, n in counted.most_common(MOST_REASONS))
        lines.append(f"  {rest} for other reasons")
    return lines


def _without_size(reason: str) -> str:
    """Return a reason without the width of the one body that it was said of."""
    return re.sub(r"^body [\d.]+ mm: ", "", reason)
