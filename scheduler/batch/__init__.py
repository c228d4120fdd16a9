"""A folder of tables -> records and problems.

Everything that is wrong in any of the files is reported at once; a batch with problems is
not meant to be loaded. Ids are blind to case and keep the record's spelling.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from scheduler.batch.columns import (
    BOARDS,
    MOUNTED,
    ROOMS,
    SESSIONS,
    SETTINGS_FILE,
    SPECIMENS,
    TABLES,
)
from scheduler.batch.findings import Findings
from scheduler.batch.folder import files_in
from scheduler.batch.ids import Ids, Known
from scheduler.batch.mounted import Mounted, check_mounted, read_mounted
from scheduler.batch.places import read_boards, read_rooms, read_sessions
from scheduler.batch.settings import read_settings
from scheduler.batch.sheets import Sheet, read_sheet
from scheduler.batch.specimens import read_specimens
from scheduler.problems import Problem
from scheduler.records import Board, Room, Session, Settings, Specimen
from scheduler.rulebook import Rulebook

__all__ = ["Batch", "Known", "Mounted", "read_batch"]


@dataclass(frozen=True, slots=True)
class Batch:
    """What a folder says. `stays` maps a board to the room it stands in.

    `settings` is None without a settings.toml; `given` names the settings it really holds,
    so that those left out need not replace the record's, and `given_cells` the filled columns
    of every room, board, specimen and session by id. `now` is for demonstrations alone.
    `notes` are for a person to read: columns, keys, files and families that are unknown,
    moments taken one of two ways.
    """

    rooms: tuple[Room, ...]
    boards: tuple[Board, ...]
    stays: Mapping[str, str]
    specimens: tuple[Specimen, ...]
    sessions: tuple[Session, ...]
    mounted: tuple[Mounted, ...]
    settings: Settings | None
    given: frozenset[str]
    given_cells: Mapping[str, frozenset[str]]
    now: datetime | None
    notes: tuple[str, ...]


def read_batch(
    folder: Path, *, known: Known, rules: Rulebook, now: datetime | None = None
) -> tuple[Batch, list[Problem]]:
    """Read every file of a batch.

    `known` is what the record holds already: references may point to it, and no other kind
    of thing may take its ids. Nothing may have been mounted after `now`, when it is given;
    the `now` in settings.toml is not used for that. Returns the batch and all problems by
    file, row and column; with any problem, the batch is what could be read in spite of them.
    """
    findings = Findings()
    paths = files_in(folder, findings)
    given = read_settings(paths.get(SETTINGS_FILE), known.timezone, findings)
    sheets = {
        table.file: read_sheet(paths[table.file], table, findings)
        if table.file in paths
        else Sheet(table)
        for table in TABLES
    }
    ids = Ids(known)
    for sheet in sheets.values():
        ids.enter(sheet, findings)
    rooms = read_rooms(sheets[ROOMS.file], ids, rules, findings)
    boards, stays = read_boards(sheets[BOARDS.file], ids, findings)
    specimens = read_specimens(sheets[SPECIMENS.file], ids, rules, findings)
    sessions = read_sessions(sheets[SESSIONS.file], ids, given.zone, findings)
    mounted = read_mounted(sheets[MOUNTED.file], ids, given.zone, findings)
    lengths = {**known.lengths, **{board.board: board.length_mm for board in boards}}
    by_id = {specimen.specimen: specimen for specimen in specimens}
    check_mounted(mounted, lengths, by_id, now, findings)
    batch = Batch(
        rooms=rooms,
        boards=boards,
        stays=stays,
        specimens=specimens,
        sessions=sessions,
        mounted=tuple(stay for _, stay in mounted),
        settings=given.settings,
        given=given.given,
        given_cells=ids.given_cells,
        now=given.now,
        notes=tuple(findings.notes),
    )
    return batch, findings.problems
