"""Where the tables of a batch are: in a folder of files and workbooks, or in one such file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from scheduler.intake.batch.columns import FILES, SETTINGS_FILE, SPECIMENS, TABLES, Table
from scheduler.intake.batch.findings import Findings, did_you_mean
from scheduler.intake.batch.header import HEADER_AMONG, LEAST_RATE
from scheduler.intake.batch.mapping import MAPPING_FILE, Mapped
from scheduler.intake.batch.titles import meanings, rated
from scheduler.intake.batch.untitled import first_untitled
from scheduler.table import TEXT_KINDS, WORKBOOK_KINDS, Grid, TableFault, read_grids

READINGS = "readings-"
"""The files of loggers are named after their rooms: readings-attic.csv."""

_OTHER_WORKBOOKS = (".xlsb", ".fods", ".numbers")

_BY_NAME = {table.name: table for table in TABLES}
_SHEETS_ARE = f"Name its sheets as the tables: {', '.join(_BY_NAME)}"


class TableSource(NamedTuple):
    """Where one table is; `sheet` is that of a workbook, None for a file still to be read.

    `called` is its name for people.
    """

    path: Path
    sheet: Grid | None
    called: str

    def grid(self, table: Table, mapped: Mapped) -> Grid:
        """Return the table's cells. Raises TableFault when they cannot be read."""
        if self.sheet is not None:
            return self.sheet
        told = mapped.of(table)
        grids = read_grids(self.path, lambda line: rated(line, table, told))
        named = [g for g in grids if (g.sheet or "").strip().casefold() == table.name]
        if len(grids) > 1 and len(named) != 1:
            reason = "is a workbook of several sheets"
            raise TableFault(None, reason, f'Name the sheet that counts "{table.name}"')
        return named[0] if named else grids[0]


def sources_in(place: Path, mapped: Mapped, findings: Findings) -> dict[str, TableSource]:
    """Return where each table of the batch is, by its usual file name.

    The case of file and sheet names does not matter. `place` may be one file: if it has the name of
    no table, its columns tell which table it is.
    """
    if place.is_file():
        found = _once_each(_alone(place, mapped, findings), findings)
    elif place.is_dir():
        found = _once_each(_all_in(place, findings), findings)
    else:
        remedy = "Name a folder that holds the batch, or one of its files"
        findings.problem(place.name, None, None, None, "is not a folder", remedy)
        return {}
    if not found and not findings.found:
        reason = "holds no file of a batch"
        remedy = f"Put any of these into it: {', '.join(FILES)}, or a workbook with such sheets"
        findings.problem(place.name, None, None, None, reason, remedy)
    findings.called.update({file: source.called for file, source in found.items()})
    return found


def settings_path(folder: Path) -> Path | None:
    """Return the folder's settings.toml, None without one."""
    paths = sorted(folder.iterdir()) if folder.is_dir() else []
    return next((path for path in paths if path.name.casefold() == SETTINGS_FILE), None)


def readings_in(place: Path) -> dict[str, Path]:
    """Return the loggers' files in a folder, by the room after which each is named."""
    paths = sorted(place.iterdir()) if place.is_dir() else []
    return {path.stem[len(READINGS) :].strip(): path for path in paths if _is_readings(path)}


def _is_readings(path: Path) -> bool:
    kinds = (*TEXT_KINDS, *WORKBOOK_KINDS)
    return path.stem.casefold().startswith(READINGS) and path.suffix.casefold() in kinds


def _once_each(
    pairs: Iterable[tuple[str, TableSource]], findings: Findings
) -> dict[str, TableSource]:
    found: dict[str, TableSource] = {}
    for file, source in pairs:
        if file in found:
            reason = f"holds the same table as {found[file].called}"
            findings.problem(source.called, None, None, None, reason, "Keep one of the two")
        else:
            found[file] = source
    return found


def _all_in(folder: Path, findings: Findings) -> Iterator[tuple[str, TableSource]]:
    have: set[str] = set()
    strange: list[Path] = []
    for path in sorted(folder.iterdir()):
        # ~$specimens.xlsx is there while a spreadsheet program has the workbook open.
        if path.name.startswith((".", "~$")) or _is_readings(path):
            continue
        if path.name == MAPPING_FILE:
            continue
        sources = list(_sources_of(path, findings))
        if not sources and path.suffix.casefold() not in WORKBOOK_KINDS:
            strange.append(path)
        have.update(file for file, _ in sources)
        yield from sources
    for path in strange:
        _say_strange(path, [file for file in FILES if file not in have], findings)


def _sources_of(path: Path, findings: Findings) -> Iterator[tuple[str, TableSource]]:
    stem, kind = path.stem.casefold(), path.suffix.casefold()
    if kind in WORKBOOK_KINDS:
        yield from _sheets_of(path, findings)
    elif path.name.casefold() == SETTINGS_FILE:
        yield SETTINGS_FILE, TableSource(path, None, path.name.casefold())
    elif kind in TEXT_KINDS and stem in _BY_NAME:
        usual = _BY_NAME[stem].file
        yield usual, TableSource(path, None, usual if kind == ".csv" else path.name)


