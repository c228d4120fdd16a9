"""Words typed at the bench, read as the cells of a batch are; all faults are told at once."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.intake.batch.cells import CellFault, Reader, localise
from scheduler.intake.batch.columns import SPECIMENS, Table
from scheduler.intake.batch.findings import Findings, did_you_mean
from scheduler.intake.batch.ids import Ids, Known
from scheduler.intake.batch.rows import Row
from scheduler.intake.batch.sheets import Sheet
from scheduler.intake.batch.specimens import read_specimens
from scheduler.rulebook import Rulebook
from scheduler.words import wording
from scheduler.words.problems import BadInput, Problem
from scheduler.words.records import Specimen


class Words:
    """What was typed about one thing, and everything that is wrong with it."""

    def __init__(self, of: str, said: Mapping[str, str] | None = None) -> None:
        """Collect the faults of what was typed about `of`, an id or a command.

        `said` gives the names that the person typed for columns: --body for body_mm.
        """
        self.of = of
        self.said = said or {}
        self.problems: list[Problem] = []

    def fault(self, column: str | None, text: str | None, reason: str, remedy: str) -> None:
        """Note one fault."""
        for name, said in self.said.items():
            remedy = remedy.replace(name, said)
        column = self.said.get(column or "", column)
        self.problems.append(Problem(self.of, None, column, text, reason, remedy))

    def read(self, column: str, text: str | None, reader: Reader) -> Any:
        """Return the value of a text; None when it is empty, or unusable, which is noted."""
        if text is None or not text.strip():
            return None
        try:
            return reader(text.strip())
        except CellFault as fault:
            self.fault(column, text, fault.reason, fault.remedy)
            return None

    def local(self, column: str, moment: datetime | None, zone: ZoneInfo) -> datetime | None:
        """Return a moment in the record's zone; None without one, or if it does not exist."""
        if moment is None:
            return None
        try:
            return localise(moment, zone)[0]
        except CellFault as fault:
            self.fault(column, moment.isoformat(), fault.reason, fault.remedy)
            return None

    def specimen(
        self,
        name: str,
        texts: Mapping[str, str],
        rules: Rulebook,
        *,
        new: bool,
        today: date | None = None,
    ) -> Specimen | None:
        """Return the specimen that texts by column describe; None when anything typed is at fault.

        The same readers and checks apply as to a row of specimens.csv. Without `today` no date is
        checked against the calendar.
        """
        filled = {"specimen": name} | {c: t for c, t in texts.items() if t.strip()}
        readers = reader_by_column(SPECIMENS)
        values = {c: self.read(c, text, readers[c]) for c, text in filled.items()}
        read = {c: value for c, value in values.items() if value is not None}
        sheet = Sheet(SPECIMENS, (Row(1, filled, filled, read),))
        findings = Findings()
        ids = Ids(Known() if new else Known(specimens=frozenset({name})))
        if new:
            ids.enter(sheet, findings)
        specimens = read_specimens(sheet, ids, rules, findings, today)
        for p in findings.problems:
            self.fault(p.column, p.value, p.reason, p.remedy)
        return specimens[0] if specimens and not self.problems else None

    def raise_if_any(self, nothing: str = "nothing was recorded") -> None:
        """Raise BadInput with every fault; `nothing` says that nothing was done."""
        if self.problems:
            count = wording.counted(len(self.problems), "problem")
            raise BadInput(f"{count}; {nothing}", self.problems)


def reader_by_column(table: Table) -> dict[str, Reader]:
    """Return the reader of each column of a table."""
    return {column.name: column.read for column in table.columns}


def spelt(typed: str, choices: Mapping[str, object]) -> str | None:
    """Return a column or term as it is usually spelt, whatever its case, None if unknown."""
    folded = typed.strip().casefold()
    return next((c for c in choices if c.casefold() == folded), None)


def perhaps(typed: str, choices: Mapping[str, object]) -> str:
    """Return "Did you mean ...?", or "" when nothing is near."""
    near = did_you_mean(typed, choices).removeprefix("; ")
    return near[:1].upper() + near[1:]
