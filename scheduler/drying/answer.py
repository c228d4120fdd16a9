"""The answer at the bench: can I free this board yet.

Pure: a function of the record, the rules and the moment of asking. A board is as free as its
slowest specimen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Literal, NamedTuple, get_args

from scheduler.air.latest import Air, air_now
from scheduler.drying import dates as drying
from scheduler.drying import fit
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.words import wording
from scheduler.words.records import Basis, Placement, Source

Answer = Literal["empty", "take off", "test it now", "dry, but not today", "not yet", "cannot say"]
ANSWERS: tuple[Answer, ...] = get_args(Answer)
"""From the freest to the least free: a board answers as the last of its specimens' answers."""

EXIT_STATUS: dict[Answer, int] = {
    "empty": 0,
    "take off": 0,
    "test it now": 0,
    "dry, but not today": 1,
    "not yet": 1,
    "cannot say": 2,
}


class SpecimenAnswer(NamedTuple):
    """What can be said of one specimen on a board."""

    specimen: str
    board: str
    answer: Answer
    progress_pct: int | None
    body_mm: float
    estimated: str
    from_mm: int
    to_mm: int
    mounted_on: date
    due: date | None
    clear: date | None
    min_days: int | None
    plan_days: int | None
    rule_ids: tuple[str, ...]
    basis: Basis | None
    sources: tuple[Source, ...]
    air: Air | None
    notes: tuple[str, ...]

    @property
    def note(self) -> str:
        """Return the notes as one text."""
        return "; ".join(self.notes)


class BoardAnswer(NamedTuple):
    """What can be said of a board; `test_first` is the stoutest of those to be tested.

    `others` counts those that stand there too and were not asked about.
    """

    board: str
    answer: Answer
    due: date | None
    clear: date | None
    test_first: str | None
    specimens: tuple[SpecimenAnswer, ...]
    others: int = 0


def answer_board(
    board: str,
    placements: Iterable[Placement],
    snap: Snapshot,
    rules: Rulebook,
    now: datetime,
) -> BoardAnswer:
    """Answer for one board, or for those of its specimens that were asked about."""
    answers = [answer_specimen(p, snap, rules, now) for p in placements]
    # The stoutest first: when it is stiff, the slender ones are.
    answers.sort(key=lambda a: (-a.body_mm, a.from_mm))
    worst: Answer = max((a.answer for a in answers), key=ANSWERS.index, default="empty")
    testable = [a.specimen for a in answers if a.answer in ("test it now", "dry, but not today")]
    return BoardAnswer(
        board=board,
        answer=worst,
        due=_latest([a.due for a in answers]),
        clear=_latest([a.clear for a in answers]),
        test_first=testable[0] if testable else None,
        specimens=tuple(answers),
        others=len(snap.standing(board)) - len(answers),
    )


def answer_specimen(
    placement: Placement, snap: Snapshot, rules: Rulebook, now: datetime
) -> SpecimenAnswer:
    """Answer for one standing specimen."""
    board = snap.boards[placement.board]
    size = drying.body_on_board(snap.specimens[placement.specimen], board.groove_mm, rules)
    air = drying.stretches(placement, snap, rules)
    dates = drying.standing_dates(placement, snap, rules)
    here = air[-1] if air else None
    now_here = air_now(here.room, snap, rules, now) if here else None
    answer, notes = _verdict(placement, dates, now_here, snap, rules, now)
    return SpecimenAnswer(
        specimen=placement.specimen,
        board=placement.board,
        answer=answer,
        progress_pct=_percent(placement, snap, rules, now, dates.due) if here else None,
        body_mm=size.body_mm,
        estimated=size.estimated,
        from_mm=placement.from_mm,
        to_mm=placement.to_mm,
        mounted_on=placement.mounted_on,
        due=dates.due,
        clear=dates.clear,
        min_days=here.time.min_days if here else None,
        plan_days=here.time.plan_days if here else None,
        rule_ids=here.time.rule_ids if here else (),
        basis=here.time.basis if here else None,
        sources=here.time.sources if here else (),
        air=now_here,
        notes=(*notes, *_notes(here.time if here else None, size)),
    )


def _percent(
    placement: Placement, snap: Snapshot, rules: Rulebook, now: datetime, due: date | None
) -> int:
    """Return the progress, rounded down; 100 % is not shown before the date it is due."""
    percent = int(100 * drying.progress(placement, snap, rules, now) + 1e-9)
    early = due is None or snap.local(now).date() < due
    # After a soft test the due date is another: more than 100 % is true then.
    return min(percent, 99) if early and not snap.tests_of(placement.id) else percent


def _verdict(
    placement: Placement,
    dates: drying.Dates,
    air: Air | None,
    snap: Snapshot,
    rules: Rulebook,
    now: datetime,
) -> tuple[Answer, tuple[str, ...]]:
    if air is None:
        return "cannot say", ("nobody has said in which room the board stands",)
    today = snap.local(now).date()
    tests = snap.tests_of(placement.id)
    stiff = bool(tests) and tests[-1].verdict == "stiff"
    if not stiff:
        if dates.due is None:
            return "cannot say", ("this air gives no time",)
        if today < dates.due:
            days = (dates.due - today).days
            return "not yet", (f"{days} more day{'s' * (days != 1)} before a test makes sense",)
    asks = (_ask(air, rules),) if air.unread else ()
    limit = rules.limit("take_off_rh_pct")
    if air.regime == "room" and air.rh_pct is not None and air.rh_pct > limit:
        why = (
            f"the room's air, {air.said}, is above the {limit:g} % at which to take off: dry"
            " wings soften again. Wait for drier air or bring the board into a drier room for"
            " two or three days"
        )
        return "dry, but not today", (why, *asks)
    if stiff:
        tested = wording.day(snap.local(tests[-1].tested_at).date())
        return "take off", (f"tested stiff on {tested}", *asks)
    return "test it now", ("take off on a dry day, never on a rainy day", *asks)


def _ask(air: Air, rules: Rulebook) -> str:
    days = rules.limit("take_off_window_hours") / 24
    return (
        f"the air of {air.room} was not read in the last {days:g} days: look at a dial first,"
        f" wingrest air {air.room} RH"
    )


def _notes(time: BoardTime | None, size: fit.Size) -> Iterable[str]:
    if time is not None and time.note:
        yield time.note
    if size.estimated:
        yield size.estimated


def _latest(dates: Sequence[date | None]) -> date | None:
    """Return the latest date, None when one is missing: no promise is no promise."""
    known = [d for d in dates if d is not None]
    return max(known) if known and len(known) == len(dates) else None
