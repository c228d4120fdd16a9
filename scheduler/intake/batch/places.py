"""From rows of rooms.csv, boards.csv and sessions.csv to rooms, boards and sessions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.intake.batch.columns import BOARDS, ROOMS, SESSIONS
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.ids import Ids
from scheduler.intake.batch.moments import local_moment
from scheduler.intake.batch.recorded import check_lengths
from scheduler.intake.batch.rows import Row
from scheduler.intake.batch.sheets import Sheet
from scheduler.rulebook import Rulebook
from scheduler.words.records import Board, Placement, Regime, Room, Session


def regimes_in(sheet: Sheet) -> dict[str, Regime]:
    """Return the regime of every room that the sheet names: an ordinary room if not said."""
    rows = (row.values for row in sheet.rows if "room" in row.values)
    return {row["room"]: row.get("regime", "room") for row in rows}


def read_rooms(sheet: Sheet, ids: Ids, rules: Rulebook, findings: Findings) -> tuple[Room, ...]:
    """Return the rooms; note those for whose air the rules have no answer."""
    rooms = []
    for row in sheet.rows:
        name = ids.resolve("room", row.values.get("room", ""))
        if name is not None:
            room = Room(**{**row.values, "room": name})
            rooms.append(room)
            if not ids.was_known(name):
                _note_air(room, row, rules, findings)
    return tuple(rooms)


def read_boards(
    sheet: Sheet, ids: Ids, placements: Sequence[Placement], findings: Findings
) -> tuple[tuple[Board, ...], dict[str, str]]:
    """Return the boards, and the room in which each stands.

    A row of count 3 stands for three boards, its id followed by -1, -2 and -3. A board that is new
    to the record needs a room, and none may be shorter than what stands on it.
    """
    boards: list[Board] = []
    rows: dict[str, Row] = {}
    stays: dict[str, str] = {}
    for row in sheet.rows:
        ids.check_reference("room", BOARDS.file, "room", row, findings)
        given = ids.names_of(row, "board") if "board" in row.values else ()
        names = [ids.resolve("board", name) for name in given]
        if "room" not in row.text and not all(n and ids.was_known(n) for n in names):
            remedy = f"Name a room of {ROOMS.file} or of the record"
            findings.problem(BOARDS.file, row.number, "room", None, "is empty", remedy)
        room = ids.resolve("room", row.values.get("room", ""))
        for name in filter(None, names):
            if room is not None:
                stays[name] = room
            if {"groove_mm", "span_mm", "length_mm"} <= row.values.keys():
                boards.append(_board(name, row.values))
                rows[name] = row
    check_lengths(rows, boards, placements, findings)
    return tuple(boards), stays


def read_sessions(
    sheet: Sheet, ids: Ids, zone: ZoneInfo, findings: Findings
) -> tuple[Session, ...]:
    """Return the sessions, with their starts in `zone`."""
    sessions = []
    for row in sheet.rows:
        start = local_moment(row, "start", SESSIONS.file, zone, findings)
        name = ids.resolve("session", row.values.get("session", ""))
        if name is not None and start is not None and "minutes" in row.values:
            minutes, who = row.values["minutes"], row.values.get("who")
            sessions.append(Session(name, start, minutes, who))
    return tuple(sessions)


def _board(name: str, values: dict[str, Any]) -> Board:
    refill = values.get("refill", "any")
    return Board(name, values["groove_mm"], values["span_mm"], values["length_mm"], refill=refill)


def _note_air(room: Room, row: Row, rules: Rulebook, findings: Findings) -> None:
    said = []
    if room.regime == "room" and "rh_pct" not in row.text:
        said.append("has no rh_pct: without readings nobody can say when a board dries")
    if room.regime == "warm":
        least, most = rules.limit("warm_from_c"), rules.limit("warm_below_c")
        if "temp_c" not in row.text:
            said.append(f"is warm but has no temp_c; the rules assume {least:g}-{most:g} °C")
        elif room.temp_c is not None and not least <= room.temp_c <= most:
            said.append(f"is warm at {room.temp_c:g} °C; the rules hold for {least:g}-{most:g}")
    for text in said:
        findings.note(f"{room.room} {text}", ROOMS.file, row.number)
