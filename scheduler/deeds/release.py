"""Record what came off its board. Releasing records the dryness test that allowed it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.testing import row_of_test
from scheduler.drying.on_board import OnBoard
from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import names, wording
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Placement


def release(
    store: Store, rules: Rulebook, asked: Sequence[str], early: str | None, when: When
) -> Outcome:
    """Take specimens off; of a board that is named, those that are due or tested stiff.

    `early` is the reason for taking off what is not due; without one a specimen that is not
    due is refused, and a board of which nothing is due too.
    """
    if early is not None and not early.strip():
        raise BadInput("--early without a reason. Say why it must come off now")
    with store.deed(when, "release") as deed:
        view = view_of(store, rules, when.now)
        named, boards = _asked(view.facts, asked)
        today = view.local(when.at).date()
        on_boards = [p for b in boards for p in view.facts.standing(b)]
        everyone = list(dict.fromkeys([*named, *on_boards]))
        ripe = [p for p in everyone if _ripe(view.of(p), today)]
        unripe = [p for p in everyone if p not in ripe]
        if early is None:
            _refuse_unripe(named, ripe, unripe, view)
        forced = unripe if early is not None else []
        deed.text = _said(ripe, forced, early)
        for placement in ripe:
            deed.insert("dryness_test", row_of_test(view.of(placement), "stiff", view, when.at))
            _take_off(deed, placement, None)
        for placement in forced:
            _take_off(deed, placement, early)
    if not everyone:
        return Outcome((f"nothing stands on {wording.listed(boards)}",))

    def tell() -> Outcome:
        left = [_left_line(view.of(p)) for p in unripe if p not in forced]
        taken = [*ripe, *forced]
        return Outcome((deed.text, *left), _warnings(taken, view, when.at, bool(forced)))

    return told(deed, tell)


def _said(ripe: Sequence[Placement], forced: Sequence[Placement], early: str | None) -> str:
    parts = [f"took {wording.listed(p.specimen for p in ripe)} off"] if ripe else []
    if forced:
        parts.append(f"took {wording.listed(p.specimen for p in forced)} off early: {early}")
    return "; ".join(parts)


def _asked(snap: Snapshot, asked: Sequence[str]) -> tuple[list[Placement], list[str]]:
    by_specimen = {p.specimen: p for p in snap.standing()}
    named: list[Placement] = []
    boards: list[str] = []
    strange: list[str] = []
    for name in asked:
        board = names.lookup(name, snap.boards)
        placement = names.lookup(name, by_specimen)
        if board is not None:
            boards.append(board.board)
        elif placement is not None:
            named.append(placement)
        else:
            strange.append(name)
    if strange:
        raise names.unknown(strange, [*snap.boards, *by_specimen], "board or mounted specimen")
    return named, boards


def _ripe(one: OnBoard, today: date) -> bool:
    return one.stiff or one.is_due(today)


def _refuse_unripe(
    named: Sequence[Placement],
    ripe: Sequence[Placement],
    unripe: Sequence[Placement],
    view: View,
) -> None:
    """Refuse when a specimen named itself is not due, or when nothing at all is."""
    refused = [p for p in unripe if p in named or not ripe]
    if refused:
        lines = [_left_line(view.of(p)) for p in refused]
        raise Refused(
            "\n".join(lines) + "\nNothing was taken off. Off too early, the wings droop; if it must"
            " be, say why: --early REASON"
        )


def _left_line(one: OnBoard) -> str:
    placement, due = one.placement, one.dates.due
    when = f"is due on {wording.weekday(due)}" if due else "has no date in this air"
    return f"{placement.specimen} stays on {placement.board}: it {when}"


def _take_off(deed: Deed, placement: Placement, early: str | None) -> None:
    off = {"released_at": rows.moment_text(deed.when.at), "early_reason": early}
    deed.update("placement", placement.id, off)


def _warnings(taken: Sequence[Placement], view: View, at: datetime, early: bool) -> tuple[str, ...]:
    limit = view.rules.limit("take_off_rh_pct")
    rooms = {room.room: room for p in taken if (room := view.room_of(p.board)) is not None}
    airs = [view.air_now(room, at) for room in rooms.values() if room.regime == "room"]
    said = [
        f"the air of {air.room} is {air.said}, above the {limit:g} % at which to take off:"
        " dry wings soften again; keep them in a dry box"
        for air in airs
        if air.rh_pct is not None and air.rh_pct > limit
    ]
    if early:
        said.append("taken off before its time, a wing may droop within days: look again in a week")
    return tuple(said)
