"""Record a dryness test done by hand; a soft one warns of similar ones and mends the plan."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import NamedTuple

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import replan
from scheduler.deeds.same_round import due_this_round
from scheduler.drying.on_board import OnBoard
from scheduler.faces.moved import moved_lines
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.rows import Value
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import names, wording
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Placement, Verdict

# What dries like the tested one: our own judgement, no source.
SISTER_BODY_SHARE = 0.15
SISTER_DAYS = 7


class Tested(NamedTuple):
    """Whom a test is about; `left` stand on a named board and are not due."""

    placements: tuple[Placement, ...]
    left: tuple[Placement, ...]


def record_test(
    store: Store,
    rules: Rulebook,
    asked: Sequence[str],
    verdict: Verdict,
    excepted: Sequence[str],
    when: When,
    mend_aside: Callable[[], None] | None = None,
) -> Outcome:
    """Record a test of specimens, or of those on a board that are due (of all when none is).

    After a soft one, and one that was stiff too early, the kept plan is mended, by `mend_aside` if
    it is given. Raises BadInput for names that are unknown or stand on no board, Refused for a test
    before the mounting.
    """
    with store.deed(when, "test") as deed:
        before = view_of(store, rules, when.now)
        today = before.local(when.at).date()
        tested = _whom(before, asked, excepted, today)
        _refuse_before_mounting(before, tested.placements, when)
        deed.text = f"tested {verdict}: {wording.listed(_on_boards(tested.placements))}"
        for p in tested.placements:
            deed.insert("dryness_test", row_of_test(before.of(p), verdict, before, when.at))

    def tell() -> Outcome:
        after = view_of(store, rules, when.now)
        early = {p.id: after.of(p) for p in tested.placements if after.of(p).felt_early}
        done = [*wording.wrapped(deed.text, "", "  "), *_now_said(tested, verdict, after, today)]
        if verdict == "soft" or early:
            done += _mended_lines(store, rules, when, mend_aside)
        warnings = _warnings(map(before.of, tested.placements), before, verdict, today, early)
        return Outcome(tuple(done), tuple(warnings))

    return told(deed, tell)


def _now_said(tested: Tested, verdict: Verdict, after: View, today: date) -> list[str]:
    """Return what comes off now, or until when each stays, and who was not counted."""
    if verdict == "stiff":
        done = _off_lines([p for p in tested.placements if after.of(p).stiff], after)
    else:
        done = [_again(after.of(p), today) for p in tested.placements]
        done += _sister_lines(tested.placements, after)
    return [*done, *(_left_line(after.of(p), today) for p in tested.left)]


def _mended_lines(
    store: Store, rules: Rulebook, when: When, mend_aside: Callable[[], None] | None
) -> list[str]:
    if mend_aside is None:
        mended = replan(store, rules, when.now)
        return [] if mended is None else moved_lines(mended)
    mend_aside()
    return ["the plan is being mended meanwhile"]


def row_of_test(one: OnBoard, verdict: Verdict, view: View, at: datetime) -> dict[str, Value]:
    """Return a dryness test as a row, with the progress and the room's air at that moment.

    The air is that of the hour, else the air as judged from the last readings. Air that was only
    assumed is left empty, so that nobody learns from it later.
    """
    rh_pct, temp_c = _air_at(one, view, at)
    due = due_this_round(one, view, view.local(at).date())
    return {
        "placement": one.placement.id,
        "tested_at": rows.moment_text(at),
        "verdict": verdict,
        "progress_pct": round(100 * one.progress(at), 1),
        "rh_pct": rh_pct,
        "temp_c": temp_c,
        "due_on": None if due is None else due.isoformat(),
    }


def _air_at(one: OnBoard, view: View, at: datetime) -> tuple[float | None, float | None]:
    stood = [room for since, room in one.stays if since <= view.wall(at)]
    if not stood:
        return None, None
    room = stood[-1]
    known = view.room_air(room.room)
    hour = known and known.at(view.wall(at))
    if hour:
        return hour[0], hour[1]
    air = view.air_now(room, at)
    if air.how == "assumed" or air.rh_pct is None:
        return None, None
    return round(air.rh_pct, 2), None if air.temp_c is None else round(air.temp_c, 2)


def _whom(view: View, asked: Sequence[str], excepted: Sequence[str], today: date) -> Tested:
    whom: dict[str, Placement] = {}
    left: dict[str, Placement] = {}
    everyone: dict[str, Placement] = {}
    for named in view.named(asked):
        if isinstance(named, OnBoard):
            here = due = [named]
        else:
            here = list(view.standing(named.board))
            due = [one for one in here if one.is_due(today)] or here
        everyone |= {one.specimen.specimen: one.placement for one in here}
        whom |= {one.specimen.specimen: one.placement for one in due}
        left |= {one.specimen.specimen: one.placement for one in here if one not in due}
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


def _refuse_before_mounting(view: View, placements: Iterable[Placement], when: When) -> None:
    early = [p for p in placements if p.mounted_at > when.at]
    if early:
        said = "\n".join(
            f"{p.specimen} was mounted on {wording.moment(view.local(p.mounted_at), view.now)}"
            for p in early
        )
        raise Refused(f"{said}\nNothing can be tested before that. Check --at")


def _on_boards(placements: Iterable[Placement]) -> list[str]:
    return [f"{p.specimen} on {p.board}" for p in placements]


def _off_lines(placements: Iterable[Placement], view: View) -> list[str]:
    """Return how what is stiff comes off, or why it stays in today's air."""
    off: dict[str, None] = {}
    damp: dict[str, dict[str, None]] = {}
    stays: dict[str, list[str]] = {}
    for placement in placements:
        one = view.of(placement)
        answer, board = view.answer_of(one), placement.board
        if answer.answer == "take off":
            off[board] = None
        elif answer.air and answer.air.damper_than(view.rules.limit("take_off_rh_pct")):
            damp.setdefault(str(answer.air), {})[board] = None
        else:
            stays.setdefault(next(iter(answer.notes), answer.answer), []).append(placement.specimen)
    lines = [f"  take off with: wingrest release {' '.join(off)}"] if off else []
    for where, boards in damp.items():
        lines.append(
            f"  leave {wording.listed(boards)}, where it is too damp to take off: {where}. Wait "
            "for drier air, or bring the board into a drier room for two or three days"
        )
    for why, names_of in stays.items():
        lines += wording.wrapped(f"leave {wording.listed(names_of)}: {why}", "  ", "    ")
    return lines


