"""What stands on the boards already: slots inside their board, none over another."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from scheduler.batch.columns import MOUNTED
from scheduler.batch.findings import Findings
from scheduler.batch.ids import Ids
from scheduler.batch.moments import local_moment
from scheduler.batch.sheets import Row, Sheet
from scheduler.records import Specimen


@dataclass(frozen=True, slots=True)
class Mounted:
    """One specimen that stands on a board; without positions, rows go from left to right."""

    specimen: str
    board: str
    from_mm: int | None
    to_mm: int | None
    mounted_at: datetime
    mounted_on: date


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
    now: datetime | None,
    findings: Findings,
) -> None:
    """Report slots that cannot be and specimens that stand twice."""
    rows = list(rows)
    _check_once(rows, findings)
    slots = [
        (row, stay) for row, stay in rows if _is_slot(row, stay, lengths.get(stay.board), findings)
    ]
    _check_overlaps(slots, findings)
    for row, stay in rows:
        _check_dates(row, stay, specimens.get(stay.specimen), now, findings)


def _check_once(rows: list[tuple[Row, Mounted]], findings: Findings) -> None:
    first: dict[str, int] = {}
    for row, stay in rows:
        if stay.specimen in first:
            reason = f"stands on a board already (row {first[stay.specimen]})"
            remedy = "Keep the row that is true"
            findings.problem(MOUNTED.file, row.number, "specimen", stay.specimen, reason, remedy)
        first.setdefault(stay.specimen, row.number)


def _check_ends(row: Row, findings: Findings) -> None:
    """Report a slot with one end, or with its ends the wrong way round."""
    from_mm, to_mm = row.values.get("from_mm"), row.values.get("to_mm")
    if ("from_mm" in row.text) != ("to_mm" in row.text):
        missing = "to_mm" if "from_mm" in row.text else "from_mm"
        remedy = "Give both ends of the slot, or neither"
        findings.problem(MOUNTED.file, row.number, missing, None, "is empty", remedy)
    elif from_mm is not None and to_mm is not None and from_mm >= to_mm:
        reason, remedy = f"is not beyond from_mm, {from_mm}", "Count from the board's left end"
        findings.problem(MOUNTED.file, row.number, "to_mm", row.text["to_mm"], reason, remedy)


def _is_slot(row: Row, stay: Mounted, length_mm: int | None, findings: Findings) -> bool:
    """Return whether the row gives a whole slot on its board; report one past its end."""
    if stay.from_mm is None or stay.to_mm is None or stay.from_mm >= stay.to_mm:
        return False
    if length_mm is None or stay.to_mm <= length_mm:
        return True
    reason = f"is past the end of board {stay.board}, which is {length_mm} mm long"
    remedy = "Correct the slot, or the board's length_mm"
    findings.problem(MOUNTED.file, row.number, "to_mm", row.text["to_mm"], reason, remedy)
    return False


def _check_overlaps(slots: list[tuple[Row, Mounted]], findings: Findings) -> None:
    """Report each slot that begins before the one to its left ends."""
    reach: dict[str, tuple[int, str]] = {}
    for row, stay in sorted(slots, key=lambda entry: (entry[1].board, entry[1].from_mm or 0)):
        end_mm, left = reach.get(stay.board, (0, ""))
        if (stay.from_mm or 0) < end_mm:
            reason = f"overlaps {left} on board {stay.board}, whose slot ends at {end_mm}"
            remedy = "Correct the slots, or leave both ends empty"
            text = row.text.get("from_mm")
            findings.problem(MOUNTED.file, row.number, "from_mm", text, reason, remedy)
        if (stay.to_mm or 0) > end_mm:
            reach[stay.board] = stay.to_mm or 0, stay.specimen


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
