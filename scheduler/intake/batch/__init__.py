"""From a folder of tables to records and problems.

Everything that is wrong in any of the files is reported at once; a batch with problems should not
be loaded. Ids are the same whatever their case, and keep the record's spelling.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from scheduler.intake.asking import Question
from scheduler.intake.batch.aids import Aids
from scheduler.intake.batch.columns import (
    BOARDS,
    MOUNTED,
    ROOMS,
    SESSIONS,
    SETTINGS_FILE,
    SPECIMENS,
    TABLES,
)
from scheduler.intake.batch.findings import Findings, Found, by_place, did_you_mean
from scheduler.intake.batch.folder import sources_in
from scheduler.intake.batch.ids import Ids, Known
from scheduler.intake.batch.left_out import BadRow
from scheduler.intake.batch.logged import Logged, LoggerClock, by_room, read_logged
from scheduler.intake.batch.manner import Told
from scheduler.intake.batch.mapping import Mapped, column_said, read_mapping
from scheduler.intake.batch.mounted import check_mounted, read_mounted
from scheduler.intake.batch.places import (
    read_boards,
    read_rooms,
    read_sessions,
    regimes_in,
)
from scheduler.intake.batch.recorded import Mounted
from scheduler.intake.batch.rows import Row
from scheduler.intake.batch.seen import TableSeen
from scheduler.intake.batch.settings import GivenSettings, read_settings
from scheduler.intake.batch.sheets import Sheet, read_sheet
from scheduler.intake.batch.specimens import read_specimens
from scheduler.rulebook import Rulebook
from scheduler.words.problems import Problem
from scheduler.words.records import Board, Room, Session, Settings, Specimen
from scheduler.words.repeats import Repeat

if TYPE_CHECKING:
    from scheduler.intake.readings import Readings
    from scheduler.intake.readings.preview import Preview

__all__ = ["BadRow", "Batch", "Known", "Mounted", "Told", "read_batch", "read_good_rows"]


@dataclass(frozen=True, slots=True)
class Batch:
    """What a folder says. `stays` maps a board to the room in which it stands.

    `repeats` are the sessions that repeat; `readings` is what loggers wrote, by room. `settings` is
    None without a settings.toml. `given` names the settings that the file really holds, so that the
    others need not replace the record's; `given_cells` names the filled columns of every room,
    board, specimen and session, by id. `mounted` lacks what is recorded already. `now` is for
    demonstrations only. `notes` are for a person to read: unknown columns, keys, files and
    families, moments that occur twice, how a table was read.
    """

    rooms: tuple[Room, ...]
    boards: tuple[Board, ...]
    stays: Mapping[str, str]
    specimens: tuple[Specimen, ...]
    sessions: tuple[Session, ...]
    mounted: tuple[Mounted, ...]
    repeats: tuple[Repeat, ...]
    readings: Mapping[str, Readings]
    settings: Settings | None
    given: frozenset[str]
    given_cells: Mapping[str, frozenset[str]]
    now: datetime | None
    notes: tuple[str, ...]
    seen: tuple[TableSeen, ...] = ()
    questions: tuple[Question, ...] = ()
    mapped: Mapped = field(default_factory=Mapped)
    loggers: tuple[Preview, ...] = ()


Key = tuple[str, int]
_OF_COLUMN = re.compile(r"(?:[^:]*:)?column (.+)")
"""The key of a question about one title."""


def read_batch(
    folder: Path,
    *,
    known: Known,
    rules: Rulebook,
    now: datetime | None = None,
    told: Told | None = None,
) -> tuple[Batch, list[Problem]]:
    """Read every table of a batch: a folder, or one file of it.

    `known` is what the record holds already: references may point to it, and nothing of another
    kind may take its ids. When `now` is given, nothing may have been mounted after it; the `now` in
    settings.toml is not used for that. `told` is what a person said that the tables do not show.
    Returns the batch, and all problems by file, row and column; with any problem, the batch holds
    what could be read in spite of it.
    """
    tables = _read_tables(folder, known, told or Told(), now)
    findings = tables.findings.copy()
    return _judged(tables, {}, known, rules, now, findings), findings.problems


def read_good_rows(
    folder: Path,
    *,
    known: Known,
    rules: Rulebook,
    now: datetime | None = None,
    told: Told | None = None,
) -> tuple[Batch, list[Problem], tuple[BadRow, ...]]:
    """Read a batch without its bad rows and without the rows that depend on them.

    When two rows contradict each other, both are bad. Returns the batch of the good rows, the
    problems that belong to no single row (with any, nothing should be loaded), and the bad rows.
    """
    tables = _read_tables(folder, known, told or Told(), now)
    rows = {(file, row.number) for file, sheet in tables.sheets.items() for row in sheet.rows}
    bad: dict[Key, list[Found]] = {}
    while True:
        findings = tables.findings.copy()
        batch = _judged(tables, bad, known, rules, now, findings)
        newly: dict[Key, list[Found]] = {}
        for found in (*findings.found, *findings.beside):
            key = found.file, found.problem.row or 0
            if key in rows and key not in bad:
                newly.setdefault(key, []).append(found)
        if not newly:
            break
        bad |= newly
    whole = [f for f in by_place(findings.found) if (f.file, f.problem.row or 0) not in rows]
    left_out = tuple(
        BadRow(sheet, row, tuple(f.problem for f in by_place(bad[file, row.number])))
        for file, sheet in tables.sheets.items()
        for row in sheet.rows
        if (file, row.number) in bad
    )
    return batch, [found.problem for found in whole], left_out


@dataclass(frozen=True, slots=True)
class _Tables:
    """Everything that was read, before any of it is judged together."""

    given: GivenSettings
    sheets: Mapping[str, Sheet]
    logged: tuple[Logged, ...]
    mapped: Mapped
    findings: Findings


def _read_tables(folder: Path, known: Known, told: Told, now: datetime | None) -> _Tables:
    findings = Findings()
    mapped = read_mapping(folder, findings)
    told = replace(told, kept=mapped.said)
    mapped = _told_titles(mapped, told, findings)
    sources = sources_in(folder, mapped, findings)
    settings = sources.get(SETTINGS_FILE)
    given = read_settings(settings.path if settings else None, known.timezone, findings)
    taken = frozenset().union(*known.by_kind().values())
    aids = Aids(told, mapped, now.year if now else None, taken, known.specimens)
    sheets = {
        table.file: read_sheet(sources[table.file], table, aids, findings)
        if table.file in sources
        else Sheet(table)
        for table in TABLES
    }
    regimes = {**known.regimes, **regimes_in(sheets[ROOMS.file])}
    clock = LoggerClock(given.zone, now or given.now)
    manner = {"dates": told.dates, "decimal": told.decimal}
    answers = {**{key: said for key, said in manner.items() if said}, **told.answers}
    logged = read_logged(folder, clock, regimes, answers, findings)
    return _Tables(given, sheets, logged, mapped, findings)


def _told_titles(mapped: Mapped, told: Told, findings: Findings) -> Mapped:
    """Return the mapping with what is said of titles now; all of them belong to specimens."""
    said = {}
    answers = {_title(found[1]): text for key, text in told.answers.items()
               if (found := _OF_COLUMN.fullmatch(key))}  # fmt: skip
    for title, text in {**answers, **told.columns}.items():
        column = column_said(text, SPECIMENS)
        if column is None:
            guess = did_you_mean(text, [c.name for c in SPECIMENS.columns])
            reason = f"is not a column of specimens{guess.rstrip('?')}"
            remedy = "Name one, or note to keep the cells as a note, or - to leave them out"
            findings.problem("--column", None, title, text, reason, remedy)
        else:
            said[title] = column
    return mapped.with_titles(SPECIMENS, said) if said else mapped


def _title(named: str) -> str:
    """Return the title that a question names: in quotes, or as the number of a column."""
    quoted = len(named) > 1 and named[0] == named[-1] == '"'
    return named[1:-1] if quoted else f"column {named}"


def _good_sheets(
    tables: _Tables, bad: Mapping[Key, object], ids: Ids, findings: Findings
) -> dict[str, Sheet]:
    """Return the sheets without their bad rows; enter the ids of the good ones only."""
    good: dict[str, list[Row]] = {file: [] for file in tables.sheets}
    for file, sheet in tables.sheets.items():
        for row in sheet.rows:
            if (file, row.number) in bad:
                ids.leave_out(sheet.table, row)
            else:
                good[file].append(row)
    sheets = {f: replace(sheet, rows=tuple(good[f])) for f, sheet in tables.sheets.items()}
    for sheet in sheets.values():
        ids.enter(sheet, findings)
    return sheets


def _latest_day(now: datetime | None, given: GivenSettings) -> date | None:
    """Return today's date: of `now` or of the batch's own `now`, whichever is later."""
    latest = max((at for at in (now, given.now) if at is not None), default=None)
    return latest.astimezone(given.zone).date() if latest else None


def _judged(
    tables: _Tables,
    bad: Mapping[Key, object],
    known: Known,
    rules: Rulebook,
    now: datetime | None,
    findings: Findings,
) -> Batch:
    """Return what all rows say together, without the bad ones."""
    given, ids = tables.given, Ids(known)
    sheets = _good_sheets(tables, bad, ids, findings)
    rooms = read_rooms(sheets[ROOMS.file], ids, rules, findings)
    boards, stays = read_boards(sheets[BOARDS.file], ids, known.placements, findings)
    today = _latest_day(now, given)
    specimens = read_specimens(sheets[SPECIMENS.file], ids, rules, findings, today)
    sessions = read_sessions(sheets[SESSIONS.file], ids, given.zone, findings)
    mounted = read_mounted(sheets[MOUNTED.file], ids, given.zone, findings)
    lengths = {**known.lengths, **{board.board: board.length_mm for board in boards}}
    by_id = {s.specimen: s for s in specimens}
    new = check_mounted(mounted, lengths, by_id, known.placements, now, findings)
    return Batch(
        rooms=rooms,
        boards=boards,
        stays=stays,
        specimens=specimens,
        sessions=sessions,
        mounted=new,
        repeats=given.repeats,
        readings=by_room(tables.logged, {*known.rooms, *(r.room for r in rooms)}, findings),
        settings=given.settings,
        given=given.given,
        given_cells=ids.given_cells,
        now=given.now,
        notes=tuple(findings.notes),
        seen=tuple(s.seen for s in sheets.values() if s.seen is not None),
        questions=tuple(q for q in findings.questions if not tables.mapped.agreed_to(q)),
        mapped=tables.mapped,
        loggers=tuple(one.preview for one in tables.logged),
    )
