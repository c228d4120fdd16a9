"""One specimen on its board, and what follows from where it stood; each result computed once."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from functools import cached_property, partial
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from scheduler.drying import felt, fit
from scheduler.drying.dates import (
    Dates,
    DateSpan,
    Stretch,
    body_on_board,
    dates_in,
    dried_least,
    most_days,
    spread_of_air,
    stretches,
    worth,
)
from scheduler.drying.paces import Paces
from scheduler.drying.teaching import EIGHT_IN_TEN, LearnedDates, Teaching
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.words.held import held
from scheduler.words.records import Board, DrynessTest, Placement, Room, Specimen

if TYPE_CHECKING:
    from scheduler.drying.sums import Side

ROUNDS = 3
"""The date depends a little on the spread of the air, and that on the date: so many rounds."""

NINE_IN_TEN = 1.645
"""So many standard deviations to either side hold nine in ten."""


@held
class OnBoard:
    """A specimen in its slot.

    `stays` are the rooms of its board, each since a local moment, the earliest first; `tests` its
    dryness tests, the earliest first. `unmeasured` are the paces as if nobody had measured any air.
    `teach` gives what the tests of its room taught.
    """

    placement: Placement
    specimen: Specimen
    board: Board
    stays: Sequence[tuple[datetime, Room]]
    tests: Sequence[DrynessTest]
    paces: Paces
    unmeasured: Paces
    zone: ZoneInfo
    teach: Callable[[OnBoard], Teaching | None] | None = None

    @property
    def rules(self) -> Rulebook:
        """Return the rules by which it dries."""
        return self.paces.rules

    @cached_property
    def size(self) -> fit.Size:
        """Return its size; a body of unknown size counts as thick as the groove."""
        return body_on_board(self.specimen, self.board.groove_mm, self.rules)

    @property
    def body_mm(self) -> float:
        """Return the width of its body [mm]."""
        return self.size.body_mm

    @property
    def room(self) -> Room | None:
        """Return the room in which it stands, None when nobody has said."""
        return self.stays[-1][1] if self.stays else None

    @property
    def stiff(self) -> bool:
        """Say whether it was last tested stiff, so that it may come off."""
        return felt.felt_stiff(self) and self.felt_early is None

    @cached_property
    def felt_early(self) -> felt.FeltEarly | None:
        """Return since when it must dry on, None unless it was felt stiff too early."""
        return felt.felt_early(self)

    @cached_property
    def taught(self) -> Teaching | None:
        """Return what its room's tests taught; None when they are too few, or once it came off."""
        standing = self.placement.released_at is None
        return self.teach(self) if self.teach and standing else None

    @cached_property
    def air(self) -> tuple[Stretch, ...]:
        """Return the air it has stood and will stand in, room by room."""
        return self._air(self.paces, self.body_mm, "believed")

    @cached_property
    def dates(self) -> Dates:
        """Return due and clear, moved by what its room's tests taught and by its own tests."""
        if self.taught is None:
            return felt.brought_forward(self.table_dates, self._again_on)
        due, clear = (partial(of, self.min_days) for of in (self.taught.due, self.taught.clear))
        return felt.brought_forward(Dates(self.reached(due), self.reached(clear)), self._again_on)

    @cached_property
    def table_dates(self) -> Dates:
        """Return due and clear by the table and the air, moved by its latest soft test."""
        return self._dates(self.paces, self.body_mm, self.air)

    @cached_property
    def learned(self) -> LearnedDates | None:
        """Return what its room's tests say of it; None where the table's dates stand."""
        if self.taught is None:
            return None
        says, dry = self.taught.says, self.taught.dry
        share, first, last = (
            self.reached(partial(dry, at)) for at in (says.share_pct / 100, *EIGHT_IN_TEN)
        )
        by_air = self._dates(self.paces, self.body_mm, self.air, least=self.least_dried)
        return LearnedDates(says, share, DateSpan(first, last), *self.table_dates, by_air.due)

    @cached_property
    def spans(self) -> tuple[DateSpan, DateSpan]:
        """Return the spans of due and of clear, by the unmeasured air and by the body.

        The earliest are those of the slenderest body it may be, if all unmeasured air is drier than
        believed by a standard deviation of the belief; the latest the other way round.
        """
        early, late = self._at_a_side(self.size.widths[0], "drier"), self._latest
        return DateSpan(early.due, late.due), DateSpan(early.clear, late.clear)

    @property
    def has_an_end(self) -> bool:
        """Say whether it will be due even in air as damp as its span allows."""
        return self._latest.due is not None

    @cached_property
    def _latest(self) -> Dates:
        return self._at_a_side(self.size.widths[1], "damper")

    def _at_a_side(self, body_mm: float, side: Side) -> Dates:
        times: tuple[float, float | None] = (1.0, None)
        if self.taught:
            times = self.taught.due(self.min_days), self.taught.clear(self.min_days)
        dates = self._dates(self.paces, body_mm, self._air(self.paces, body_mm, side), times)
        return felt.brought_forward(dates, self._again_on)

    def told(self, day: date) -> Dates:
        """Return the dates that are told on a day; none far ahead in air that hardly dries it.

        Where nobody reads the air its dates do not move, and time and hand decide: there they are
        told.
        """
        due = self.dates.due
        unread = self.room is None or self.paces.of(self.room) is None
        limit = self.rules.limit
        if due is None or unread or due - day <= timedelta(days=limit("promise_days")):
            return self.dates
        times = limit("promise_times") * (self.taught.due(self.min_days) if self.taught else 1.0)
        soon = self.placement.mounted_on + timedelta(days=int(times * self.min_days))
        by_air = due > max(soon, self._least(self.body_mm))
        return Dates(None, None) if by_air or not self.has_an_end else self.dates

    @cached_property
    def assumed_dates(self) -> Dates:
        """Return due and clear as if nobody had measured any air."""
        air = self._air(self.unmeasured, self.body_mm, "believed")
        return self._dates(self.unmeasured, self.body_mm, air)

    @cached_property
    def time(self) -> BoardTime | None:
        """Return the table's answer for the air expected where it stands, None without a room."""
        if self.room is None:
            return None
        return self.paces.time_in(self.specimen, self.body_mm, self.room)

    def is_due(self, day: date) -> bool:
        """Say whether its minimum board time is over on a date."""
        return self.dates.due is not None and self.dates.due <= day

    @property
    def min_days(self) -> float:
        """Return the table's minimum [days at 20 deg C and 50 %]."""
        return self.paces.need(self.specimen, self.body_mm)[0]

    def progress(self, at: datetime) -> float:
        """Return the share of the minimum board time that has passed at a moment; may exceed 1."""
        return self.worth(at) / self.min_days

    def toward_due(self, at: datetime) -> float:
        """Return the share of the time to due that has passed at a moment; may exceed 1."""
        due = self.taught.due(self.min_days, self.spread(at)) if self.taught else 1.0
        again = self.felt_early and self.felt_early.again
        return self.progress(at) / min(due, again or due)

    def spread(self, at: datetime) -> float:
        """Return the standard deviation of ln progress at a moment, by its body and its air.

        A body that nobody measured lies within its widths nine times in ten; the air that nobody
        read lies within one spread of the belief to either side.
        """
        return math.hypot(self._body_spread, self.air_spread(at))

    def air_spread(self, at: datetime) -> float:
        """Return the part of `spread` that is of the air."""
        return self._air_spread(self._wall(at))

    def worth(self, at: datetime) -> float:
        """Return the days at 20 deg C and 50 % that its air was worth up to a moment."""
        return worth(self.air, self._wall(at))

    def reached(self, progress: Callable[[float], float], least: date | None = None) -> date | None:
        """Return the date on which a progress is reached, which depends on the spread by then.

        least: it is not before this date; None: not before that of its state and its soft tests.
        """
        mounted = self._wall(self.placement.mounted_at)
        least, most = least or self._least(self.body_mm), self._most(self.paces)
        spread, day = self._body_spread, None
        for _ in range(ROUNDS):
            worth = self.min_days * progress(spread)
            day = dates_in(self.air, self.placement.mounted_on, (worth, worth), most, least).due
            if day is None:
                break
            then = mounted + timedelta(days=(day - self.placement.mounted_on).days)
            spread = math.hypot(self._body_spread, self._air_spread(then))
        return day

    def tested_on(self, test: DrynessTest) -> date:
        """Return the local date of a test."""
        return self._wall(test.tested_at).date()

    @cached_property
    def _again_on(self) -> date | None:
        again = self.felt_early and self.felt_early.again
        return felt.again_on(self, again) if again else None

    @cached_property
    def _body_spread(self) -> float:
        thin, thick = (self.paces.need(self.specimen, mm)[0] for mm in self.size.widths)
        return math.log(thick / thin) / (2 * NINE_IN_TEN)

    def _air_spread(self, wall: datetime) -> float:
        return spread_of_air(*(worth(air, wall) for air in self._sides))

    @cached_property
    def _sides(self) -> tuple[tuple[Stretch, ...], tuple[Stretch, ...]]:
        drier, damper = (self._air(self.paces, self.body_mm, s) for s in ("drier", "damper"))
        return drier, damper

    def _air(self, paces: Paces, body_mm: float, side: Side) -> tuple[Stretch, ...]:
        drying = partial(paces.drying, body_mm=body_mm, side=side)
        return stretches(self._wall(self.placement.mounted_at), self.stays, drying)

    def _dates(
        self,
        paces: Paces,
        body_mm: float,
        air: Sequence[Stretch],
        times: tuple[float, float | None] = (1.0, None),
        least: date | None = None,
    ) -> Dates:
        """Return due and clear at so many times the table's minimum; None: at the table's clear.

        least: neither comes before this date; None: before that of its state and its tests.
        """
        due, clear = paces.need(self.specimen, body_mm)
        need = (times[0] * due, clear if times[1] is None else times[1] * due)
        least = least or self._least(body_mm)
        return dates_in(air, self.placement.mounted_on, need, self._most(paces), least)

    def _most(self, paces: Paces) -> int:
        """Return the most days from the mounting for which a date is given, by its room."""
        known: list[datetime] = []  # the move to where it stands, and the last measured there
        for since, room in self.stays[-1:]:
            measured = paces.of(room)
            known += [since, measured.air.end] if measured else [since]
        mounted, longest = self.placement.mounted_at, self.rules.limit("longest_days")
        return most_days(self._wall(mounted), known, longest)

    def _least(self, body_mm: float) -> date:
        """Return the date before which it is not due, by its state and by its latest soft test."""
        least = [self.least_dried]
        soft = [test for test in self.tests if test.verdict == "soft"]
        if soft:
            least.append(
                self.tested_on(soft[-1]) + timedelta(days=self.rules.recheck_days(body_mm))
            )
        return max(least)

    @property
    def least_dried(self) -> date:
        """Return the mounting date, or a later one for what was dry when it was softened."""
        on = self.placement.mounted_on
        return dried_least(on, self.rules) if self.specimen.state == "dried" else on

    def _wall(self, moment: datetime) -> datetime:
        return moment.astimezone(self.zone).replace(tzinfo=None)
