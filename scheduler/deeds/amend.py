"""Correct what is recorded: `column=value`, an empty value clears.

What was typed is read like the cells of a batch. The record keeps both: what it says now and, in
the journal, what it said before.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from scheduler.deeds.amend_slot import (
    SLOT_COLUMNS,
    Amending,
    Update,
    correct_slot,
    refuse_too_short,
)
from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import with_plan_mended
from scheduler.deeds.slots import fit_warnings
from scheduler.drying import fit
from scheduler.faces.moved import moved_date_lines
from scheduler.intake.batch.cells import Reader
from scheduler.intake.batch.columns import BOARDS, LABEL_TERMS, MOUNTED, ROOMS, SESSIONS, SPECIMENS
from scheduler.intake.typed import Words, perhaps, reader_by_column, spelt
from scheduler.looks.moved import moved_dates
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.rows import Value
from scheduler.record.snapshot import Snapshot
from scheduler.record.state_tables import STATE_TABLES
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import view_of
from scheduler.words import names, wording
from scheduler.words.people import usual_name
from scheduler.words.problems import BadInput
from scheduler.words.records import Board, Placement, Room, Session, Specimen

_SPECIMEN = {c: r for c, r in reader_by_column(SPECIMENS).items() if c != "specimen"}
_SLOT = {c: r for c, r in reader_by_column(MOUNTED).items() if c in SLOT_COLUMNS}
_BOARD = {c: reader_by_column(BOARDS)[c] for c in ("groove_mm", "span_mm", "length_mm")}
_ROOM = {c: reader_by_column(ROOMS)[c] for c in ("regime", "rh_pct", "temp_c")}
_SESSION = {c: reader_by_column(SESSIONS)[c] for c in ("start", "minutes", "who")}
_NEVER_EMPTY = {"state", "regime", *_SLOT, *_BOARD, "start", "minutes"}
_ELSEWHERE = {
    "room": "`wingrest move` says where a board stands",
    "out": "`wingrest board` takes a board out of use",
    "refill": "`wingrest board` says where it may be refilled",
    "gone": "`wingrest lost` records a loss",
    "released": "take the release back: `wingrest undo`",
}


_ALSO = {"mounted_on", "rule_ids", "estimated", "until", "in_session"}
"""Columns that follow from a correction and are no corrections themselves."""


def amend(
    store: Store, rules: Rulebook, asked: str, corrections: Sequence[str], when: When
) -> Outcome:
    """Correct a specimen, its standing placement, a board, a room or a session.

    The kept plan is mended. Raises BadInput with everything that is wrong, Refused when a slot is
    taken.
    """
    with store.deed(when, "amend") as deed:
        before = view_of(store, rules, when.now)
        snap = before.facts
        thing = _thing(asked, snap)
        name, readers = _columns_of(thing)
        words = Words(name)
        texts = _typed(corrections, readers, words)
        changes = _changes(Amending(store, snap, rules, words, when), thing, texts)
        words.raise_if_any()
        said = [part for change in changes for part in _said(change, store, snap)]
        deed.text = f"amended {name}: {'; '.join(said)}"
        for table, key, row in changes if said else ():
            deed.update(table, key, row)
        after = view_of(store, rules, when.now)
    if not said:
        return Outcome((f"{name} is recorded like that already: nothing to record",))

    def tell() -> Outcome:
        touched = [p for p in after.facts.standing() if _concerns(thing, p, after.facts)]
        moved = moved_dates(map(after.of, touched), before)
        done = deed.text, *moved_date_lines(moved, when.now)
        outcome = Outcome(done, tuple(_warnings(thing, touched, after.facts, rules)))
        return with_plan_mended(outcome, store, rules, when.now)

    return told(deed, tell)


def correctable(snap: Snapshot, asked: str) -> tuple[str, dict[str, str]]:
    """Return the id of a thing, and what is recorded in each column that can be corrected.

    An empty column is "". Raises BadInput for a thing that is not recorded.
    """
    things = {**snap.specimens, **snap.boards, **snap.rooms, **snap.sessions}
    thing = names.lookup(asked, things)
    if thing is None:
        raise names.unknown([asked], things, "specimen, board, room or session")
    name, readers = _columns_of(thing)
    if isinstance(thing, Specimen):
        standing = next((p for p in snap.standing() if p.specimen == name), None)
        known = _recorded(thing) | ({} if standing is None else _slot_texts(standing, snap))
        readers = {c: r for c, r in readers.items() if standing or c not in _SLOT}
    else:
        known = {c: _text_of(getattr(thing, c), snap) for c in readers}
    return name, {c: known.get(c, "") for c in readers if c != "count"}


def _slot_texts(standing: Placement, snap: Snapshot) -> dict[str, str]:
    mounted = _text_of(standing.mounted_at, snap)
    return {
        "board": standing.board,
        "from_mm": str(standing.from_mm),
        "to_mm": str(standing.to_mm),
        "mounted": mounted,
    }


def _text_of(value: object, snap: Snapshot) -> str:
    if isinstance(value, datetime):
        return f"{snap.local(value):%Y-%m-%dT%H:%M}"
    if isinstance(value, float):
        return f"{value:g}"
    return "" if value is None else str(value)


def _columns_of(thing: object) -> tuple[str, dict[str, Reader]]:
    if isinstance(thing, Specimen):
        return thing.specimen, _SPECIMEN | _SLOT
    if isinstance(thing, Board):
        return thing.board, _BOARD
    if isinstance(thing, Room):
        return thing.room, _ROOM
    assert isinstance(thing, Session)
    return thing.session, _SESSION


def _thing(asked: str, snap: Snapshot) -> Specimen | Board | Room | Session:
    # Table by table, because a table that is not looked at need not be read.
    tables: tuple[Mapping[str, Specimen | Board | Room | Session], ...] = (
        snap.specimens,
        snap.boards,
        snap.rooms,
        snap.sessions,
    )
    for things in tables:
        found = names.lookup(asked, things)
        if found is not None:
            return found
    ids = [name for things in tables for name in things]
    raise names.unknown([asked], ids, "specimen, board, room or session")


def _typed(
    corrections: Iterable[str], readers: Mapping[str, Reader], words: Words
) -> dict[str, str]:
    """Return the text typed for each column, noting what is no correction."""
    texts: dict[str, str] = {}
    for typed in corrections:
        name, equals, value = typed.partition("=")
        column = spelt(name, readers)
        if not equals:
            words.fault(None, typed, "is not column=value", "As in wingspan_mm=62")
        elif column is None:
            words.fault(name.strip(), None, *_no_column(name.strip(), readers))
        elif column in texts:
            words.fault(column, value, "is given twice", "Keep one of them")
        elif not value.strip() and column in _NEVER_EMPTY:
            words.fault(column, None, "cannot be left empty", "Give the right value")
        else:
            texts[column] = value.strip()
    if not texts and not words.problems:
        raise BadInput(f"what about {words.of}? Write column=value. Columns: {_columns(readers)}")
    return texts


def _no_column(typed: str, readers: Mapping[str, Reader]) -> tuple[str, str]:
    """Return why a column cannot be amended, and what to do instead."""
    elsewhere = spelt(typed, _ELSEWHERE)
    if elsewhere is not None:
        return "cannot be amended", _ELSEWHERE[elsewhere]
    return "is not one of its columns", perhaps(typed, readers) or f"Columns: {_columns(readers)}"


def _columns(readers: Mapping[str, Reader]) -> str:
    """Return the columns; the many terms of a label are named together."""
    own = [column for column in readers if column not in LABEL_TERMS]
    return ", ".join([*own, "the terms of its label"] if len(own) < len(readers) else own)


def _changes(desk: Amending, thing: object, texts: Mapping[str, str]) -> list[Update]:
    if isinstance(thing, Specimen):
        return _specimen_changes(desk, thing, texts)
    name, readers = _columns_of(thing)
    row = {c: desk.words.read(c, text, readers[c]) for c, text in texts.items()}
    if isinstance(thing, Session):
        start = desk.words.local("start", row.pop("start", None), desk.snap.zone)
        moment = {} if start is None else {"start": rows.moment_text(start)}
        if row.get("who") is not None:
            row["who"] = usual_name(row["who"], desk.snap.sessions.values())
        return [("session", name, row | moment)]
    if isinstance(thing, Room):
        return [("room", name, row)]
    if row.get("length_mm") is not None:
        refuse_too_short(name, row["length_mm"], desk.snap)
    return [("board", name, row)]


def _specimen_changes(desk: Amending, specimen: Specimen, texts: Mapping[str, str]) -> list[Update]:
    name, words = specimen.specimen, desk.words
    own = {c: text for c, text in texts.items() if c in _SPECIMEN}
    slot = {c: words.read(c, text, _SLOT[c]) for c, text in texts.items() if c in _SLOT}
    changes: list[Update] = []
    amended = specimen
    if own:
        dated = own.keys() & {"frozen_on", "eventDate"}
        today = desk.snap.local(desk.when.at).date() if dated else None
        known = _recorded(specimen) | own
        read = words.specimen(name, known, desk.rules, new=False, today=today)
        amended = read or specimen
        changes.append(("specimen", name, rows.specimen_row(amended)))
        _note_no_size(desk, amended, own)
    if slot:
        changes += correct_slot(desk, amended, slot)
    return changes


def _note_no_size(desk: Amending, amended: Specimen, own: Mapping[str, str]) -> None:
    """Note a correction that leaves a waiting specimen without any size."""
    standing = any(p.specimen == amended.specimen for p in desk.snap.standing())
    if not standing and fit.size_of(amended, desk.rules) is None:
        reason = "leaves nothing to judge the size by"
        desk.words.fault(next(iter(own)), None, reason, "Leave it, or give another size")


def _recorded(specimen: Specimen) -> dict[str, str]:
    """Return what the record says of a specimen, as the cells of a batch."""
    texts = dict(specimen.label)
    recorded = specimen._asdict()
    for column in _SPECIMEN:
        value = recorded.get(column)
        if value is not None:
            texts[column] = str(value)
    return texts


def _said(change: Update, store: Store, snap: Snapshot) -> list[str]:
    """Return what differs from the record, as "wingspan_mm 62 (was 55)"."""
    table, key, row = change
    column = STATE_TABLES[table]
    had = store.db.execute(f"SELECT * FROM {table} WHERE {column} = ?", (key,)).fetchone()
    differing = [c for c in row if had[c] != row[c] and c not in _ALSO]
    return [part for c in differing for part in _parts(c, row[c], had[c], snap)]


def _parts(column: str, new: Value, old: Value, snap: Snapshot) -> list[str]:
    if column == "label":
        now, was = json.loads(str(new)), json.loads(str(old))
        return [
            f"{term} {now.get(term, 'empty')} (was {was.get(term, 'empty')})"
            for term in {**was, **now}
            if now.get(term) != was.get(term)
        ]
    name = {"in_group": "group", "mounted_at": "mounted"}.get(column, column)
    return [f"{name} {_shown(column, new, snap)} (was {_shown(column, old, snap)})"]


def _shown(column: str, value: Value, snap: Snapshot) -> str:
    if value is None:
        return "empty"
    if column in ("mounted_at", "start"):
        return wording.moment_with_year(snap.local(rows.moment_of(str(value))))
    return f"{value:g}" if isinstance(value, float) else str(value)


def _concerns(thing: object, placement: Placement, snap: Snapshot) -> bool:
    if isinstance(thing, Specimen):
        return placement.specimen == thing.specimen
    if isinstance(thing, Board):
        return placement.board == thing.board
    if isinstance(thing, Room):
        return any(s.room == thing.room for s in snap.stays_of(placement.board))
    return False


def _warnings(
    thing: object, touched: Iterable[Placement], snap: Snapshot, rules: Rulebook
) -> list[str]:
    if isinstance(thing, Room):
        return []
    said = [w for p in touched for w in fit_warnings(p, snap, rules)]
    for p in touched:
        frozen_on = snap.specimens[p.specimen].frozen_on
        if frozen_on is not None and p.mounted_on < frozen_on:
            said.append(
                f"{p.specimen} was mounted on {wording.with_year(p.mounted_on)}, before it was"
                f" frozen on {wording.with_year(frozen_on)}"
            )
    return said
