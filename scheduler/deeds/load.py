"""Take a folder of tables into the record: all of it, or nothing when there is any problem.

What the folder does not say removes nothing: an empty cell keeps what is recorded, and a missing
row keeps its board. What is known already changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from scheduler.deeds.conflicts import Conflicts, Take
from scheduler.deeds.load_mounted import put_mounted
from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.places import known_to, put_first_stay
from scheduler.deeds.readings import put_readings
from scheduler.deeds.sessions import new_sessions
from scheduler.deeds.slots import fit_warnings
from scheduler.intake.batch import BadRow, Batch, Known, Told, read_batch, read_good_rows
from scheduler.intake.batch.cells import localise
from scheduler.intake.batch.left_out import check_target, write_bad_rows
from scheduler.intake.batch.mapping import keep_mapping
from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.rows import Value
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import view_of
from scheduler.words import wording
from scheduler.words.problems import BadInput, by_kind_of_fault
from scheduler.words.records import Placement, Session, Specimen


@dataclass(frozen=True, slots=True)
class Wish:
    """How a batch is to be read: what was told of its tables, and where bad rows go.

    Without `bad_rows_to`, one bad row keeps the whole batch out. `sure`: a person has seen what was
    understood and agrees. `take` decides where both file and record were changed. `only_look`
    writes nothing at all. `shown`: a person has read its notes already.
    """

    told: Told = field(default_factory=Told)
    bad_rows_to: Path | None = None
    sure: bool = False
    take: Take | None = None
    only_look: bool = False
    shown: bool = False


class Unsure(BadInput):
    """A batch that is loaded only after a person has agreed to what was understood of it."""

    def __init__(self, folder: Path, batch: Batch) -> None:
        opened = [question for question in batch.questions if question.open]
        agreed = len(batch.questions) - len(opened)
        said = [f"{wording.counted(len(opened), 'question')} to be answered"] if opened else []
        said += [f"{wording.counted(agreed, 'thing')} to agree to"] if agreed else []
        ways = ["if it is right, add --yes"] if agreed else []
        if any(question.must_say for question in opened):
            ways.append("say what the columns are, in their order, with --columns NAME,NAME,...")
        elif agreed or not opened:
            ways.append("say what a column means with --column TITLE=COLUMN")
        else:
            ways.append("answer them")
        way = "; ".join(ways)
        super().__init__(
            f"{wording.listed(said)} in {folder}; nothing was loaded. {way[0].upper()}{way[1:]}",
            [question.as_problem() for question in opened],
        )
        self.batch = batch


def load(
    store: Store, rules: Rulebook, folder: Path, when: When, wish: Wish | None = None
) -> Outcome:
    """Load a folder, or one file of a batch.

    Raises BadInput with all problems of all files, and then loads nothing; bad rows are left out
    instead when the wish says where to write them. Before anything is written, raises Unsure when
    something had to be understood that the files do not say, and Refused when both file and record
    were changed.
    """
    wish = wish or Wish()
    # Files are read while others may still write; they are read again only if that changed what
    # they mean.
    known = known_to(store.facts())
    batch, bad = _read(known, rules, folder, when.now, wish)
    counts: dict[str, int] = {}
    conflicts = Conflicts(wish.take)
    with store.deed(when, "load") as deed:
        before = store.facts()
        if known_to(before) != known:
            batch, bad = _read(known_to(before), rules, folder, when.now, wish)
        placed = _put(store, deed, before, rules, batch, counts, conflicts)
        conflicts.refuse_if_open()
        said = _said(counts)
        deed.text = f"loaded {folder.name}: {said}"
        # Written before the record is, so that no rows are lost in between.
        if bad and wish.bad_rows_to is not None:
            write_bad_rows(bad, wish.bad_rows_to)
        keep_mapping(folder, batch, said=wish.told.of_titles)
        after = store.facts()

    def tell() -> Outcome:
        notes = () if wish.shown else batch.notes
        warnings = [*notes, *_stay_notes(before, batch), *conflicts.notes()]
        warnings += [w for p in placed for w in fit_warnings(p, after, rules)]
        warnings += [str(problem) for row in bad for problem in row.problems]
        return Outcome((f"{folder}: {said}", *_left_out_said(bad, wish)), tuple(warnings))

    return told(deed, tell)


def _put(
    store: Store,
    deed: Deed,
    before: Snapshot,
    rules: Rulebook,
    batch: Batch,
    counts: dict[str, int],
    conflicts: Conflicts,
) -> list[Placement]:
    """Write a batch into the record, counting what changed; return what stands already."""
    _put_settings(deed, batch, counts)
    _put_places(deed, before, batch, counts, conflicts)
    for room, readings in batch.readings.items():
        tally = put_readings(deed, room, readings)
        counts["reading"] = counts.get("reading", 0) + tally.new
    _put_specimens(deed, before, batch, counts, conflicts)
    for session in batch.sessions:
        row = conflicts.settled(deed, "session", _said_of(session, before))
        _count(counts, "session", deed.put("session", row))
    _put_repeats(deed, store, batch, counts)
    return put_mounted(deed, view_of(store, rules, deed.when.now), batch, counts)


def _read(
    known: Known, rules: Rulebook, folder: Path, now: datetime, wish: Wish
) -> tuple[Batch, tuple[BadRow, ...]]:
    bad = tuple[BadRow, ...]()
    if wish.bad_rows_to is None:
        batch, problems = read_batch(folder, known=known, rules=rules, now=now, told=wish.told)
    else:
        check_target(wish.bad_rows_to)
        batch, problems, bad = read_good_rows(
            folder, known=known, rules=rules, now=now, told=wish.told
        )
    opened = [question.as_problem() for question in batch.questions if question.open]
    if not problems and not (bad and opened):
        asked = [q for q in batch.questions if q.open or not wish.sure]
        if asked or wish.only_look:
            raise Unsure(folder, batch)
        return batch, bad
    if wish.bad_rows_to is not None:
        # Tell all problems at once, also those that leaving rows out would have removed.
        _, problems = read_batch(folder, known=known, rules=rules, now=now, told=wish.told)
    every = [*by_kind_of_fault(problems), *opened]
    count = wording.counted(len(problems) + len(opened), "problem")
    raise BadInput(f"{count} in {folder}; nothing was loaded", every)


def _left_out_said(bad: Sequence[BadRow], wish: Wish) -> list[str]:
    if wish.bad_rows_to is None:
        return []
    if not bad:
        return [f"no row was left out, so {wish.bad_rows_to} was not written"]
    return [
        f"{wording.counted(len(bad), 'row')} left out. With their reasons, to be corrected, in:",
        f"  {wish.bad_rows_to}",
    ]


def _count(counts: dict[str, int], what: str, changed: bool) -> None:
    counts[what] = counts.get(what, 0) + changed


def _said(counts: Mapping[str, int]) -> str:
    changed = [wording.counted(n, what) for what, n in counts.items() if n]
    return wording.listed(changed) + " new or changed" if changed else "nothing new"


def _put_settings(deed: Deed, batch: Batch, counts: dict[str, int]) -> None:
    if batch.settings is None:
        return
    for key, value in rows.settings_rows(batch.settings).items():
        if key in batch.given:
            _count(counts, "setting", deed.put("setting", {"key": key, "value": value}))


def _put_places(
    deed: Deed, snap: Snapshot, batch: Batch, counts: dict[str, int], conflicts: Conflicts
) -> None:
    for room in batch.rooms:
        row = _given(rows.room_row(room), room.room, snap.rooms, batch)
        _count(counts, "room", deed.put("room", conflicts.settled(deed, "room", row)))
    for board in batch.boards:
        row = _given(rows.board_row(board), board.board, snap.boards, batch)
        _count(counts, "board", deed.put("board", conflicts.settled(deed, "board", row)))
        put_first_stay(deed, snap, board.board, batch.stays)


def _put_specimens(
    deed: Deed, before: Snapshot, batch: Batch, counts: dict[str, int], conflicts: Conflicts
) -> None:
    known = before.specimens
    for specimen in batch.specimens:
        old = known.get(specimen.specimen)
        if old is not None:
            specimen = specimen._replace(label={**old.label, **specimen.label})
        specimen = _named_once(specimen, old)
        row = _given(rows.specimen_row(specimen), specimen.specimen, known, batch)
        _count(counts, "specimen", deed.put("specimen", conflicts.settled(deed, "specimen", row)))


def _named_once(specimen: Specimen, old: Specimen | None) -> Specimen:
    """Return a specimen whose label repeats its taxon only if it did so before."""
    taxon = specimen.taxon if old is None else old.taxon
    before = {} if old is None else old.label
    if "scientificName" in before or specimen.label.get("scientificName") != taxon:
        return specimen
    return specimen._replace(
        label={t: v for t, v in specimen.label.items() if t != "scientificName"}
    )


def _said_of(session: Session, before: Snapshot) -> dict[str, Value]:
    """Return a session's row; a table that does not say whose it is leaves that as it was."""
    row = rows.session_row(session)
    if session.who is None and session.session in before.sessions:
        del row["who"]
    return row


