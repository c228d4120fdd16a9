"""What the record says about a batch: the record holds, and nothing is loaded twice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from scheduler.intake.batch.columns import BOARDS, MOUNTED
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.rows import Row
from scheduler.words.records import Board, Placement
from scheduler.words.wording import with_year


@dataclass(frozen=True, slots=True)
class Mounted:
    """One specimen that stands on a board; rows without positions go from left to right."""

    specimen: str
    board: str
    from_mm: int | None
    to_mm: int | None
    mounted_at: datetime
    mounted_on: date


def stands_after(placement: Placement, moment: datetime) -> bool:
    """Say whether it stands now or was released after a moment."""
    return placement.released_at is None or placement.released_at > moment


def not_recorded(
    rows: Iterable[tuple[Row, Mounted]], placements: Sequence[Placement], findings: Findings
) -> list[tuple[Row, Mounted]]:
    """Return the rows that are not recorded; report specimens that stand elsewhere.

    A placement may have been corrected since a batch was loaded. So where specimen and board agree,
    the record's date stays and the difference is noted.
    """
    of_specimen: dict[str, list[Placement]] = {}
    for placement in placements:
        of_specimen.setdefault(placement.specimen, []).append(placement)
    new = []
    for row, stay in rows:
        mine = of_specimen.get(stay.specimen, [])
        if any(p.board == stay.board and p.mounted_at == stay.mounted_at for p in mine):
            continue
        then = [p for p in mine if stands_after(p, stay.mounted_at)]
        if not then:
            new.append((row, stay))
        elif any(p.board == stay.board for p in then):
            holding = next(p for p in then if p.board == stay.board)
            findings.note(
                f"{stay.specimen} was mounted on {stay.board} on {with_year(stay.mounted_on)}, the"
                f" record says on {with_year(holding.mounted_on)}: the record's value stays",
                MOUNTED.file,
                row.number,
            )
        else:
            _say_elsewhere(row, stay, then[-1], findings)
    return new


def check_slots_free(
    slots: Iterable[tuple[Row, Mounted]], placements: Sequence[Placement], findings: Findings
) -> None:
    """Report slots in which, by the record, another specimen stands or still stood."""
    on_board: dict[str, list[Placement]] = {}
    for placement in placements:
        on_board.setdefault(placement.board, []).append(placement)
    for row, stay in slots:
        for p in on_board.get(stay.board, []):
            meets = p.from_mm < (stay.to_mm or 0) and (stay.from_mm or 0) < p.to_mm
            if meets and stands_after(p, stay.mounted_at):
                verb = "stands" if p.released_at is None else "then still stood"
                reason = f"overlaps {p.specimen}, which {verb} at {p.from_mm}-{p.to_mm} mm"
                remedy = f"Correct the slot, or release {p.specimen} first"
                text = row.text.get("from_mm")
                findings.problem(MOUNTED.file, row.number, "from_mm", text, reason, remedy)
                break


def check_lengths(
    rows: Mapping[str, Row],
    boards: Iterable[Board],
    placements: Sequence[Placement],
    findings: Findings,
) -> None:
    """Report boards that would become shorter than what stands on them."""
    reach: dict[str, Placement] = {}
    for p in placements:
        if p.released_at is None and (p.board not in reach or p.to_mm > reach[p.board].to_mm):
            reach[p.board] = p
    for board in boards:
        last = reach.get(board.board)
        if last is not None and last.to_mm > board.length_mm:
            row = rows[board.board]
            reason = f"is shorter than what stands on it: {last.specimen} ends at {last.to_mm} mm"
            remedy = "Correct the length, or release it first"
            text = row.text["length_mm"]
            findings.problem(BOARDS.file, row.number, "length_mm", text, reason, remedy)


def _say_elsewhere(row: Row, stay: Mounted, there: Placement, findings: Findings) -> None:
    since = with_year(there.mounted_on)
    if there.released_at is None:
        reason = f"stands on {there.board} since {since} already"
        remedy = "Release it there first, or correct this row"
    else:
        reason = f"stood on {there.board} from {since} until after that moment"
        remedy = "Correct the board or the date"
    findings.problem(MOUNTED.file, row.number, "specimen", stay.specimen, reason, remedy)
