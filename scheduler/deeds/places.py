"""Boards and rooms recorded by hand, without a file: measures, and the air that is assumed."""

from __future__ import annotations

from collections.abc import Mapping

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import with_plan_mended
from scheduler.intake.batch.columns import BOARDS, ROOMS, Table
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.ids import Ids, Known
from scheduler.intake.batch.places import read_boards, read_rooms
from scheduler.intake.batch.rows import Row
from scheduler.intake.batch.sheets import Sheet
from scheduler.intake.typed import Words, reader_by_column
from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.rows import Value
from scheduler.record.snapshot import ALWAYS, Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words import names, wording
from scheduler.words.records import Board, Regime, Room

BOARD_OPTIONS: Mapping[str, str] = {
    "groove_mm": "--groove",
    "span_mm": "--span",
    "length_mm": "--length",
    "count": "--count",
    "refill": "--refill",
}
"""The columns of boards.csv that are typed, and the option of each; `room` is --room."""

ROOM_OPTIONS: Mapping[str, str] = {"rh_pct": "--rh", "temp_c": "--temp", "regime": "--regime"}
"""The columns of rooms.csv that are typed, and the option of each."""


def put_boards(
    store: Store, rules: Rulebook, board: str, texts: Mapping[str, str], when: When
) -> Outcome:
    """Record a new board, or several that are alike, or correct a board's measures.

    `texts` holds columns of boards.csv as typed; for a known board only those that change. The kept
    plan is mended. Raises BadInput with everything that is wrong, for example a board that would be
    shorter than what stands on it.
    """
    words = Words(f"board {board}", BOARD_OPTIONS)
    with store.deed(when, "board") as deed:
        snap = store.facts()
        known = names.lookup(board, snap.boards)
        given = dict(texts) if known is None else _measures(known) | dict(texts)
        _check_given(given, known, words)
        sheet, ids, findings = _typed(BOARDS, {"board": board} | given, snap, words)
        boards, stays = read_boards(sheet, ids, snap.placements, findings)
        _raise_if_any(words, findings)
        for one in boards:
            _put_board(deed, snap, one, stays)
        deed.text = _boards_said(boards, stays, new=known is None)
    if deed.line is None:
        return _done(deed)
    done = Outcome((deed.text,))
    return told(deed, lambda: with_plan_mended(done, store, rules, when.now))


def put_room(
    store: Store, rules: Rulebook, room: str, texts: Mapping[str, str], when: When
) -> Outcome:
    """Record a new room and the air assumed there without readings, or change that air.

    `texts` holds columns of rooms.csv as typed; for a known room only those that change. The kept
    plan is mended. Raises BadInput with everything that is wrong.
    """
    words = Words(f"room {room}", ROOM_OPTIONS)
    with store.deed(when, "room") as deed:
        snap = store.facts()
        known = names.lookup(room, snap.rooms)
        given = {c: text.strip().removesuffix("%") for c, text in texts.items()}
        given = given if known is None else _air(known) | given
        sheet, ids, findings = _typed(ROOMS, {"room": room} | given, snap, words)
        read = read_rooms(sheet, ids, rules, findings)
        _raise_if_any(words, findings)
        deed.put("room", rows.room_row(read[0]))
        deed.text = _room_said(read[0])
    done = _done(deed, tuple(findings.notes))
    return told(deed, lambda: with_plan_mended(done, store, rules, when.now))


def known_to(snap: Snapshot) -> Known:
    """Return the ids, lengths and placements that a record holds already."""
    return Known(
        rooms=frozenset(snap.rooms),
        boards=frozenset(snap.boards),
        specimens=frozenset(snap.specimens),
        sessions=frozenset(snap.sessions),
        timezone=snap.settings.timezone if snap.latest else None,
        lengths={b.board: b.length_mm for b in snap.boards.values()},
        placements=snap.placements,
    )


def put_first_stay(deed: Deed, snap: Snapshot, board: str, stays: Mapping[str, str]) -> None:
    """Record the room of a board that stood nowhere yet, if `stays` has it."""
    if board in stays and not snap.stays_of(board):
        # It stood there before anybody wrote it down; later moves are facts of their own.
        stay: dict[str, Value] = {"board": board, "room": stays[board]}
        deed.insert("board_stay", stay | {"since": rows.moment_text(ALWAYS)})


