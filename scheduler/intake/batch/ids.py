"""The ids of boards, specimens, sessions and rooms: all different, whatever their case."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from scheduler.intake.batch.columns import Table
from scheduler.intake.batch.findings import Findings, did_you_mean
from scheduler.intake.batch.rows import Row
from scheduler.intake.batch.sheets import Sheet
from scheduler.words.records import Placement, Regime

RECORD = "the record"
MOST_GUESSED_FROM = 2000


@dataclass(frozen=True, slots=True)
class Known:
    """What the record holds already; loading any of it again is no fault.

    `placements` are all that ever stood, released or not.
    """

    rooms: frozenset[str] = frozenset()
    boards: frozenset[str] = frozenset()
    specimens: frozenset[str] = frozenset()
    sessions: frozenset[str] = frozenset()
    timezone: str | None = None
    lengths: Mapping[str, int] = field(default_factory=dict)
    regimes: Mapping[str, Regime] = field(default_factory=dict)
    placements: tuple[Placement, ...] = ()

    def by_kind(self) -> dict[str, frozenset[str]]:
        """Return the ids by the kind of thing they name."""
        return {
            "room": self.rooms,
            "board": self.boards,
            "specimen": self.specimens,
            "session": self.sessions,
        }


@dataclass(frozen=True, slots=True)
class _Name:
    kind: str
    name: str
    at: tuple[str, int] | None
    known: bool = False


class Ids:
    """Every id of the record and the batch, with its usual spelling and where it was given."""

    def __init__(self, known: Known) -> None:
        self._names = {
            name.casefold(): _Name(kind, name, None, known=True)
            for kind, names in known.by_kind().items()
            for name in sorted(names)
        }
        self.given_cells: dict[str, frozenset[str]] = {}
        self._faulty: set[tuple[str, str]] = set()
        self._unreadable: set[str] = set()
        self._left_out: dict[tuple[str, str], tuple[str, int]] = {}

    def leave_out(self, table: Table, row: Row) -> None:
        """Remember a row that is not loaded: a row that refers to it cannot be loaded either."""
        if table.key is not None:
            read = table.key in row.values
            for name in self.names_of(row, table.key) if read else (row.text.get(table.key, ""),):
                self._left_out[table.kind, name.casefold()] = table.file, row.number

    def enter(self, sheet: Sheet, findings: Findings) -> None:
        """Enter the ids of one sheet; report those that are taken already."""
        key = sheet.table.key
        if key is None:
            return
        if not sheet.readable:
            self._unreadable.add(sheet.table.kind)
        for row in sheet.rows:
            if key not in row.values:
                self._faulty.add((sheet.table.kind, row.text.get(key, "").casefold()))
                continue
            for name in self.names_of(row, key):
                self._enter_name(name, sheet, row, findings)

    def names_of(self, row: Row, key: str) -> tuple[str, ...]:
        """Return the ids for which one row stands: a board T6 of count 3 is T6-1, T6-2 and T6-3.

        Things in the record keep their ids when a count grows or shrinks: a single T6 becomes the
        first of the three, and a T6-1 whose count is now 1 is not a new T6.
        """
        name: str = row.values[key]
        count: int = row.values.get("count", 1)
        alone, first = self.was_known(name), self.was_known(f"{name}-1")
        if count == 1:
            return (f"{name}-1",) if "count" in row.values and first and not alone else (name,)
        begin = name if alone and not first else f"{name}-1"
        return (begin, *(f"{name}-{n}" for n in range(2, count + 1)))

    def resolve(self, kind: str, name: str) -> str | None:
        """Return the usual spelling of the id, None when nothing of that kind has it."""
        found = self._names.get(name.casefold())
        return found.name if found and found.kind == kind else None

    def was_known(self, name: str) -> bool:
        """Say whether the record holds the id already."""
        found = self._names.get(name.casefold())
        return found is not None and found.known

    def check_reference(
        self, kind: str, file: str, column: str, row: Row, findings: Findings
    ) -> None:
        """Report a reference to something that neither the record nor the batch holds.

        Nothing is reported where the target's own file or id is at fault: that is reported there.
        """
        name: str | None = row.values.get(column)
        if name is None or self.resolve(kind, name) is not None:
            return
        if kind in self._unreadable or (kind, name.casefold()) in self._faulty:
            return
        other = self._names.get(name.casefold())
        left_out = self._left_out.get((kind, name.casefold()))
        if left_out is not None:
            place = self._place(left_out, findings)
            reason, remedy = f"names a {kind} that is left out ({place})", "Correct that row too"
            findings.problem(file, row.number, column, name, reason, remedy)
            return
        if other is not None:
            reason = f"names a {other.kind}, not a {kind}"
        else:
            reason = f"names a {kind} that is in neither the record nor the batch"
            reason += did_you_mean(name, self._near(kind)).rstrip("?")
        remedy = f"Correct the id, or add the {kind}"
        findings.problem(file, row.number, column, name, reason, remedy)

    def _enter_name(self, name: str, sheet: Sheet, row: Row, findings: Findings) -> None:
        kind, file, key = sheet.table.kind, sheet.table.file, sheet.table.key or ""
        taken = self._names.get(name.casefold())
        if taken is None or (taken.kind == kind and taken.at is None):
            spelling = taken.name if taken else name
            at = file, row.number
            self._names[name.casefold()] = _Name(kind, spelling, at, known=taken is not None)
            self.given_cells[spelling] = frozenset(row.text)
            return
        if taken.kind == kind:
            reason = f"stands twice (first in {self._place(taken.at, findings)})"
            remedy = "Keep one of the rows, or choose another id"
        else:
            self._faulty.add((kind, name.casefold()))
            reason = f"already names a {taken.kind} ({self._place(taken.at, findings)})"
            remedy = "Boards, specimens, sessions and rooms need ids that are all different"
        findings.problem(file, row.number, key, name, reason, remedy)
        if taken.at is not None:
            again = f"has an id that stands again ({self._place((file, row.number), findings)})"
            findings.stands_beside(*taken.at, taken.kind, again, remedy)

    def _place(self, at: tuple[str, int] | None, findings: Findings) -> str:
        return RECORD if at is None else f"{findings.name(at[0])}, row {at[1]}"

    def _near(self, kind: str) -> list[str]:
        # With very many names, comparing takes longer than the guess is worth.
        names = [entry.name for entry in self._names.values() if entry.kind == kind]
        return names if len(names) <= MOST_GUESSED_FROM else []
