"""The answer at the bench: can I free this board yet.

Pure: a function of the record, the rules and the moment of asking. A board is only as free as its
slowest specimen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from functools import cached_property
from typing import Literal, get_args

from scheduler.air.latest import Air
from scheduler.drying import fit
from scheduler.drying.dates import DateSpan
from scheduler.drying.on_board import OnBoard
from scheduler.drying.teaching import LearnedDates, in_days
from scheduler.rulebook import BoardTime
from scheduler.words import wording
from scheduler.words.records import Basis, Source
from scheduler.words.tuples import NamedTuple

Answer = Literal["empty", "take off", "test it now", "dry, but not today", "not yet", "cannot say"]
ANSWERS: tuple[Answer, ...] = get_args(Answer)
"""From the freest to the least free: a board gives the least free answer of its specimens."""

EXIT_STATUS: dict[Answer, int] = {
    "empty": 0,
    "take off": 0,
    "test it now": 0,
    "dry, but not today": 1,
    "not yet": 1,
    "cannot say": 2,
}


NO_PROMISE = (
    "this date is no promise: in air a little damper than believed it does not dry. Dry or warm "
    "the air, and read the dial often"
)
"""Said of a date whose span has no end: it moves by weeks with the next readings."""

HARDLY = (
    "this air hardly dries it: a date so far ahead would move by weeks with every reading, so none"
    " is given yet. Dry or warm the air, move it, and read the dial often"
)
"""Said of a specimen that has a span and no date."""

NOT_DRYING = "this air does not dry it: move it, dry the air, or open the body"


class SpecimenAnswer:
    """What can be said of one specimen on a board at a local moment.

    Its dates and its answer are computed at once. Everything else is computed when it is asked for,
    because a day's list asks no more of most boards.
    """

    def __init__(self, one: OnBoard, air: Air | None, now: datetime) -> None:
        """Answer for it in its room's air; None: nobody has said in which room its board stands."""
        self._one, self._now = one, now
        self.air = air
        self.answer, self._why = _verdict(one, air, now.date())
        self.due, self.clear = one.told(now.date())
        self.specimen = one.placement.specimen
        self.board = one.placement.board
        self.body_mm = one.size.body_mm
        self.estimated = one.size.estimated
        self.from_mm, self.to_mm = one.placement.from_mm, one.placement.to_mm
        self.mounted_on = one.placement.mounted_on

    @property
    def on_board(self) -> OnBoard:
        """Return the specimen in its slot, with what was computed of it for this answer."""
        return self._one

    @property
    def progress_pct(self) -> int | None:
        """Return how much of the time to due has passed [%], None without a room."""
        return _percent(self._one, self._now) if self._one.time else None

    @property
    def due_span(self) -> DateSpan:
        """Return the dates between which it will be due."""
        return self._one.spans[0]

    @property
    def clear_span(self) -> DateSpan:
        """Return the dates between which its slot will count as clear."""
        return self._one.spans[1]

    @property
    def min_days(self) -> int | None:
        """Return the days to due in the air expected, None where no date is told."""
        return self._days[0]

    @property
    def plan_days(self) -> int | None:
        """Return the days to clear in the air expected, None where no date is told."""
        return self._days[1]

    @property
    def rule_ids(self) -> tuple[str, ...]:
        """Return the ids of the rule rows by which it dries."""
        return self._one.time.rule_ids if self._one.time else ()

    @property
    def basis(self) -> Basis | None:
        """Return the weakest basis of those rows."""
        return self._one.time.basis if self._one.time else None

    @property
    def sources(self) -> tuple[Source, ...]:
        """Return the sources of those rows."""
        return self._one.time.sources if self._one.time else ()

    @property
    def learned(self) -> LearnedDates | None:
        """Return what its room's tests say of it, None where the table's dates stand."""
        return self._one.learned

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """Return why this is the answer, and what else a person should know."""
        due, today = self._one.dates.due, self._now.date()
        why = _waits(self._one, due, today) if due and self.answer == "not yet" else self._why
        return (*why, *_notes(self._one.time, self._one.size))

    @property
    def note(self) -> str:
        """Return the notes as one text."""
        return "; ".join(self.notes)

    @cached_property
    def _days(self) -> tuple[int | None, int | None]:
        hidden = self._one.dates.due and not self.due
        return (None, None) if hidden else _days(self._one)


class BoardAnswer(NamedTuple):
    """What can be said of a board; `test_first` is the stoutest of those that may be tested.

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
    board: str, specimens: Iterable[SpecimenAnswer], standing: int | None = None
) -> BoardAnswer:
    """Answer for a board by those of its specimens that were asked about.

    standing: how many specimens stand on it; None: all were asked about.
    """
    # The stoutest comes first: when it is stiff, the slender ones are too.
    answers = sorted(specimens, key=lambda a: (-a.body_mm, a.from_mm))
    worst: Answer = max((a.answer for a in answers), key=ANSWERS.index, default="empty")
    testable = [a.specimen for a in answers if a.answer in ("test it now", "dry, but not today")]
    return BoardAnswer(
        board=board,
        answer=worst,
        due=_latest([a.due for a in answers]),
        clear=_latest([a.clear for a in answers]),
        test_first=testable[0] if testable else None,
        specimens=tuple(answers),
        others=0 if standing is None else standing - len(answers),
    )


def _days(one: OnBoard) -> tuple[int | None, int | None]:
    """Return the days to due and to clear in the air expected, moved by its room's tests."""
    here, taught = one.time, one.taught
    if here is None:
        return None, None
    if taught is None or here.min_days is None:
        return here.min_days, here.plan_days
    return in_days(here.min_days, taught, one.min_days)