def _typed(
    table: Table, texts: Mapping[str, str], snap: Snapshot, words: Words
) -> tuple[Sheet, Ids, Findings]:
    """Return what was typed as the only row of a table, beside the ids of the record."""
    filled = {c: t for c, t in texts.items() if t.strip()}
    readers = reader_by_column(table)
    values = {c: words.read(c, text, readers[c]) for c, text in filled.items()}
    read = {c: value for c, value in values.items() if value is not None}
    sheet, findings = Sheet(table, (Row(1, filled, filled, read),)), Findings()
    ids = Ids(known_to(snap))
    ids.enter(sheet, findings)
    return sheet, ids, findings


def _check_given(given: Mapping[str, str], known: Board | None, words: Words) -> None:
    """Note which measures of a new board nobody gave, and what cannot be given here."""
    for column, option in (("groove_mm", "3"), ("span_mm", "80"), ("length_mm", "350")):
        if not given.get(column, "").strip():
            remedy = f"Give {column}, in mm: {BOARD_OPTIONS[column]} {option}"
            words.fault(column, None, "is not known yet", remedy)
    if known is None and not given.get("room", "").strip():
        words.fault("--room", None, "nobody said where it stands", "Give --room ROOM")
    if known is not None and "count" in given:
        words.fault("count", given["count"], f"{known.board} is one board already", "Leave it out")
    if known is not None and "room" in given:
        remedy = f"Record that it was carried: wingrest move {known.board} {given['room']}"
        words.fault("--room", given["room"], f"{known.board} stands somewhere already", remedy)


def _raise_if_any(words: Words, findings: Findings) -> None:
    for p in findings.problems:
        if not (p.column == "room" and p.value is None):  # noted already, as typed
            words.fault(p.column, p.value, p.reason, p.remedy)
    words.raise_if_any()


def _measures(board: Board) -> dict[str, str]:
    return {
        "groove_mm": f"{board.groove_mm:g}",
        "span_mm": f"{board.span_mm:g}",
        "length_mm": f"{board.length_mm}",
        "refill": board.refill,
    }


def _air(room: Room) -> dict[str, str]:
    rh, temp = room.rh_pct, room.temp_c
    known: dict[str, str] = {"regime": room.regime}
    known |= {} if rh is None else {"rh_pct": f"{rh:g}"}
    return known | ({} if temp is None else {"temp_c": f"{temp:g}"})


def _put_board(deed: Deed, snap: Snapshot, board: Board, stays: Mapping[str, str]) -> None:
    there = snap.boards.get(board.board)
    out = False if there is None else there.out
    deed.put("board", rows.board_row(board._replace(out=out)))
    put_first_stay(deed, snap, board.board, stays)


def _boards_said(boards: tuple[Board, ...], stays: Mapping[str, str], *, new: bool) -> str:
    first = boards[0]
    measures = (
        f"groove {first.groove_mm:g} mm wide and {first.length_mm} mm long,"
        f" {first.span_mm:g} mm across"
    )
    where = f", in {stays[first.board]}" if new else ""
    return f"{wording.listed(b.board for b in boards)}: {measures}{where}"


def _room_said(room: Room) -> str:
    said: dict[Regime, str] = {
        "room": "an ordinary room",
        "desiccant": "a box with a drying agent",
        "warm": "a warm cabinet",
    }
    air = [f"{room.rh_pct:g} %"] if room.rh_pct is not None else []
    air += [f"{room.temp_c:g} °C"] if room.temp_c is not None else []
    assumed = f", {wording.listed(air)} assumed where nobody has read it" if air else ""
    return f"{room.room}: {said[room.regime]}{assumed}"


def _done(deed: Deed, warnings: tuple[str, ...] = ()) -> Outcome:
    if deed.line is None:
        return Outcome((f"{deed.text} already: nothing to record",), warnings)
    return told(deed, lambda: Outcome((deed.text,), warnings))
