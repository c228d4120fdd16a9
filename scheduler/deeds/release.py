"""Record what came off its board, with the dryness test that allowed it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.same_round import due_this_round
from scheduler.deeds.testing import row_of_test
from scheduler.drying.on_board import OnBoard
from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import wording
from scheduler.words.label import missing
from scheduler.words.problems import BadInput, Refused


def release(
    store: Store, rules: Rulebook, asked: Sequence[str], early: str | None, when: When
) -> Outcome:
    """Take specimens off their boards; of a named board, those that are due or tested stiff.

    `early` is the reason for taking off what is not due. Without it, Refused is raised for a named
    specimen that is not due, and for a board on which nothing is.
    """
    if early is not None and not early.strip():
        raise BadInput("--early without a reason. Say why it must come off now")
    with store.deed(when, "release") as deed:
        view = view_of(store, rules, when.now)
        today = view.local(when.at).date()
        found = view.named(asked)
        named = [one for one in found if isinstance(one, OnBoard)]
        boards = [one.board for one in found if not isinstance(one, OnBoard)]
        everyone = dict.fromkeys([*named, *(one for b in boards for one in view.standing(b))])
        ripe = [one for one in everyone if _is_ripe(one, view, today)]
        unripe = [one for one in everyone if one not in ripe]
        if early is None:
            _refuse_unripe([one for one in unripe if one in named or not ripe], today)
        forced = unripe if early is not None else []
        deed.text = _said(ripe, forced, early)
        for one in ripe:
            deed.insert("dryness_test", row_of_test(one, "stiff", view, when.at))
            _take_off(deed, one, None)
        for one in forced:
            _take_off(deed, one, early)
    if not everyone:
        return Outcome((f"nothing stands on {wording.listed(boards)}",))

    def tell() -> Outcome:
        left = [_left_line(one, today) for one in unripe if early is None]
        taken = [*ripe, *forced]
        done = (deed.text, *left, *_next_lines(taken))
        return Outcome(done, _warnings(taken, view, when.at, bool(forced)))

    return told(deed, tell)


def _is_ripe(one: OnBoard, view: View, day: date) -> bool:
    """Say whether it may come off: stiff or due, or due before one was felt soft that day."""
    due = due_this_round(one, view, day)
    return one.stiff or (due is not None and due <= day)


def _said(ripe: Sequence[OnBoard], forced: Sequence[OnBoard], early: str | None) -> str:
    parts = [f"took {_listed(ripe)} off"] if ripe else []
    if forced:
        parts.append(f"took {_listed(forced)} off early: {early}")
    return "; ".join(parts)


def _listed(those: Sequence[OnBoard]) -> str:
    return wording.listed(one.specimen.specimen for one in those)


def _refuse_unripe(refused: Sequence[OnBoard], today: date) -> None:
    """Raise Refused for what must stay on its board."""
    if refused:
        raise Refused(
            "\n".join(_left_line(one, today) for one in refused)
            + "\nNothing was taken off. Off too early, the wings droop; if it must"
            " be, say why: --early REASON"
        )


def _next_lines(taken: Sequence[OnBoard]) -> list[str]:
    """Return what comes next for what came off: what its label lacks, the label, the bag."""
    lacking: dict[tuple[str, ...], list[OnBoard]] = {}
    for one in taken:
        lacking.setdefault(missing(one.specimen.label), []).append(one)
    lines = [
        f"  no {wording.listed(what)} for the label of {_listed(those)}"
        for what, those in lacking.items()
        if what
    ]
    # Quarantine: S1 p. 49, see limit-pest-freeze and cautions.INTO_THE_CABINET.
    next_steps = "  next: `wingrest print labels`; `wingrest bag`, 2-5 days frozen (S1 p. 49)"
    return [*lines, next_steps] if taken else []


def _left_line(one: OnBoard, today: date) -> str:
    placement, due = one.placement, one.told(today).due
    when = f"is due on {wording.weekday(due, today)}" if due else "has no date yet in this air"
    once = ", and was felt stiff too early" if one.felt_early else ""
    return f"{placement.specimen} stays on {placement.board}: it {when}{once}"


def _take_off(deed: Deed, one: OnBoard, early: str | None) -> None:
    off = {"released_at": rows.moment_text(deed.when.at), "early_reason": early}
    deed.update("placement", one.placement.id, off)


def _warnings(taken: Sequence[OnBoard], view: View, at: datetime, early: bool) -> tuple[str, ...]:
    limit = view.rules.limit("take_off_rh_pct")
    rooms = {one.room.room: one.room for one in taken if one.room is not None}
    airs = [view.air_now(room, at) for room in rooms.values()]
    said = [
        f"the air of {air.room} is {air.said}, above {limit:g} %, the most at which to take off:"
        " dry wings soften again; keep them in a dry box"
        for air in airs
        if air.damper_than(limit)
    ]
    said += [
        f"the air of {air.room} is damp, {air.said}: keep them in drier air"
        for air in airs
        if air.damper_than(view.rules.limit("mould_rh_pct")) and not air.damper_than(limit)
    ]
    said += [
        f"the air of {air.room} was not read for a day: a dial says whether wings stay dry in it"
        for air in airs
        if air.unread and not air.never_read
    ]
    if early:
        said.append("taken off before its time, a wing may droop within days: look again in a week")
    return tuple(said)