def _percent(one: OnBoard, now: datetime) -> int:
    """Return the progress, rounded down; 100 % is not shown before the date on which it is due."""
    percent = int(100 * one.toward_due(now) + 1e-9)
    # After a soft test the due date is a later one, so more than 100 % is true then.
    return percent if one.is_due(now.date()) or one.tests else min(percent, 99)


def _verdict(one: OnBoard, air: Air | None, today: date) -> tuple[Answer, tuple[str, ...]]:
    """Return the answer and why; for "not yet" `_waits` says why, because that needs the span."""
    if air is None:
        return "cannot say", ("nobody has said in which room the board stands",)
    due = one.dates.due
    if not one.stiff:
        if due is None:
            return "cannot say", (NOT_DRYING,)
        if today < due:
            return "not yet", ()
    limit = one.rules.limit("take_off_rh_pct")
    if air.damper_than(limit):
        why = (
            f"the room's air, {air.said}, is above {limit:g} %, the most at which to take off:"
            " dry wings soften again. Wait for drier air or bring the board into a drier room for"
            " two or three days"
        )
        return "dry, but not today", (why, *((_ask(air, today),) if air.unread else ()))
    if air.never_read:
        return _never_read(one, air, today)
    if air.unread:
        return "dry, but not today", (_ask(air, today),)
    damp = (_in_damp_air(air),) if air.damper_than(one.rules.limit("mould_rh_pct")) else ()
    if one.stiff:
        tested = wording.day(one.tested_on(one.tests[-1]), today)
        return "take off", (f"tested stiff on {tested}", *damp)
    dry_day = "take off on a dry day, never on a rainy day"
    return "test it now", (*_again_said(one, today), dry_day, *damp)


def _in_damp_air(air: Air) -> str:
    return (
        f"the air is damp, {air.said}: leave what gives at all, and keep what comes off in drier"
        " air"
    )


def _waits(one: OnBoard, due: date, today: date) -> tuple[str, ...]:
    """Say how long one that is not due must wait, and how far that can be believed."""
    told = one.told(today).due is not None
    if one.felt_early:
        left = _felt_early_said(one, due if told else None, today)
    else:
        days = (due - today).days
        left = f"{days} more day{'s' * (days != 1)} before a test makes sense" if told else ""
    doubt = HARDLY if not told else NO_PROMISE if not one.has_an_end else ""
    return tuple(filter(None, (left, doubt)))


def _felt_early_said(one: OnBoard, due: date | None, today: date) -> str:
    until = "it is due" if due is None else f"{wording.weekday(due, today)}, and feel it again then"
    return f"felt stiff on {_felt_on(one, today)}, too early to come off: leave it until {until}"


def _again_said(one: OnBoard, today: date) -> tuple[str, ...]:
    """Return what a second stiff test means for one that was felt stiff too early."""
    if one.felt_early is None:
        return ()
    return (f"felt stiff on {_felt_on(one, today)}: if it is stiff again, it may come off",)


def _felt_on(one: OnBoard, today: date) -> str:
    return wording.day(one.tested_on(one.tests[-1]), today)


def _never_read(one: OnBoard, air: Air, today: date) -> tuple[Answer, tuple[str, ...]]:
    """Answer for one that is due or stiff where nobody ever read the air: by time and by hand."""
    by_feel = (
        f"nobody ever read the air of {air.room}: take off only on a day that feels dry, and "
        f"leave wings that give. A dial would say more: wingrest air {air.room} RH"
    )
    if one.stiff:
        felt = wording.day(one.tested_on(one.tests[-1]), today)
        return "take off", (f"tested stiff on {felt}", by_feel)
    return "test it now", (*_again_said(one, today), by_feel)


def _ask(air: Air, today: date) -> str:
    since = "was never read" if air.at is None else f"was last read {wording.moment(air.at, today)}"
    return (
        f"the air of {air.room} {since}, and nothing comes off in air that was not read for a"
        f" day: look at a dial first, wingrest air {air.room} RH"
    )


def _notes(time: BoardTime | None, size: fit.Size) -> Iterable[str]:
    if time is not None and time.note:
        yield time.note
    if size.estimated:
        yield size.estimated


def _latest(dates: Sequence[date | None]) -> date | None:
    """Return the latest date, None when one is missing: then the board has no date."""
    known = [d for d in dates if d is not None]
    return max(known) if known and len(known) == len(dates) else None
