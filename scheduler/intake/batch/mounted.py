"""What stands on the boards already: slots lie inside their board and do not overlap."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from scheduler.intake.batch.columns import MOUNTED
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.ids import Ids
from scheduler.intake.batch.moments import local_moment
from scheduler.intake.batch.recorded import Mounted, check_slots_free, not_recorded, stands_after
from scheduler.intake.batch.rows import Row
from scheduler.intake.batch.sheets import Sheet
from scheduler.words.records import Placement, Specimen


def read_mounted(
    sheet: Sheet, ids: Ids, zone: ZoneInfo, findings: Findings
) -> list[tuple[Row, Mounted]]:
    """Return the rows of mounted.csv that can be used, each with what it says."""
    read: list[tuple[Row, Mounted]] = []
    for row in sheet.rows:
        ids.check_reference("specimen", MOUNTED.file, "specimen", row, findings)
        ids.check_reference("board", MOUNTED.file, "board", row, findings)
        _check_ends(row, findings)
        at = local_moment(row, "mounted", MOUNTED.file, zone, findings)
        specimen = ids.resolve("specimen", row.values.get("specimen", ""))
        board = ids.resolve("board", row.values.get("board", ""))
        if at is not None and specimen is not None and board is not None:
            slot = row.values.get("from_mm"), row.values.get("to_mm")
            read.append((row, Mounted(specimen, board, *slot, at, at.date())))
    return read


def check_mounted(
    rows: Iterable[tuple[Row, Mounted]],
    lengths: Mapping[str, int],
    specimens: Mapping[str, Specimen],
    placements: Sequence[Placement],
    now: datetime | None,
    findings: Findings,
) -> tuple[Mounted, ...]:
    """Return what stands and is not recorded yet; report what cannot be true.

    `lengths` are those of the boards, `placements` what the record holds.
    """
    rows = list(rows)
    _check_once(rows, findings)
    new = not_recorded(rows, placements, findings)
    slots = [
        (row, stay) for row, stay in new if _is_slot(row, stay, lengths.get(stay.board), findings)
    ]
    _check_overlaps(slots, findings)
    check_slots_free(slots, placements, findings)
    _check_room_left(new, lengths, placements, findings)
    for row, stay in new:
        _check_dates(row, stay, specimens.get(stay.specimen), now, findings)
    return tuple(stay for _, stay in new)


def free_stretch(
    length_mm: int, taken: Iterable[tuple[int, int]], wanted_mm: int
) -> tuple[int, int]:
    """Return the stretch right of all that is taken if it has `wanted_mm`, else the longest one."""
    reach, longest = 0, (0, 0)
    for from_mm, to_mm in sorted(taken):
        longest = max(longest, (reach, from_mm), key=_extent)
        reach = max(reach, to_mm)
    tail = (reach, max(length_mm, reach))
    return tail if _extent(tail) >= wanted_mm else max(longest, tail, key=_extent)


def taken_slots(
    board: str, since: datetime, stays: Iterable[Mounted], placements: Iterable[Placement]
) -> list[tuple[int, int]]:
    """Return the slots taken on a board from a moment on, as reported or recorded."""
    given = [
        (stay.from_mm, stay.to_mm)
        for stay in stays
        if stay.board == board and stay.from_mm is not None and stay.to_mm is not None
    ]
    return given + [
        (p.from_mm, p.to_mm) for p in placements if p.board == board and stands_after(p, since)
    ]


def _extent(stretch: tuple[int, int]) -> int:
    return stretch[1] - stretch[0]


def _check_room_left(
    rows: list[tuple[Row, Mounted]],
    lengths: Mapping[str, int],
    placements: Sequence[Placement],
    findings: Findings,
) -> None:
    """Report rows without a slot for which no millimetre of their board is left."""
    loose: dict[str, list[tuple[Row, Mounted]]] = {}
    for row, stay in rows:
        if stay.from_mm is None and "from_mm" not in row.text and stay.board in lengths:
            loose.setdefault(stay.board, []).append((row, stay))
    for board, those in loose.items():
        since = min(stay.mounted_at for _, stay in those)
        taken = taken_slots(board, since, (stay for _, stay in rows), placements)
        room = _extent(free_stretch(lengths[board], taken, len(those)))
        for row, stay in those[room:]:
            reason = f"has no room left on {board} for {stay.specimen}"
            remedy = "Give from_mm and to_mm, or correct the slots beside it"
            findings.problem(MOUNTED.file, row.number, "board", board, reason, remedy)


def _check_once(rows: list[tuple[Row, Mounted]], findings: Findings) -> None:
    first: dict[str, int] = {}
    for row, stay in rows:
        other = first.setdefault(stay.specimen, row.number)
        if other != row.number:
            reason, remedy = "stands on a board already (row {})", "Keep the row that is true"
            findings.problem(
                MOUNTED.file,
                row.number,
                "specimen",
                stay.specimen,
                reason.format(other),
                remedy,
            )
            findings.stands_beside(
                MOUNTED.file,
                other,
                "specimen",
                f"stands on a board again (row {row.number})",
                remedy,
            )


def _check_ends(row: Row, findings: Findings) -> None:
    """Report a slot with only one end, or with its ends the wrong way round."""
    from_mm, to_mm = row.values.get("from_mm"), row.values.get("to_mm")
    if ("from_mm" in row.text) != ("to_mm" in row.text):
        missing = "to_mm" if "from_mm" in row.text else "from_mm"
        remedy = "Give both ends of the slot, or neither"
        findings.problem(MOUNTED.file, row.number, missing, None, "is empty", remedy)
    elif from_mm is not None and to_mm is not None and from_mm >= to_mm:
        reason, remedy = f"is not beyond from_mm, {from_mm}", "Count from the board's left end"
        findings.problem(MOUNTED.file, row.number, "to_mm", row.text["to_mm"], reason, remedy)


def _is_slot(row: Row, stay: Mounted, length_mm: int | None, findings: Findings) -> bool:
    """Say whether the row gives a whole slot on its board; report one past the board's end."""
    if stay.from_mm is None or stay.to_mm is None or stay.from_mm >= stay.to_mm:
        return False
    if length_mm is None or stay.to_mm <= length_mm:
        return True
    reason = f"is past the end of board {stay.board}, which is {length_mm} mm long"
    remedy = "Correct the slot, or the board's length_mm"
    findings.problem(MOUNTED.file, row.number, "to_mm", row.text["to_mm"], reason, remedy)
    return False


