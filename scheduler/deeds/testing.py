"""Record a dryness test done by hand; what is soft warns of its sisters and mends the plan."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import NamedTuple

from scheduler.air.known import room_air
from scheduler.air.latest import air_now
from scheduler.deeds.outcome import Outcome
from scheduler.deeds.replan import replan, said
from scheduler.deeds.when import When
from scheduler.drying import dates as drying
from scheduler.record import rows
from scheduler.record.rows import Value
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words import names, wording
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Placement, Verdict

# What dries like the one tested: our own reading, no source.
SISTER_BODY_SHARE = 0.15
SISTER_DAYS = 7


class Tested(NamedTuple):
    """Whom a test is about; `left` stand on a board that was named and are not due."""

    placements: tuple[Placement, ...]
    left: tuple[Placement, ...]


def record_test(
    store: Store,
    rules: Rulebook,
    asked: Sequence[str],
    verdict: Verdict,
    excepted: Sequence[str],
    when: When,
) -> Outcome:
    """Record a test of specimens, or of those on a board that are due (of all when none is).

    After a soft one the kept plan is mended. Raises BadInput for names that are not known or
    that stand on no board.
    """
    before = store.snapshot()
    today = before.local(when.at).date()
    tested = _whom(before, rules, asked, excepted, today)
    _refuse_before_mounting(before, tested.placements, when)
    ids = wording.listed(_on_boards(tested.placements))
    text = f"tested {verdict}: {ids}"
    with store.writing(when.line("test", text)):
        for p in tested.placements:
            store.insert("dryness_test", row_of_test(p, verdict, before, rules, when.at))
    after = store.snapshot()
    done = [*wording.wrapped(text, "", "  ")]
    if verdict == "stiff":
        done += _off_lines(tested.placements, after, rules, when)
    else:
        done += [_again(p, after, rules) for p in tested.placements]
        done += _sister_lines(tested.placements, after, rules)
    done += [_left_line(p, after, rules) for p in tested.left]
    if verdict == "soft":
        mended = replan(store, rules, when.now)
        done += [] if mended is None else said(mended)
    return Outcome(tuple(done), tuple(_warnings(tested.placements, before, rules, verdict, today)))


def row_of_test(
    placement: Placement, verdict: Verdict, snap: Snapshot, rules: Rulebook, at: datetime
) -> dict[str, Value]:
    """Return a dryness test as a row, with the progress and the room's air at that moment.

    The air is the hour's, else the mean of the last measured hours; what was only assumed is
    left empty, so that nobody learns from it later.
    """
    rh_pct, temp_c = _air_at(placement, snap, rules, at)
    return {
        "placement": placement.id,
        "tested_at": rows.moment_text(at),
        "verdict": verdict,
        "progress_pct": round(100 * drying.progress(placement, snap, rules, at), 1),
        "rh_pct": rh_pct,
        "temp_c": temp_c,
    }


def _air_at(
    placement: Placement, snap: Snapshot, rules: Rulebook, at: datetime
) -> tuple[float | None, float | None]:
    stood = [s for s in snap.stays_of(placement.board) if s.since <= at]
    if not stood:
        return None, None
    room = snap.rooms[stood[-1].room]
    known = room_air(room.room, snap, rules)
    hour = known and known.at(snap.wall(at))
    if hour:
        return hour[0], hour[2]
    air = air_now(room, snap, rules, at)
    if air.how == "assumed" or air.rh_pct is None:
        return None, None
    return round(air.rh_pct, 2), None if air.temp_c is None else round(air.temp_c, 2)


def _whom(
    snap: Snapshot, rules: Rulebook, asked: Sequence[str], excepted: Sequence[str], today: date
) -> Tested:
    standing = {p.specimen: p for p in snap.standing()}
    strange = [
        name
        for name in asked
        if names.lookup(name, snap.boards) is None and names.lookup(name, standing) is None
    ]
    if strange:
        raise names.unknown(strange, [*snap.boards, *standing], "board or mounted specimen")
    whom: dict[str, Placement] = {}
    left: dict[str, Placement] = {}
    everyone: dict[str, Placement] = {}
    for name in asked:
        board = names.lookup(name, snap.boards)
        here = snap.standing(board.board) if board else (names.find(name, standing, "specimen"),)
        due = [p for p in here if board is None or _is_due(p, snap, rules, today)] or here
        everyone |= {p.specimen: p for p in here}
        whom |= {p.specimen: p for p in due}
        left |= {p.specimen: p for p in here if p not in due}
    out = _excepted(excepted, everyone)
    found = tuple(p for name, p in whom.items() if name not in out)
    if not found:
        raise BadInput(f"nothing is left to test on {wording.listed(asked)}. Name what was tested")
    return Tested(found, tuple(p for n, p in left.items() if n not in whom and n not in out))


def _excepted(excepted: Sequence[str], everyone: dict[str, Placement]) -> set[str]:
    strange = [name for name in excepted if names.lookup(name, everyone) is None]
    if strange:
        raise names.unknown(strange, everyone, "specimen among them")
    return {names.find(name, everyone, "specimen").specimen for name in excepted}


def _is_due(placement: Placement, snap: Snapshot, rules: Rulebook, today: date) -> bool:
    due = drying.standing_dates(placement, snap, rules).due
    return due is not None and due <= today


def _refuse_before_mounting(snap: Snapshot, placements: Iterable[Placement], when: When) -> None:
    early = [p for p in placements if p.mounted_at > when.at]
    if early:
        said = "\n".join(
            f"{p.specimen} was mounted on {wording.moment(snap.local(p.mounted_at))}" for p in early
        )
        raise Refused(f"{said}\nNothing can be tested before that. Check --at")


def _on_boards(placements: Iterable[Placement]) -> list[str]:
    return [f"{p.specimen} on {p.board}" for p in placements]


def _off_lines(
    placements: Iterable[Placement], snap: Snapshot, rules: Rulebook, when: When
) -> list[str]:
    """Say how what is stiff comes off, or that the air is too damp for it."""
    off: dict[str, None] = {}
    damp: dict[str, list[str]] = {}
    for board in dict.fromkeys(p.board for p in placements):
        room = snap.room_of(board)
        air = room and air_now(room, snap, rules, when.at)
        limit = rules.limit("take_off_rh_pct")
        if air and air.regime == "room" and air.rh_pct is not None and air.rh_pct > limit:
            damp.setdefault(str(air), []).append(board)
        else:
            off[board] = None
    lines = [f"  take off with: wingrest release {' '.join(off)}"] if off else []
    for where, boards in damp.items():
        lines.append(
            f"  leave {wording.listed(boards)}, too damp to take off: {where}. Wait for drier air,"
            " or two or three days in a drier room"
        )
    return lines


def _again(placement: Placement, snap: Snapshot, rules: Rulebook) -> str:
    dates = drying.standing_dates(placement, snap, rules)
    if dates.due is None:
        return f"  {placement.specimen}: no date in this air; {placement.board} needs drier air"
    clear = f", clear {wording.day(dates.clear)}" if dates.clear else ""
    strip = wording.strip(placement.specimen, placement.mounted_on, dates.due)
    return f"  {strip}{clear}"


def _left_line(placement: Placement, snap: Snapshot, rules: Rulebook) -> str:
    due = drying.standing_dates(placement, snap, rules).due
    when = f"is due on {wording.weekday(due)}" if due else "has no date in this air"
    return f"  not counted: {placement.specimen} {when}. If you tested it too, name it"


def sisters(placement: Placement, snap: Snapshot, rules: Rulebook) -> tuple[Placement, ...]:
    """Return what stands in the same room, as stout and mounted in the same days, by id.

    Bodies differ by at most 15 % of the one asked about, mountings by at most 7 days. What
    was last tested stiff is past doubt and left out.
    """
    body = _body_mm(placement, snap, rules)
    room = snap.room_of(placement.board)
    found = []
    for other in snap.standing():
        tests = snap.tests_of(other.id)
        days = abs(other.mounted_on - placement.mounted_on)
        if (
            other.id != placement.id
            and room is not None
            and snap.room_of(other.board) == room
            and days <= timedelta(days=SISTER_DAYS)
            and abs(_body_mm(other, snap, rules) - body) <= SISTER_BODY_SHARE * body + 1e-9
            and not (tests and tests[-1].verdict == "stiff")
        ):
            found.append(other)
    return tuple(sorted(found, key=lambda p: p.specimen))


def _body_mm(placement: Placement, snap: Snapshot, rules: Rulebook) -> float:
    specimen, board = snap.specimens[placement.specimen], snap.boards[placement.board]
    return drying.body_on_board(specimen, board.groove_mm, rules).body_mm


def _sister_lines(tested: Sequence[Placement], snap: Snapshot, rules: Rulebook) -> list[str]:
    mine = {p.id for p in tested}
    found = {s.specimen: s for p in tested for s in sisters(p, snap, rules) if s.id not in mine}
    if not found:
        return []
    text = (
        f"Sisters, as stout and mounted the same week in the same room:"
        f" {wording.listed(_on_boards(found.values()))}. Doubt their dates, test each"
    )
    return wording.wrapped(text, "  ", "    ")


def _warnings(
    tested: Iterable[Placement], snap: Snapshot, rules: Rulebook, verdict: Verdict, today: date
) -> Iterable[str]:
    """Say where a test disagrees with the rules, or was done in air that softens again."""
    if verdict == "soft":
        return
    for p in tested:
        due = drying.standing_dates(p, snap, rules).due
        if due is None or due > today:
            when = f"due on {wording.weekday(due)}" if due else "without a date in this air"
            yield f"{p.specimen} is {when} by the rules; it counts as stiff because you say so"
