"""Take a logger's file into the record, once it was shown and every question is answered."""

from __future__ import annotations

from datetime import date

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.reading_days import next_file, over_recorded
from scheduler.deeds.reading_file import LOGGER
from scheduler.deeds.replan import replan
from scheduler.faces.moved import moved_date_lines, moved_lines
from scheduler.intake.readings import Readings
from scheduler.intake.readings.merge import Tally, differing_said
from scheduler.looks.logger_file import ReadFile
from scheduler.looks.moved import moved_dates
from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.rows import Value
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import wording
from scheduler.words.problems import BadInput, Problem, Refused


def record_file(store: Store, rules: Rulebook, shown: ReadFile, when: When) -> Outcome:
    """Record a file that was shown, and tell whose dates it moved.

    Raises BadInput while a question is open, and Refused when the record has changed since, so that
    the file would change other things than was shown.
    """
    if shown.questions:
        left = "; ".join(q.text for q in shown.questions)
        raise BadInput(f"{shown.found.readings.file} leaves something open: {left}")
    found, room, logger = shown.found.readings, shown.room.room, shown.logger
    with store.deed(when, "readings") as deed:
        before = view_of(store, rules, when.now)
        if put_readings(deed, room, found, logger=logger, replace=True) != shown.tally:
            raise Refused("somebody was quicker: the readings have changed. Look at the file again")
        text = _said(shown, when.now)
        deed.text = f"{text}, from {found.file}"
        after = view_of(store, rules, when.now)
    warnings = (*shown.found.notes, *(str(p) for p in found.left_out))

    def tell() -> Outcome:
        moved = air_moved(store, before, after) if deed.line is not None else []
        return Outcome((text, *moved), warnings)

    return told(deed, tell)


def put_readings(
    deed: Deed,
    room: str,
    found: Readings,
    *,
    logger: str = LOGGER,
    replace: bool = False,
) -> Tally:
    """Put a file's readings over those of its logger, and return what that changed.

    Raises BadInput, without `replace`, for a file that says anything else than was recorded: it
    must be asked whether it is a corrected file or of another logger.
    """
    file, tally, changed = next_file(deed.db), Tally(), []
    for one in over_recorded(deed.db, room, logger, found, file):
        tally.add(one.merged.tally)
        if one.merged.tally.changes:
            changed.append(one)
    if (tally.differing or tally.gone) and not replace:
        raise BadInput(f"{found.file} contradicts the record", [_contradiction(room, found, tally)])
    if changed:
        row: dict[str, Value] = {"room": room, "logger": logger, "file": found.file}
        row |= {"digest": found.digest, "read_at": rows.moment_text(deed.when.now)}
        deed.insert("reading_file", row)
    for one in changed:
        readings = one.merged.readings
        values: dict[str, Value] = {"readings": readings.packed, "hours": readings.hours().packed}
        values["origins"] = one.merged.origins
        if one.row is None:
            key: dict[str, Value] = {"room": room, "logger": logger, "day": one.day.isoformat()}
            deed.insert("room_day", key | values)
        else:
            deed.update("room_day", one.row, values)
    return tally


def _contradiction(room: str, found: Readings, tally: Tally) -> Problem:
    gone = f", {tally.gone} recorded ones are not in it" if tally.gone else ""
    return Problem(
        found.file,
        None,
        None,
        None,
        f"differs from what was read in {room} before: {differing_said(tally)}{gone}",
        f"Is it corrected, or of another logger? Read it with `wingrest readings --room {room}`",
    )


def _said(shown: ReadFile, today: date) -> str:
    found, tally = shown.found.readings, shown.tally
    who = shown.room.room if shown.logger == LOGGER else f"{shown.room.room} ({shown.logger})"
    if found.first is None or found.last is None:
        return f"{who}: the file holds no readings"
    parts = [f"{tally.new} new readings"]
    if tally.known:
        parts.append(f"{tally.known} known already")
    if tally.differing:
        parts.append(f"{differing_said(tally)} and were replaced")
    if tally.gone:
        parts.append(f"{tally.gone} that are not in this file were taken out")
    first, last = (wording.moment(at, today) for at in (found.first, found.last))
    return f"{who}: {', '.join(parts)}, {first} to {last}"


def air_moved(store: Store, before: View, after: View) -> list[str]:
    """Return whose dates newly known air moved, and bring the kept plan up to it."""
    lines = moved_date_lines(moved_dates(after.standing(), before), after.now)
    mended = replan(store, before.rules, after.now)
    if mended is not None and mended.moved:
        lines += moved_lines(mended)
    return lines