def _given(
    row: dict[str, Value], name: str, known: Mapping[str, object], batch: Batch
) -> dict[str, Value]:
    """Return a row: of a known thing only the columns that the batch fills, of a new one all."""
    if name not in known:
        return row
    given = batch.given_cells[name]
    renamed = {"in_group": "group"}
    always = {"label", "specimen", "board", "room"}
    return {c: v for c, v in row.items() if c in always or renamed.get(c, c) in given}


def _put_repeats(deed: Deed, store: Store, batch: Batch, counts: dict[str, int]) -> None:
    """Record the sessions that repeat, from now on, except where one starts already."""
    for repeat in batch.repeats:
        snap = store.facts()
        there = {s.start for s in snap.sessions.values()}
        walls = repeat.starts(snap.local(deed.when.now).replace(tzinfo=None))
        starts = [localise(wall, snap.zone)[0] for wall in walls]
        missing = [start for start in starts if start not in there]
        for session in new_sessions(snap, missing, repeat.minutes or 0):
            deed.insert("session", rows.session_row(session))
            _count(counts, "session", True)


def _stay_notes(snap: Snapshot, batch: Batch) -> list[str]:
    notes = []
    for name, room in batch.stays.items():
        now = snap.room_of(name) if name in snap.boards else None
        if now is not None and now.room != room:
            notes.append(
                f"boards.csv says that {name} stands in {room}, the record that it stands in"
                f" {now.room}: the record's value stays"
            )
    return notes
