"""Where the header of a table is, and what its titles mean."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from scheduler.intake.batch.columns import READ_WITHOUT, SPECIMENS, Table, title_key
from scheduler.intake.batch.findings import Findings, closest, did_you_mean
from scheduler.intake.batch.measure import unit_times
from scheduler.intake.batch.titles import EXPLAINED, NOTE, Meaning, meanings, rated
from scheduler.intake.batch.untitled import COLUMN_OPTIONS, first_untitled, untitled_columns
from scheduler.table import Grid, TableFault

HEADER_AMONG = 40
"""A header is looked for among so many filled lines."""

LEAST_RATE = 3.0
"""The rate of two titles. If no line has it, the first filled line is the header."""


class Header(NamedTuple):
    """The titles, as many cells as the table is wide; `width` is that of the file's own line.

    A list without titles has numbered ones, and `shown` has names for them in a file of ours.
    `below` is the first line of the body, `where` the place of each column, `notes` the places of
    cells that are kept as notes.
    """

    titles: tuple[str, ...]
    columns: tuple[Meaning, ...]
    where: Mapping[str, int]
    notes: tuple[int, ...]
    width: int
    below: int
    shown: tuple[str, ...]


def read_header(
    grid: Grid,
    table: Table,
    told: Mapping[str, str],
    findings: Findings,
    in_order: Sequence[str] = (),
) -> Header:
    """Find the header; report what is above it, missing or doubled; ask when there is none.

    `in_order` is what somebody says now of columns without titles. Raises TableFault for an empty
    table.
    """
    filled = [at for at, line in enumerate(grid.lines) if any(line)]
    if not filled:
        raise TableFault(None, "is empty", "Write the column names into row 1, or delete it")
    at, rate = _header_line(grid, filled, table, told)
    begin = first_untitled(grid.lines, table) if rate < LEAST_RATE else None
    if begin is not None:
        return _without_titles(grid, begin, table, told, in_order, findings)
    line = grid.lines[at]
    width = max(map(len, grid.lines[at:]))
    titles = (*line, *[""] * (width - len(line)))
    columns = meanings(titles, table, told)
    _say_above([grid.lines[n] for n in filled if n < at], columns, table, findings)
    where = _places(columns, at + 1, table, findings)
    notes = tuple(place for place, meaning in enumerate(columns) if meaning.column == NOTE)
    _say_missing(columns, where, at + 1, table, findings)
    units = _is_unit_line(grid, at + 1)
    if units:
        findings.note(f"row {at + 2} names units, not read", table.file)
    return Header(titles, columns, where, notes, len(line), at + 1 + units, titles)


def _without_titles(
    grid: Grid,
    begin: int,
    table: Table,
    told: Mapping[str, str],
    in_order: Sequence[str],
    findings: Findings,
) -> Header:
    columns = untitled_columns(grid.lines[begin:], told, in_order, findings)
    _say_above([line for line in grid.lines[:begin] if any(line)], columns, table, findings)
    where = _places(columns, None, table, findings)
    notes = tuple(place for place, meaning in enumerate(columns) if meaning.column == NOTE)
    titles = tuple(meaning.title for meaning in columns)
    shown = tuple(m.column if m.column in where else m.title for m in columns)
    width = len(grid.lines[begin])
    return Header(titles, columns, where, notes, width, begin, tuple(map(str, shown)))


def _say_above(
    above: Sequence[Sequence[str]], columns: Sequence[Meaning], table: Table, findings: Findings
) -> None:
    """Note that lines above the header are not read; ask if they might be rows of the table."""
    if not above:
        return
    known = sum(meaning.how in ("named", "told", "understood") for meaning in columns)
    text = f"above the header, not read: {' '.join(cell for cell in above[0] if cell)[:60]}"
    if all(2 * sum(map(bool, line)) <= known for line in above):
        findings.note(text, table.file)
    else:
        findings.ask(table.file, "title rows", text)


def _header_line(
    grid: Grid, filled: Sequence[int], table: Table, told: Mapping[str, str]
) -> tuple[int, float]:
    """Return the line that is most like a header, and its rate."""
    rates = {at: rated(grid.lines[at], table, told) for at in filled[:HEADER_AMONG]}
    best = max(rates, key=lambda at: (rates[at], -at))
    better = rates[best] >= LEAST_RATE and rates[best] > rates[filled[0]]
    at = best if better else filled[0]
    return at, rates[at]


def _is_unit_line(grid: Grid, at: int) -> bool:
    cells = [cell.strip("()[]") for cell in grid.lines[at] if cell] if at < len(grid.lines) else []
    units = ("mm", "%", "min", "°C", "m", "degrees")
    return bool(cells) and all(any(unit_times(c, u) for u in units) for c in cells)


def _places(
    columns: Sequence[Meaning], row: int | None, table: Table, findings: Findings
) -> dict[str, int]:
    """Return the place of every known column; report those that occur twice."""
    where: dict[str, int] = {}
    for place, meaning in enumerate(columns):
        name = meaning.column
        if name in (None, NOTE):
            continue
        if name in where:
            remedy = "Keep one of the two columns"
            reason = "stands twice in the header" if row else "is said of two columns"
            findings.problem(table.file, row, name, meaning.title, reason, remedy)
        elif name is not None:
            where[name] = place
    return where


def say_meanings(
    columns: Sequence[Meaning], table: Table, findings: Findings, *, shown: frozenset[str]
) -> None:
    """Note what titles were taken for, and ask where that is a guess; not of columns in `shown`."""
    free = {c.name for c in table.columns} - {meaning.column for meaning in columns}
    understood: list[str] = []
    for meaning in columns:
        title = f'"{_short(meaning.title)}"'
        if meaning.how == "guessed" and meaning.column not in shown:
            turned = f", numbers times {meaning.times:g}" if meaning.times != 1 else ""
            means = EXPLAINED.get(meaning.column or "")
            said = f"is {meaning.column}{f' ({means})' if means else ''}{turned}"
            findings.ask(table.file, f"column {title}", said, COLUMN_OPTIONS, meaning.column)
        elif meaning.how in ("understood", "guessed") and meaning.column != NOTE:
            understood.append(f"{title} is {meaning.column}")
        elif meaning.how == "note" and meaning.column == NOTE:
            guess = did_you_mean(meaning.title, free)
            said = f"is kept as a note{guess}"
            findings.ask(table.file, f"column {title}", said, COLUMN_OPTIONS, NOTE)
        elif meaning.how == "note" and title_key(meaning.title) not in READ_WITHOUT:
            guess = did_you_mean(meaning.title, free)
            findings.note(f"column {title} is unknown and not read{guess}", table.file)
    if understood:
        findings.note(f"{'; '.join(understood)}", table.file)


def _say_missing(
    columns: Sequence[Meaning],
    where: Mapping[str, int],
    row: int,
    table: Table,
    findings: Findings,
) -> None:
    unknown = [m.title for m in columns if m.how == "note"]
    own = table.key if table is SPECIMENS else None  # rows without an id are given one
    for name in (
        c.name for c in table.columns if c.required and c.name not in where and c.name != own
    ):
        near = closest(name, unknown)
        remedy = f'Rename the column "{near}"' if near else f'Add a column "{name}"'
        findings.problem(table.file, row, name, near, "this column is missing", remedy)


def _short(title: str) -> str:
    return title if len(title) <= 60 else title[:59] + "…"