def _again(one: OnBoard, today: date) -> str:
    placement, dates = one.placement, one.told(today)
    if dates.due is None:
        drier = "" if one.dates.due else f"; {placement.board} needs drier air"
        return f"  {placement.specimen}: no date yet in this air{drier}"
    clear = f", clear {wording.day(dates.clear, today)}" if dates.clear else ""
    strip = wording.strip(placement.specimen, placement.mounted_on, dates.due)
    return f"  {strip}{clear}"


def _left_line(one: OnBoard, today: date) -> str:
    due = one.told(today).due
    when = f"is due on {wording.weekday(due, today)}" if due else "has no date yet in this air"
    return f"  not counted: {one.specimen.specimen} {when}. If you tested it too, name it"


def sisters(one: OnBoard, view: View) -> tuple[Placement, ...]:
    """Return what stands in the same room, is as stout and was mounted in the same days, by id.

    Bodies differ by at most 15 % from the one asked about, mountings by at most 7 days, both
    included. One whose stiff test is believed is beyond doubt and left out.
    """
    body = one.body_mm
    if one.room is None:
        return ()
    beside = [board for board in view.boards if view.room_of(board) == one.room]
    found = []
    for other in (other for board in beside for other in view.standing(board)):
        days = abs(other.placement.mounted_on - one.placement.mounted_on)
        if (
            other.placement.id != one.placement.id
            and days <= timedelta(days=SISTER_DAYS)
            and abs(other.body_mm - body) <= SISTER_BODY_SHARE * body + 1e-9
            and not other.stiff
        ):
            found.append(other.placement)
    return tuple(sorted(found, key=lambda p: p.specimen))


def _sister_lines(tested: Sequence[Placement], view: View) -> list[str]:
    mine = {p.id for p in tested}
    found = {s.specimen: s for p in tested for s in sisters(view.of(p), view) if s.id not in mine}
    if not found:
        return []
    text = (
        f"Others as stout, mounted the same week in the same room:"
        f" {wording.listed(_on_boards(found.values()))}. Doubt their dates, test each"
    )
    return wording.wrapped(text, "  ", "    ")


def _warnings(
    tested: Iterable[OnBoard],
    view: View,
    verdict: Verdict,
    today: date,
    early: Mapping[int, OnBoard],
) -> Iterable[str]:
    """Yield where a stiff test disagrees with the rules; `early`: placements that must stay."""
    if verdict == "soft":
        return
    for one in tested:
        due = due_this_round(one, view, today)
        if due is None or due > today:
            when = f"due on {wording.weekday(due, today)}" if due else "without a date so far"
            who = one.specimen.specimen
            if one.placement.id in early:
                yield f"{who} is {when}: it stays. {_feel_again(early[one.placement.id], today)}"
            else:
                yield f"{who} is {when} by the rules; it counts as stiff because you say so"


def _feel_again(one: OnBoard, today: date) -> str:
    due = one.told(today).due
    if due is None:
        return "Feel it again when it is due"
    return f"Stiff again on {wording.weekday(due, today)} or later, it may come off"
