"""Whether the record, its snapshots and the place where it lies are sound, and what to do."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

from scheduler.looks.keeping import no_snapshot
from scheduler.record import opening
from scheduler.record.ground import ground_of, open_to_others
from scheduler.record.kept import Kept
from scheduler.record.pictures import named_pictures, photos_folder
from scheduler.record.recorded import Recorded
from scheduler.record.restoring import read_snapshot
from scheduler.record.snapshots import Snapshots, last_line
from scheduler.record.soundness import journal_faults, page_faults, reference_faults
from scheduler.record.told_then import ruling_faults
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.problems import BadInput, RecordBusy, RecordDamaged, WingrestError
from scheduler.words.tuples import NamedTuple

Soundness = Literal["fine", "see to", "not usable", "damaged"]

ROOM_BYTES = 50_000_000
SHOWN = 5
"""So many faults of one kind are told."""
BEHIND = timedelta(minutes=10)


class Check(NamedTuple):
    """One thing that was looked at; `remedy` is empty when it is fine."""

    what: str
    state: Soundness
    text: str
    remedy: str = ""


class ToAsk(NamedTuple):
    """What is asked for only when it is needed: if one of them fails, the rest is still looked at.

    `kept` is the kept plan, which needs no rules; `view` is the record under the rules.
    """

    rules: Callable[[], Rulebook]
    kept: Callable[[], Kept | None]
    view: Callable[[], AbstractContextManager[View]]


def check_record(path: Path, asked: ToAsk, now: datetime) -> list[Check]:
    """Return everything that was looked at; what matters most comes first."""
    found = [*_record(path, asked, now), *_rules(asked.rules)]
    if found[0].state == "not usable":  # not a record of ours, so its place does not matter
        return found
    return [*found, *_photos(path), *_place(path), *_snapshots(path, now)]


def _record(path: Path, asked: ToAsk, now: datetime) -> Iterator[Check]:
    try:
        if not path.exists() and Snapshots(path).latest() is None:
            yield Check("record", "fine", f"there is none yet at {path}")
            return
        db, _ = opening.to_look(path)
    except RecordBusy as error:
        said, _, way_out = str(error).partition("\n")
        state: Soundness = "damaged" if isinstance(error, RecordDamaged) else "not usable"
        yield Check("record", state, said, way_out)
        return
    try:
        whole = [*_pages(db), *_journal(db)]
        yield from whole
        yield from _clock(db, now)
        yield from _zone(db)
        yield from _addresses(db)
        yield from _plan(db, asked, sound=all(one.state == "fine" for one in whole))
    except (sqlite3.DatabaseError, ValueError, KeyError, TypeError) as error:
        yield Check("record", "damaged", f"it holds what cannot be read ({error})", _BACK)
    finally:
        db.close()


_SAY_ZONE = "Load a settings.toml with your timezone, or begin with wingrest start"
_BACK = "wingrest backup --list, then wingrest restore FILE; or wingrest check --salvage FOLDER"


def _pages(db: sqlite3.Connection) -> Iterator[Check]:
    line, _ = last_line(db)
    faults = page_faults(db)
    yield _all_or("pages", faults, f"whole, up to journal line {line}", "damaged", _BACK)
    loose = [*reference_faults(db), *ruling_faults(db)]
    yield _all_or("references", loose, "no row names another that is missing", "damaged", _BACK)


def _journal(db: sqlite3.Connection) -> Iterator[Check]:
    faults = journal_faults(db)
    good = "played again from its first line, it gives the same tables"
    yield _all_or("journal", faults, good, "damaged", _BACK)


def _clock(db: sqlite3.Connection, now: datetime) -> Iterator[Check]:
    _, at = last_line(db)
    if at is not None and now < at - BEHIND:
        text = (
            f"the clock says {now:%Y-%m-%d %H:%M}, but the last line was recorded at"
            f" {at.astimezone(now.tzinfo):%Y-%m-%d %H:%M}"
        )
        yield Check("clock", "see to", text, "Set the clock, or take the line back: wingrest undo")
        return
    back = [
        f"line {r['line']} was recorded before line {r['line'] - 1}"
        for r in db.execute(
            "SELECT j.line AS line FROM journal AS j JOIN journal AS k ON k.line = j.line - 1"
            " WHERE strftime('%s', j.recorded_at) < strftime('%s', k.recorded_at) - 600"
        )
    ]
    text = "it is later than every line, and the lines follow each other in time"
    yield _all_or("clock", back, text, "fine", "")


def _zone(db: sqlite3.Connection) -> Iterator[Check]:
    row = db.execute("SELECT value FROM setting WHERE key = 'timezone'").fetchone()
    if row is None:
        if last_line(db)[0]:
            text = "none is recorded: dates are those of UTC"
            yield Check("time zone", "see to", text, _SAY_ZONE)
        return
    try:
        ZoneInfo(row[0])
    except (KeyError, ValueError):
        text = f"{row[0]!r} is not known here"
        yield Check("time zone", "see to", text, _SAY_ZONE)
        return
    yield Check("time zone", "fine", str(row[0]))


def _addresses(db: sqlite3.Connection) -> Iterator[Check]:
    found = [r["value"] for r in db.execute("SELECT value FROM secret ORDER BY key")]
    if found and (len(found) < 2 or any(len(value) < 20 for value in found)):
        text = "the addresses of calendar and bench page are not whole"
        yield Check("addresses", "see to", text, "wingrest serve --new-address")
    else:
        yield Check("addresses", "fine", "two, long enough" if found else "none made yet")


def _plan(db: sqlite3.Connection, asked: ToAsk, *, sound: bool) -> Iterator[Check]:
    plan = asked.kept()
    if plan is None:
        yield Check("plan", "fine", "none is kept")
        return
    facts = Recorded(db).whole()
    faults = []
    for p in plan.placements:
        board = facts.boards.get(p.board)
        if p.specimen not in facts.specimens or board is None:
            faults.append(f"it names {p.specimen} on {p.board}, which the record does not know")
        elif not 0 <= p.from_mm < p.to_mm <= board.length_mm:
            faults.append(f"{p.specimen} would lie past the end of {p.board}")
    good = f"{wording.counted(len(plan.placements), 'specimen')}, all on boards that are there"
    if sound and not faults:
        judged = _judged(plan, asked.view)
        faults = judged or []
        when = f"{plan.asked_at:%Y-%m-%d %H:%M}"
        if judged is None:
            good += f"; not checked again: record or rules have changed since it was made, {when}"
        else:
            good += "; the referee finds no fault in it"
    yield _all_or("plan", faults, good, "see to", "wingrest plan --anew")


def _judged(kept: Kept, view: Callable[[], AbstractContextManager[View]]) -> list[str] | None:
    """Return what the referee finds wrong with the kept plan; None when it cannot be asked.

    It can be asked as long as the record, seen from the moment for which the plan was made, still
    poses the problem that the plan answers.
    """
    from scheduler.looks.problem import build_problem
    from scheduler.planner.referee.verdict import judge
    from scheduler.record.kept import resting_on

    try:
        with view() as now:
            problem = build_problem(View(now.facts, now.rules, kept.asked_at))
    except BadInput:
        return None  # the rules cannot be read, which another check tells
    if kept.rests_on != resting_on(problem):
        return None
    return [fault.message for fault in judge(problem, kept.plan)]


def _rules(rules: Callable[[], Rulebook]) -> Iterator[Check]:
    try:
        rules()
    except BadInput as error:
        yield Check("rules", "see to", str(error), "wingrest rules check")
    else:
        yield Check("rules", "fine", "every table can be read and agrees with the others")


def _photos(path: Path) -> Iterator[Check]:
    """Yield whether every picture that the record names is beside it."""
    try:
        db, _ = opening.to_look(path)
    except RecordBusy:
        return
    try:
        named = named_pictures(db)
    finally:
        db.close()
    gone = [name for name in named if not (photos_folder(path) / name).is_file()]
    if gone:
        remedy = f"copy them back from {Snapshots(path).photos()}"
        text = f"not in {photos_folder(path)}: {', '.join(gone[:SHOWN])}{_and_more(gone)}"
        yield Check("photos", "see to", text, remedy)
    elif named:
        yield Check("photos", "fine", f"{wording.counted(len(named), 'photo')}, all there")


def _and_more(those: Sequence[str]) -> str:
    return f", and {len(those) - SHOWN} more" if len(those) > SHOWN else ""


def _place(path: Path) -> Iterator[Check]:
    others = open_to_others(path)
    if others:
        text = f"others on this computer may read {wording.listed([str(o) for o in others])}"
        yield Check("rights", "see to", text, f"chmod go-rwx {others[0]}")
    else:
        yield Check("rights", "fine", "only its owner may read it")
    ground = ground_of(path.parent)
    if ground.network:
        text = f"it lies on a network disk ({ground.network}), where two computers can spoil it"
        yield Check("folder", "see to", text, "keep it on this computer; others use wingrest serve")
    elif ground.synced:
        text = f"{ground.synced} is kept in step with other computers, which can spoil a record"
        remedy = "keep the record elsewhere, and its snapshots there: wingrest backup --into FOLDER"
        yield Check("folder", "see to", text, remedy)
    else:
        yield Check(
            "folder", "fine", "no network disk and no synchronised folder, as far as can be seen"
        )
    yield from _room(path)


def _room(path: Path) -> Iterator[Check]:
    try:
        free = shutil.disk_usage(path.parent).free
        need = max(ROOM_BYTES, 3 * path.stat().st_size)
    except OSError:
        return
    said = f"{free / 1e6:,.0f} MB free"
    if free < need:
        yield Check("disk", "see to", said, f"free some space: {need / 1e6:,.0f} MB or more")
    else:
        yield Check("disk", "fine", said)


def _snapshots(path: Path, now: datetime) -> Iterator[Check]:
    snapshots = Snapshots(path)
    last = snapshots.latest()
    worry = no_snapshot(snapshots, _latest(path), now)
    if worry is not None:
        yield Check("snapshots", "see to", worry.text, worry.command)
    elif last is None:
        yield Check("snapshots", "fine", "none yet: the first comes with what is recorded next")
    if last is None:
        return
    try:
        with read_snapshot(last.file):
            pass
    except WingrestError as error:
        yield Check("last snapshot", "see to", str(error), "wingrest backup")
        return
    many = wording.counted(len(snapshots.listed()), "snapshot")
    text = f"line {last.line} of {last.taken_at:%Y-%m-%d}, can be read back; {many}"
    yield Check("last snapshot", "fine", text)


def _latest(path: Path) -> datetime | None:
    try:
        db, _ = opening.to_look(path)
    except RecordBusy:
        return None
    try:
        return last_line(db)[1]
    finally:
        db.close()


def _all_or(what: str, faults: list[str], good: str, bad: Soundness, remedy: str) -> Check:
    if not faults:
        return Check(what, "fine", good)
    more = f", and {len(faults) - SHOWN} more" if len(faults) > SHOWN else ""
    return Check(what, bad, "; ".join(faults[:SHOWN]) + more, remedy)
