"""Where boards stand, whether they are in use, and the air of rooms as read off a dial."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import with_plan_mended
from scheduler.faces.moved import moved_date_lines
from scheduler.looks.moved import moved_dates
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.rows import Value
from scheduler.record.snapshot import ALWAYS, Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import view_of
from scheduler.words import cautions, names, wording
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Board, Dial, Refill, Room


def move(store: Store, rules: Rulebook, board: str, room: str, when: When) -> Outcome:
    """Record that a board stands in a room from a moment on.

    Earlier and later moves stay as they are. Each part of a specimen's time counts by the room in
    which it stood then; it is told whose dates move. The kept plan is mended.
    """
    with store.deed(when, "move") as deed:
        before = view_of(store, rules, when.now)
        what = names.find(board, before.boards, "board")
        where = names.find(room, before.rooms, "room")
        stood = [s for s in before.facts.stays_of(what.board) if s.since <= when.at]
        deed.text = f"moved {what.board} to {where.room}"
        if not stood or stood[-1].room != where.room:
            row: dict[str, Value] = {"board": what.board, "room": where.room}
            deed.insert("board_stay", row | {"since": rows.moment_text(when.at)})
        after = view_of(store, rules, when.now)
    if deed.line is None:
        since = _since(before.facts, stood[-1].since, when.at)
        return Outcome((f"{what.board} stands in {where.room}{since} already: nothing to record",))

    def tell() -> Outcome:
        moved = moved_date_lines(moved_dates(after.standing(what.board), before), when.now)
        done = deed.text, *_later_lines(before.facts, what, when.at), *moved
        outcome = Outcome(done, _room_warnings(where, rules))
        return with_plan_mended(outcome, store, rules, when.now)

    return told(deed, tell)


def set_board(
    store: Store,
    rules: Rulebook,
    board: str,
    *,
    out: bool | None,
    refill: Refill | None,
    when: When,
) -> Outcome:
    """Take a board out of use or back, and say where new specimens may join on it.

    The kept plan is mended. Raises BadInput when neither is given.
    """
    if out is None and refill is None:
        raise BadInput("what about it? Write out or in, or give --refill any, end or whole")
    said, row = [], dict[str, Value]()
    if out is not None:
        said.append("out of use" if out else "in use")
        row["out"] = int(out)
    if refill is not None:
        said.append(_REFILL[refill])
        row["refill"] = refill
    with store.deed(when, "board") as deed:
        snap = store.facts()
        what = names.find(board, snap.boards, "board")
        deed.text = f"{what.board} is {'; '.join(said)}"
        changed = deed.update("board", what.board, row)
    if not changed:
        return Outcome((f"{deed.text} already: nothing to record",))
    standing = wording.listed(p.specimen for p in snap.standing(what.board))
    warnings = (f"{what.board} is out, and {standing} still on it",) if out and standing else ()
    done = Outcome((deed.text,), warnings)
    return told(deed, lambda: with_plan_mended(done, store, rules, when.now))


_REFILL: Mapping[Refill, str] = {
    "any": "refilled wherever there is room",
    "end": "refilled only to the right of what dries on it",
    "whole": "refilled only when it is empty",
}


def read_dial(
    store: Store, rules: Rulebook, room: str, rh: str, temp: str | None, when: When
) -> Outcome:
    """Record what a dial in a room showed: humidity in %, temperature in deg C.

    Raises BadInput for words that cannot be used, Refused when something else is recorded of that
    very moment.
    """
    with store.deed(when, "air") as deed:
        before = view_of(store, rules, when.now)
        where = names.find(room, before.rooms, "room")
        dial = _dial(where, rh, temp, when.at)
        there = _read_then(dial, before.facts)
        said = _dial_said(dial)
        deed.text = f"read {said}"
        if there != dial:
            row: dict[str, Value] = {"room": dial.room, "read_at": rows.moment_text(dial.read_at)}
            deed.insert("dial", row | {"rh_pct": dial.rh_pct, "temp_c": dial.temp_c})
        after = view_of(store, rules, when.now)
    if deed.line is None:
        return Outcome((f"{said} is recorded for that moment already",))

    def tell() -> Outcome:
        read_at = wording.moment(before.local(when.at), when.now)
        moved = moved_date_lines(moved_dates(after.standing(), before), when.now)
        warnings = _air_warnings(dial, where, rules)
        return Outcome((f"{said}, read {read_at}", *moved), tuple(warnings))

    return told(deed, tell)


def _read_then(dial: Dial, snap: Snapshot) -> Dial | None:
    """Return what is recorded of that room and moment; raise Refused when it is something else."""
    there = next((d for d in snap.dials if (d.room, d.read_at) == (dial.room, dial.read_at)), None)
    if there is not None and there != dial:
        raise Refused(
            f"{dial.room} was read at that very moment: {there.rh_pct:g} %."
            " Give another --at, or take that line back (`wingrest journal`)"
        )
    return there


def _dial_said(dial: Dial) -> str:
    temp = "" if dial.temp_c is None else f", {dial.temp_c:g} °C"
    return f"{dial.room}: {dial.rh_pct:g} %{temp}"


def _since(snap: Snapshot, moment: datetime, at: datetime) -> str:
    return "" if moment == ALWAYS else f" since {wording.moment(snap.local(moment), at)}"


def _later_lines(snap: Snapshot, board: Board, at: datetime) -> list[str]:
    later = [s for s in snap.stays_of(board.board) if s.since > at]
    if not later:
        return []
    when = wording.moment(snap.local(later[0].since), at)
    return [f"  until {when}, when it went to {later[0].room}"]


def _room_warnings(room: Room, rules: Rulebook) -> tuple[str, ...]:
    if room.regime == "warm":
        return (cautions.WARM,)
    limit = rules.limit("mould_rh_pct")
    if room.regime == "room" and room.rh_pct is not None and room.rh_pct > limit:
        return (
            f"{room.room} is damp ({room.rh_pct:g} %, assumed): above {limit:g} % mould may grow,"
            " and nothing dries soon",
        )
    return ()


def _dial(room: Room, rh: str, temp: str | None, at: datetime) -> Dial:
    from scheduler.intake.batch import cells
    from scheduler.intake.typed import Words

    words = Words(f"air {room.room}")
    rh_pct = words.read("RH", re.sub(r"\s*%$", "", rh), cells.percentage)
    bare = None if temp is None else re.sub(r"\s*(°\s*C?|C)$", "", temp, flags=re.IGNORECASE)
    temp_c = words.read("TEMP", bare, cells.number(-30, 60, "°C"))
    if rh_pct is None and not words.problems:
        words.fault("RH", rh, "is empty", "Write what the dial shows, as in 62")
    words.raise_if_any()
    return Dial(room.room, at, rh_pct, temp_c)


def _air_warnings(dial: Dial, room: Room, rules: Rulebook) -> list[str]:
    damp = [
        (rules.limit(limit), what)
        for limit, what in (
            ("mould_rh_pct", "mould may grow"),
            ("take_off_rh_pct", "dry wings soften, take nothing off there"),
        )
        if dial.rh_pct > rules.limit(limit)
    ]
    said = []
    if damp:
        above = max(pct for pct, _ in damp)
        said.append(f"{dial.room} is above {above:g} %: {'; '.join(what for _, what in damp)}")
    least, below = rules.limit("warm_from_c"), rules.limit("warm_below_c")
    if room.regime == "warm" and dial.temp_c is not None and not least <= dial.temp_c <= below:
        said.append(f"{room.room} is to be at {least:g}-{below:g} °C. {cautions.WARM}")
    return said
