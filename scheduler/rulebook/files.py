"""The rule tables as files: which tables there are, how a folder is read, and how a person's
own rows replace the shipped ones.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Hashable, Iterable, Sequence
from io import StringIO
from pathlib import Path
from typing import Any, Generic, TypeVar

from scheduler.rulebook import cells
from scheduler.rulebook.answers import plain
from scheduler.rulebook.cells import Cells
from scheduler.rulebook.rows import (
    BoardTimeRow,
    FamilyRow,
    FitRow,
    HandlingRow,
    HumidityRow,
    LimitRow,
    NameRow,
    PinRow,
    RecheckRow,
    RelaxingRow,
    Rule,
    SourceRow,
)
from scheduler.words.problems import Problem
from scheduler.words.tuples import NamedTuple

R = TypeVar("R")


class RuleTable(NamedTuple, Generic[R]):
    """One file: its columns, how a line is read, and by what two rows count as the same."""

    file: str
    columns: tuple[str, ...]
    read: Callable[[Cells], R]
    key: Callable[[R], Hashable]
    rising: Callable[[R], tuple[Hashable, float]] | None = None
    """The group a row belongs to, and the value that must rise from row to row within it."""


def _columns(names: str) -> tuple[str, ...]:
    return ("rule_id", *names.split(), "basis", "source_id", "locator", "note")


BOARD_TIME = RuleTable(
    "board_time.csv",
    _columns("state body_mm min_days plan_days"),
    cells.read_board_time,
    lambda row: (row.state, row.body_mm),
    lambda row: (row.state, row.body_mm),
)
HUMIDITY = RuleTable(
    "humidity.csv",
    _columns("body_mm rh_pct rate"),
    cells.read_humidity,
    lambda row: (row.body_mm, row.rh_pct),
    lambda row: (row.body_mm, row.rh_pct),
)
FAMILIES = RuleTable(
    "families.csv",
    _columns(
        "family group order body_per_wingspan body_length_per_wingspan wing_depth_fraction "
        "min_days_at_least plan_days_at_least typical_wingspan_mm shape_basis"
    ),
    cells.read_family,
    lambda row: row.family.casefold(),
)
RELAXING = RuleTable(
    "relaxing.csv",
    _columns(
        "state frozen_days_from frozen_days_below body_mm_from body_mm_below "
        "chamber first_look_hours most_hours"
    ),
    cells.read_relaxing,
    lambda row: (row.state, row.frozen_days_from, row.body_mm_from),
)
FIT = RuleTable(
    "fit.csv",
    _columns("body_mm_from body_mm_below clearance_min_mm clearance_max_mm gap_mm edge_mm"),
    cells.read_fit,
    lambda row: row.body_mm_from,
)
PINS = RuleTable(
    "pins.csv",
    _columns("body_mm_from body_mm_below pin"),
    cells.read_pin,
    lambda row: row.body_mm_from,
)
HANDLING = RuleTable(
    "handling.csv",
    _columns("task body_mm_from body_mm_below minutes"),
    cells.read_handling,
    lambda row: (row.task, row.body_mm_from),
)
RECHECK = RuleTable(
    "recheck.csv",
    _columns("body_mm_from body_mm_below recheck_days"),
    cells.read_recheck,
    lambda row: row.body_mm_from,
)
_NUMBER = _columns("name value unit")
LIMITS = RuleTable("limits.csv", _NUMBER, cells.read_limit, lambda row: row.name)
PLANNING = RuleTable("planning.csv", _NUMBER, cells.read_planning, lambda row: row.name)
GENERA = RuleTable(
    "genera.csv",
    ("name", "rank", "family", "order", "source_id", "note"),
    cells.read_name,
    lambda row: plain(row.name),
)
SOURCES = RuleTable(
    "sources.csv",
    ("source_id", "author", "year", "title", "publisher", "seen", "address", "note"),
    cells.read_source,
    lambda row: row.source_id,
)
_TABLES: tuple[RuleTable[Any], ...] = (
    BOARD_TIME,
    HUMIDITY,
    FAMILIES,
    RELAXING,
    FIT,
    PINS,
    HANDLING,
    PLANNING,
    RECHECK,
    LIMITS,
    GENERA,
    SOURCES,
)
RULE_FILES: tuple[str, ...] = tuple(table.file for table in _TABLES)


class RuleTables(NamedTuple):
    """All rows in force, those of each table in the order in which they are searched."""

    board_time: tuple[BoardTimeRow, ...]
    humidity: tuple[HumidityRow, ...]
    families: tuple[FamilyRow, ...]
    relaxing: tuple[RelaxingRow, ...]
    fit: tuple[FitRow, ...]
    pins: tuple[PinRow, ...]
    handling: tuple[HandlingRow, ...]
    recheck: tuple[RecheckRow, ...]
    limits: tuple[LimitRow, ...]
    planning: tuple[LimitRow, ...]
    sources: tuple[SourceRow, ...]

    def rules(self) -> Iterable[Rule]:
        """Yield the rule of every row but the sources."""
        tables: tuple[Sequence[Any], ...] = self[: self._fields.index("sources")]
        yield from (row.rule for table in tables for row in table)


def read_names(folder: Path, own: Path | None = None) -> tuple[list[NameRow], list[Problem]]:
    """Read the names of genera.csv, and those of `own` that replace or join them.

    They are read apart because they are many, and needed only where no family is named.
    """
    problems: list[Problem] = []
    return _rows(GENERA, folder, own, problems), problems


def _rows(table: RuleTable[R], folder: Path, own: Path | None, problems: list[Problem]) -> list[R]:
    """Read a table of `folder`, with the rows of `own` in their place; note what is wrong."""
    shipped = _read_file(table, folder / table.file, table.file, problems)
    if own is None or not (own / table.file).exists():
        return shipped
    mine = _read_file(table, own / table.file, f"{own.name}/{table.file}", problems)
    return _replaced(table, shipped, mine)


def read_tables(folder: Path, own: Path | None = None) -> tuple[RuleTables, list[Problem]]:
    """Read every table of `folder`, and the rows of `own` that replace or join them.

    The tables hold only the lines without faults; the problems name all the others.
    """
    problems: list[Problem] = []
    if own is not None:
        problems += _strangers(own)

    def rows(table: RuleTable[R]) -> list[R]:
        return _rows(table, folder, own, problems)

    tables = RuleTables(
        tuple(sorted(rows(BOARD_TIME), key=lambda r: (r.state, r.body_mm))),
        tuple(sorted(rows(HUMIDITY), key=lambda r: (r.body_mm, r.rh_pct))),
        tuple(rows(FAMILIES)),
        tuple(rows(RELAXING)),
        tuple(sorted(rows(FIT), key=lambda r: r.body_mm_from)),
        tuple(sorted(rows(PINS), key=lambda r: r.body_mm_from)),
        tuple(sorted(rows(HANDLING), key=lambda r: (r.task, r.body_mm_from))),
        tuple(sorted(rows(RECHECK), key=lambda r: r.body_mm_from)),
        tuple(rows(LIMITS)),
        tuple(rows(PLANNING)),
        tuple(rows(SOURCES)),
    )
    return tables, problems


def _strangers(own: Path) -> list[Problem]:
    if not own.is_dir():
        remedy = "Name the folder that holds your own rule tables."
        return [Problem(str(own), None, None, None, "is not a folder", remedy)]
    remedy = f"Use the name of a shipped table: {', '.join(RULE_FILES)}."
    found = sorted(path.name for path in own.glob("*.csv") if path.name not in RULE_FILES)
    if not found and not any((own / file).exists() for file in RULE_FILES):
        return [Problem(str(own), None, None, None, "holds no rule table", remedy)]
    return [
        Problem(f"{own.name}/{name}", None, None, None, "is not a rule table", remedy)
        for name in found
    ]


def _replaced(table: RuleTable[R], shipped: list[R], mine: list[R]) -> list[R]:
    ids, keys = {_ident(row) for row in mine}, {table.key(row) for row in mine}
    kept = [row for row in shipped if _ident(row) not in ids and table.key(row) not in keys]
    return kept + mine


def _ident(row: Any) -> str:
    if isinstance(row, SourceRow):
        return row.source_id
    return row.name if isinstance(row, NameRow) else str(row.rule.rule_id)


def _read_file(table: RuleTable[R], path: Path, shown: str, problems: list[Problem]) -> list[R]:
    """Read one file; lines with faults are noted and left out."""

    def whole(reason: str, remedy: str, column: str | None = None, row: int | None = None) -> None:
        problems.append(Problem(shown, row, column, None, reason, remedy))

    try:
        lines = _lines(table, path, shown != table.file)
    except FileNotFoundError:
        whole("is missing", "Put the table back, from the shipped ones.")
        return []
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        whole(f"cannot be read: {error}", "Save it as CSV in UTF-8, separated by commas.")
        return []
    header = [name.strip() for name in lines[0]] if lines else []
    for column in (name for name in table.columns if name not in header):
        whole(
            "the column is missing", "Save as CSV separated by commas, first row kept.", column, 1
        )
    for column in sorted({n for n in header if n not in table.columns or header.count(n) > 1}):
        whole("the column is unknown or doubled", "Remove or rename it.", column or "(empty)", 1)
    if sorted(header) != sorted(table.columns):
        return []
    return _read_lines(table, shown, header, lines, problems)


def _lines(table: RuleTable[R], path: Path, own: bool) -> list[list[str]]:
    if own:  # any spreadsheet may have written it, so its separator and encoding are found out
        from scheduler.table import TableFault, read_grids

        try:
            return read_grids(path, lambda line: len(set(table.columns) & set(line)))[0].lines
        except TableFault as error:
            raise csv.Error(str(error)) from None
    text = path.read_bytes().decode().removeprefix("\ufeff")
    return list(csv.reader(StringIO(text, newline=""), strict=True))


def _read_lines(
    table: RuleTable[R],
    shown: str,
    header: Sequence[str],
    lines: Sequence[Sequence[str]],
    problems: list[Problem],
) -> list[R]:
    rows: list[R] = []
    seen: dict[Hashable, int] = {}
    last: dict[Hashable, float] = {}
    cells = Cells(shown, problems)
    for line, texts in enumerate((list(map(str.strip, t)) for t in lines[1:]), start=2):
        if not any(texts):
            continue
        if len(texts) != len(header):
            reason = f"has {len(texts)} cells, the header {len(header)}"
            remedy = 'Put a text that holds a comma in "quotes".'
            problems.append(Problem(shown, line, None, None, reason, remedy))
            continue
        before = len(problems)
        cells.turn_to(line, dict(zip(header, texts, strict=True)))
        row = table.read(cells)
        if len(problems) == before:
            _check_place(table, cells, row, seen, last)
            rows.append(row)
    return rows


def _check_place(
    table: RuleTable[R],
    cells: Cells,
    row: R,
    seen: dict[Hashable, int],
    last: dict[Hashable, float],
) -> None:
    """Note a row that is there twice or out of order."""
    name = table.columns[0]
    remedy = "Keep one of the two rows."
    twin = seen.setdefault(("id", _ident(row)), cells.line)
    if twin != cells.line:
        cells.fault(name, f"row {twin} has the same {name}", remedy)
    same = seen.setdefault(("key", table.key(row)), cells.line)
    if same not in (cells.line, twin):
        cells.fault(name, f"row {same} is about the same thing", remedy)
    if table.rising is not None and same == cells.line:
        group, value = table.rising(row)
        if value < last.get(group, -math.inf):
            reason = f"{value:g} comes after {last[group]:g}: anchors out of order"
            cells.fault(name, reason, "Sort the rows of one kind, smallest first.")
        last[group] = value
