"""Where the tables of a batch are: a folder of files and workbooks, or one of them alone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from scheduler.intake.batch.columns import FILES, OURS, SETTINGS_FILE, TABLES, Table, title_key
from scheduler.intake.batch.findings import Findings, did_you_mean
from scheduler.intake.batch.grids import (
    Grid,
    SheetFault,
    decode,
    sheet_names,
    text_grid,
    workbook_grid,
)

TEXT_KINDS = (".csv", ".tsv", ".txt")
WORKBOOK = ".xlsx"
READINGS = "readings-"
"""The files of loggers are called after their rooms: readings-attic.csv."""

_OTHER_WORKBOOKS = (".xls", ".xlsm", ".xlsb", ".ods", ".fods", ".numbers")

_BY_NAME = {table.name: table for table in TABLES}
_SHEETS_ARE = f"Name its sheets as the tables: {', '.join(_BY_NAME)}"


class Source(NamedTuple):
    """Where one table is; `sheet` is None for a text. `called` is for people."""

    path: Path
    sheet: str | None
    called: str

    def grid(self, table: Table) -> Grid:
        """Return the table's cells; raises SheetFault when they cannot be read."""
        if self.sheet is not None:
            return workbook_grid(self.path, self.sheet)
        return text_grid(decode(self.path), table.keys)


def sources_in(place: Path, findings: Findings) -> dict[str, Source]:
    """Return where each table of the batch is, by its usual file name.

    Names of files and sheets are blind to case. `place` may be one file: a text whose name
    is that of no table is told by its columns.
    """
    if place.is_file():
        found = _once_each(_alone(place, findings), findings)
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
    """Return the loggers' files in a folder by the room that they are named after."""
    paths = sorted(place.iterdir()) if place.is_dir() else []
    return {path.stem[len(READINGS) :].strip(): path for path in paths if _is_readings(path)}


def _is_readings(path: Path) -> bool:
    kinds = (*TEXT_KINDS, WORKBOOK)
    return path.stem.casefold().startswith(READINGS) and path.suffix.casefold() in kinds


def _once_each(pairs: Iterable[tuple[str, Source]], findings: Findings) -> dict[str, Source]:
    found: dict[str, Source] = {}
    for file, source in pairs:
        if file in found:
            reason = f"holds the same table as {found[file].called}"
            findings.problem(source.called, None, None, None, reason, "Keep one of the two")
        else:
            found[file] = source
    return found


def _all_in(folder: Path, findings: Findings) -> Iterator[tuple[str, Source]]:
    have: set[str] = set()
    strange: list[Path] = []
    for path in sorted(folder.iterdir()):
        # ~$specimens.xlsx is there while a spreadsheet program has the workbook open.
        if path.name.startswith((".", "~$")) or _is_readings(path):
            continue
        sources = list(_sources_of(path, findings))
        if not sources and path.suffix.casefold() != WORKBOOK:
            strange.append(path)
        have.update(file for file, _ in sources)
        yield from sources
    for path in strange:
        _say_strange(path, [file for file in FILES if file not in have], findings)


def _sources_of(path: Path, findings: Findings) -> Iterator[tuple[str, Source]]:
    stem, kind = path.stem.casefold(), path.suffix.casefold()
    if kind == WORKBOOK:
        yield from _sheets_of(path, findings)
    elif path.name.casefold() == SETTINGS_FILE:
        yield SETTINGS_FILE, Source(path, None, path.name.casefold())
    elif kind in TEXT_KINDS and stem in _BY_NAME:
        usual = _BY_NAME[stem].file
        yield usual, Source(path, None, usual if kind == ".csv" else path.name)


def _sheets_of(path: Path, findings: Findings) -> Iterator[tuple[str, Source]]:
    try:
        names = sheet_names(path)
    except SheetFault as fault:
        findings.problem(path.name, None, None, None, fault.reason, fault.remedy)
        return
    tables = {name: _BY_NAME.get(name.strip().casefold()) for name in names}
    if not any(tables.values()) and path.stem.casefold() in _BY_NAME and len(names) == 1:
        yield _BY_NAME[path.stem.casefold()].file, Source(path, names[0], path.name)
        return
    if not any(tables.values()):
        said = ", ".join(f'"{name}"' for name in names)
        if path.stem.casefold() in _BY_NAME:
            reason = f"has no sheet with the name of a table, only {said}"
            findings.problem(path.name, None, None, None, reason, _SHEETS_ARE)
        else:
            findings.note(f"{path.name}: no sheet has the name of a table ({said}); not read")
        return
    for name, table in tables.items():
        if table is not None:
            yield table.file, Source(path, name, f"{path.name}, sheet {name.strip()}")
        else:
            guess = did_you_mean(name, _BY_NAME)
            findings.note(f'{path.name}: sheet "{name}" is not a table, and not read{guess}')


def _say_strange(path: Path, free: list[str], findings: Findings) -> None:
    if path.suffix.casefold() in _OTHER_WORKBOOKS and path.stem.casefold() in _BY_NAME:
        reason = "is a kind of workbook that is not read"
        remedy = "Save it as .xlsx, or as CSV UTF-8"
        findings.problem(path.name, None, None, None, reason, remedy)
    else:
        guess = did_you_mean(path.name, free)
        findings.note(f"{path.name}: not a file of a batch, and not read{guess}")


def _alone(path: Path, findings: Findings) -> Iterator[tuple[str, Source]]:
    sources = list(_sources_of(path, findings))
    yield from sources
    if sources or findings.found:
        return
    table = _table_by_columns(path, findings) if path.suffix.casefold() in TEXT_KINDS else None
    if table is not None:
        findings.note(f"{path.name}: read as {table.name}, by its columns")
        yield table.file, Source(path, None, path.name)
    elif not findings.found:
        reason = "is not a table of a batch"
        remedy = f"Name it as one: {', '.join(FILES)}; or the sheets of a workbook"
        findings.problem(path.name, None, None, None, reason, remedy)


def _table_by_columns(path: Path, findings: Findings) -> Table | None:
    """Return the one table all of whose required columns the file has; the fullest of them."""
    every = frozenset[str]().union(*(table.keys for table in TABLES))
    try:
        lines = text_grid(decode(path), every).lines
    except SheetFault as fault:
        findings.problem(path.name, fault.row, None, None, fault.reason, fault.remedy)
        return None
    titles = {title_key(cell) for cell in next(filter(any, lines), [])} - set(OURS)
    needs = {t: {c.key for c in t.columns if c.required} for t in TABLES}
    fitting = sorted((len(keys), t.file) for t, keys in needs.items() if keys <= titles)
    if not fitting or (len(fitting) > 1 and fitting[-1][0] == fitting[-2][0]):
        return None
    return next(table for table in TABLES if table.file == fitting[-1][1])