def _check_overlaps(slots: list[tuple[Row, Mounted]], findings: Findings) -> None:
    """Report each slot that begins before its left neighbour ends."""
    reach: dict[str, tuple[int, str, int]] = {}
    for row, stay in sorted(slots, key=lambda entry: (entry[1].board, entry[1].from_mm or 0)):
        end_mm, left, left_row = reach.get(stay.board, (0, "", 0))
        if (stay.from_mm or 0) < end_mm:
            reason = f"overlaps {left} on board {stay.board}, whose slot ends at {end_mm}"
            remedy = "Correct the slots, or leave both ends empty"
            text = row.text.get("from_mm")
            findings.problem(MOUNTED.file, row.number, "from_mm", text, reason, remedy)
            reason = f"reaches into the slot of {stay.specimen} (row {row.number})"
            findings.stands_beside(MOUNTED.file, left_row, "to_mm", reason, remedy)
        if (stay.to_mm or 0) > end_mm:
            reach[stay.board] = stay.to_mm or 0, stay.specimen, row.number


def _check_dates(
    row: Row, stay: Mounted, specimen: Specimen | None, now: datetime | None, findings: Findings
) -> None:
    frozen_on = specimen.frozen_on if specimen else None
    reason = None
    if frozen_on is not None and stay.mounted_on < frozen_on:
        reason = f"is before {stay.specimen} was frozen, {frozen_on}"
    elif now is not None and stay.mounted_at > now:
        reason = f"is in the future: now is {now.isoformat(timespec='minutes')}"
    if reason is not None:
        text = row.text.get("mounted")
        remedy = "Correct the date"
        findings.problem(MOUNTED.file, row.number, "mounted", text, reason, remedy)
