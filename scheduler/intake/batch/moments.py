"""The moments of a row in the record's zone."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from scheduler.intake.batch.cells import CellFault, localise
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.rows import Row


def local_moment(
    row: Row, column: str, file: str, zone: ZoneInfo, findings: Findings
) -> datetime | None:
    """Return the row's moment in `zone`, None when it has none that can be used.

    A moment in a skipped hour is reported as a problem, one in an hour that occurs twice as a note.
    """
    moment: datetime | None = row.values.get(column)
    if moment is None:
        return None
    try:
        local, doubled = localise(moment, zone)
    except CellFault as fault:
        findings.problem(file, row.number, column, row.text[column], fault.reason, fault.remedy)
        return None
    if doubled:
        findings.note(
            f"{row.text[column]} happens twice in {zone.key}; the first is meant. For the"
            " second, add the offset",
            file,
            row.number,
        )
    return local