def _sheets_of(path: Path, findings: Findings) -> Iterator[tuple[str, TableSource]]:
    try:
        grids = [grid for grid in read_grids(path) if not grid.hidden]
    except TableFault as fault:
        findings.problem(path.name, fault.row, None, None, fault.reason, fault.remedy)
        return
    tables = [_BY_NAME.get((grid.sheet or "").strip().casefold()) for grid in grids]
    own = _BY_NAME.get(path.stem.casefold())
    if not any(tables) and own is not None and len(grids) == 1:
        yield own.file, TableSource(path, grids[0], path.name)
        return
    said = ", ".join(f'"{grid.sheet}"' for grid in grids)
    if not any(tables):
        if own is not None:
            reason = f"has no sheet with the name of a table, only {said}"
            findings.problem(path.name, None, None, None, reason, _SHEETS_ARE)
        else:
            findings.note(f"{path.name}: no sheet has the name of a table ({said}); not read")
        return
    for grid, table in zip(grids, tables, strict=True):
        if table is not None:
            yield (
                table.file,
                TableSource(path, grid, f"{path.name}, sheet {str(grid.sheet).strip()}"),
            )
        else:
            guess = did_you_mean(str(grid.sheet), _BY_NAME)
            findings.note(f'{path.name}: sheet "{grid.sheet}" is not a table, and not read{guess}')


def _say_strange(path: Path, free: list[str], findings: Findings) -> None:
    if path.suffix.casefold() in _OTHER_WORKBOOKS and path.stem.casefold() in _BY_NAME:
        reason = "is a kind of workbook that is not read"
        remedy = "Save it as .xlsx, or as CSV UTF-8"
        findings.problem(path.name, None, None, None, reason, remedy)
    else:
        guess = did_you_mean(path.name, free)
        findings.note(f"{path.name}: not a file of a batch, and not read{guess}")


def _alone(path: Path, mapped: Mapped, findings: Findings) -> Iterator[tuple[str, TableSource]]:
    """Yield the tables of one file: by its names, else by its columns."""
    trial = findings.copy()
    sources = list(_sources_of(path, trial))
    if sources or path.suffix.casefold() not in (*TEXT_KINDS, *WORKBOOK_KINDS):
        findings.become(trial)
        yield from sources
        if not sources and not findings.found:
            reason = "is not a table of a batch"
            remedy = f"Name it as one: {', '.join(FILES)}; or the sheets of a workbook"
            findings.problem(path.name, None, None, None, reason, remedy)
        return
    yield from _by_columns(path, mapped, findings)


def _by_columns(
    path: Path, mapped: Mapped, findings: Findings
) -> Iterator[tuple[str, TableSource]]:
    try:
        grids = read_grids(path, lambda line: max(_rates(line, mapped).values()))
    except TableFault as fault:
        findings.problem(path.name, fault.row, None, None, fault.reason, fault.remedy)
        return
    found = False
    filled = [grid for grid in grids if not grid.hidden and any(map(any, grid.lines))]
    for grid in filled:
        table = _table_of(grid, mapped)
        if table is None and len(filled) == 1 and _may_lack_titles(grid):
            table = SPECIMENS
        called = path.name if grid.sheet is None else f"{path.name}, sheet {grid.sheet}"
        if table is None:
            findings.note(f"{called}: not a table by its columns, and not read")
            continue
        found = True
        findings.note(f"{called}: read as {table.name}, by its columns")
        yield table.file, TableSource(path, grid, called)
    if not found:
        reason = "is not a table of a batch"
        remedy = (
            "Name its columns in the first row: specimen, taxon, wingspan_mm and others; or say"
            " what its titles mean: --column TITLE=COLUMN"
        )
        findings.problem(path.name, None, None, None, reason, remedy)


def _rates(line: Sequence[str], mapped: Mapped) -> dict[Table, float]:
    return {table: rated(line, table, mapped.of(table)) for table in TABLES}


def _table_of(grid: Grid, mapped: Mapped) -> Table | None:
    """Return the table whose header the grid has, with all required columns; None if not sure.

    A list of specimens may lack the column of ids: they will be given.
    """
    best: dict[Table, tuple[int, float]] = {}
    lines = [line for line in grid.lines if any(line)][:HEADER_AMONG]
    for line in lines:
        for table, rate in _rates(line, mapped).items():
            there = {m.column for m in meanings(line, table, mapped.of(table))}
            needs = {c.name for c in table.columns if c.required}
            if rate and needs <= there:
                best[table] = max(best.get(table, (0, 0.0)), (len(needs), rate))
    if best:
        most = max(best.values())
        fitting = [table for table, rate in best.items() if rate == most]
        return fitting[0] if len(fitting) == 1 else None
    most_known = max((_rates(line, mapped)[SPECIMENS] for line in lines), default=0)
    return SPECIMENS if most_known >= LEAST_RATE else None


def _may_lack_titles(grid: Grid) -> bool:
    """Say whether a file's only table begins without titles; its columns are asked for then.

    It needs two lines at least: from a single one nobody can tell.
    """
    several = sum(any(line) for line in grid.lines) > 1
    return several and first_untitled(grid.lines, SPECIMENS) is not None
