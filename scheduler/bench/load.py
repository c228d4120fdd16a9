"""Take a folder of tables into the record: all of it, or on any problem nothing.

What the folder does not say removes nothing: an empty cell keeps what is recorded, a missing
row keeps its board. What is known already changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from scheduler import drying, fit, rows, wording
from scheduler.batch import Batch, Known, Mounted, read_batch
from scheduler.bench.mount import fit_warnings
from scheduler.bench.outcome import Outcome
from scheduler.problems import BadInput, Refused
from scheduler.records import Board, Placement, Specimen
from scheduler.rows import Value
from scheduler.rulebook import Rulebook
from scheduler.snapshot import ALWAYS, Snapshot
from scheduler.store import Line, Store


def load(store: Store, rules: Rulebook, folder: Path, *, now: datetime, who: str | None) -> Outcome:
    """Load a folder; raise BadInput with all problems of all files, and load nothing then."""
    snap = store.snapshot()
    batch, problems = read_batch(folder, known=_known(snap), rules=rules, now=now)
    if problems:
        raise BadInput(
            f"{wording.counted(len(problems), 'problem')} in {folder}; nothing was loaded",
            problems,
        )
    counts: dict[str, int] = {}
    with store.writing(Line("load", f"loaded {folder.name}", now, now, who)) as line:
        _put_settings(store, batch, counts)
        _put_places(store, snap, batch, counts)
        _put_specimens(store, batch, counts)
        for session in batch.sessions:
            _count(counts, "session", store.put("session", rows.session_row(session)))
        placed = _put_mounted(store, rules, batch, counts)
        said = _said(counts)
        store.retext(line, f"loaded {folder.name}: {said}")
    after = store.snapshot()
    warnings = [*batch.notes, *_stay_notes(snap, batch)]
    warnings += [w for p in placed for w in fit_warnings(p, after, rules)]
    return Outcome((f"{folder}: {said}",), tuple(warnings))


def _known(snap: Snapshot) -> Known:
    return Known(
        rooms=frozenset(snap.rooms),
        boards=frozenset(snap.boards),
        specimens=frozenset(snap.specimens),
        sessions=frozenset(snap.sessions),
        timezone=snap.settings.timezone if snap.latest else None,
        lengths={b.board: b.length_mm for b in snap.boards.values()},
    )


def _count(counts: dict[str, int], what: str, changed: bool) -> None:
    counts[what] = counts.get(what, 0) + changed


def _said(counts: Mapping[str, int]) -> str:
    changed = [wording.counted(n, what) for what, n in counts.items() if n]
    return wording.listed(changed) + " new or changed" if changed else "nothing new"


def _put_settings(store: Store, batch: Batch, counts: dict[str, int]) -> None:
    if batch.settings is None:
        return
    for key, value in rows.settings_rows(batch.settings).items():
        if key in batch.given:
            _count(counts, "setting", store.put("setting", {"key": key, "value": value}))


def _put_places(store: Store, snap: Snapshot, batch: Batch, counts: dict[str, int]) -> None:
    for room in batch.rooms:
        row = _given(rows.room_row(room), room.room, snap.rooms, batch)
        _count(counts, "room", store.put("room", row))
    for board in batch.boards:
        row = {c: v for c, v in rows.board_row(board).items() if c != "out"}
        _count(counts, "board", store.put("board", row))
        if board.board not in snap.boards:
            # It stood there before anybody wrote it down; later moves are facts of their own.
            since = rows.moment_text(ALWAYS)
            stay: dict[str, Value] = {"board": board.board, "room": batch.stays[board.board]}
            store.insert("board_stay", stay | {"since": since})


def _put_specimens(store: Store, batch: Batch, counts: dict[str, int]) -> None:
    known = store.snapshot().specimens
    for specimen in batch.specimens:
        old = known.get(specimen.specimen)
        if old is not None:
            specimen = replace(specimen, label={**old.label, **specimen.label})
        row = _given(rows.specimen_row(specimen), specimen.specimen, known, batch)
        _count(counts, "specimen", store.put("specimen", row))


def _given(
    row: dict[str, Value], name: str, known: Mapping[str, object], batch: Batch
) -> dict[str, Value]:
    """Return of a known thing only the columns that the batch fills, of a new one all."""
    if name not in known:
        return row
    given = batch.given_cells[name]
    renamed = {"in_group": "group"}
    always = {"label", "specimen", "room"}
    return {c: v for c, v in row.items() if c in always or renamed.get(c, c) in given}


def _put_mounted(
    store: Store, rules: Rulebook, batch: Batch, counts: dict[str, int]
) -> list[Placement]:
    """Record what stands already; rows without a position go left to right on their board."""
    snap = store.snapshot()
    have = {(p.specimen, p.board, p.mounted_at) for p in snap.placements}
    new = [m for m in batch.mounted if (m.specimen, m.board, m.mounted_at) not in have]
    _refuse_standing(new, snap)
    reach: dict[str, int] = {}
    ends = [(m.board, m.to_mm or 0) for m in new] + [(p.board, p.to_mm) for p in snap.standing()]
    for board, to_mm in ends:
        reach[board] = max(reach.get(board, 0), to_mm)
    placed = []
    for m in new:
        placement = _placement(m, snap, rules, reach)
        store.insert("placement", rows.placement_row(placement))
        placed.append(placement)
    if placed:
        counts["placement"] = len(placed)
    return placed


def _refuse_standing(new: list[Mounted], snap: Snapshot) -> None:
    standing = {p.specimen: p for p in snap.standing()}
    said = [
        f"{m.specimen} stands on {standing[m.specimen].board} since"
        f" {wording.day(standing[m.specimen].mounted_on)} already"
        for m in new
        if m.specimen in standing
    ]
    if said:
        raise Refused(
            "\n".join(said) + "\nNothing was loaded. Release it there first, or correct mounted.csv"
        )


def _placement(m: Mounted, snap: Snapshot, rules: Rulebook, reach: dict[str, int]) -> Placement:
    specimen, board = snap.specimens[m.specimen], snap.boards[m.board]
    room = snap.room_of(board.board)
    body = drying.body_on_board(specimen, board.groove_mm, rules).body_mm
    rule_ids = drying.time_in(specimen, body, room, rules).rule_ids if room else ()
    from_mm, to_mm = m.from_mm, m.to_mm
    if from_mm is None or to_mm is None:
        from_mm = reach.get(board.board, 0)
        to_mm = from_mm + _length(specimen, board, rules)
        reach[board.board] = to_mm
    return Placement(
        id=0,
        specimen=m.specimen,
        board=m.board,
        from_mm=from_mm,
        to_mm=to_mm,
        mounted_at=m.mounted_at,
        mounted_on=m.mounted_on,
        estimated=m.from_mm is None,
        rule_ids=rule_ids,
    )


def _length(specimen: Specimen, board: Board, rules: Rulebook) -> int:
    size = fit.size_of(specimen, rules)
    if size is None:
        raise BadInput(
            f"nothing tells the size of {specimen.specimen}, which stands on {board.board}."
            " Give from_mm and to_mm in mounted.csv"
        )
    return fit.slot_mm(size, rules.family(specimen.family, specimen.group), rules)


def _stay_notes(snap: Snapshot, batch: Batch) -> list[str]:
    notes = []
    for name, room in batch.stays.items():
        now = snap.room_of(name) if name in snap.boards else None
        if now is not None and now.room != room:
            notes.append(
                f"boards.csv says that {name} stands in {room}, the record that it stands in"
                f" {now.room}: the record holds"
            )
    return notes
