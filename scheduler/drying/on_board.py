"""One specimen on its board, and what follows from where it stood; each thing computed once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from scheduler.drying import fit
from scheduler.drying.dates import (
    Dates,
    DateSpan,
    Stretch,
    body_on_board,
    dates_in,
    dried_least,
    stretches,
    worth,
)
from scheduler.drying.paces import Paces
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.words.records import Board, DrynessTest, Placement, Room, Specimen

if TYPE_CHECKING:
    from scheduler.drying.sums import Drying, Side


@dataclass(frozen=True, eq=False)
class OnBoard:
    """A specimen in its slot.

    `stays` are the rooms of its board since local moments, the earliest first; `tests` its
    dryness tests likewise. `unmeasured` are the paces if nobody had measured any air.
    """

    placement: Placement
    specimen: Specimen
    board: Board
    stays: Sequence[tuple[datetime, Room]]
    tests: Sequence[DrynessTest]
    paces: Paces
    unmeasured: Paces
    zone: ZoneInfo

    @property
    def rules(self) -> Rulebook:
        """Return the rules that it dries by."""
        return self.paces.rules

    @cached_property
    def size(self) -> fit.Size:
        """Return its size; an unknown body counts as thick as the groove."""
        return body_on_board(self.specimen, self.board.groove_mm, self.rules)

    @property
    def body_mm(self) -> float:
        """Return the width of its body."""
        return self.size.body_mm

    @property
    def room(self) -> Room | None:
        """Return the room it stands in, None when nobody has said."""
        return self.stays[-1][1] if self.stays else None

    @property
    def stiff(self) -> bool:
        """Say whether it was last tested stiff."""
        return bool(self.tests) and self.tests[-1].verdict == "stiff"

    @cached_property
    def air(self) -> tuple[Stretch, ...]:
        """Return the air it has stood and will stand in, room by room."""
        return self._air(self.paces, self.body_mm, "believed")

    @cached_property
    def dates(self) -> Dates:
        """Return due and clear, moved by its latest soft test."""
        return self._dates(self.paces, self.body_mm, self.air)

    @cached_property
    def spans(self) -> tuple[DateSpan, DateSpan]:
        """Return between which dates due and clear lie: by the unmeasured air, by the body.

        The earliest is that of the slenderest body it may be, should all air that nobody
        measured be drier than believed by a standard deviation of the belief; so the latest.
        """
        thin, thick = self.size.widths
        early = self._dates(self.paces, thin, self._air(self.paces, thin, "drier"))
        late = self._dates(self.paces, thick, self._air(self.paces, thick, "damper"))
        return DateSpan(early.due, late.due), DateSpan(early.clear, late.clear)

    @cached_property
    def assumed_dates(self) -> Dates:
        """Return due and clear if nobody had measured any air."""
        air = self._air(self.unmeasured, self.body_mm, "believed")
        return self._dates(self.unmeasured, self.body_mm, air)

    @cached_property
    def time(self) -> BoardTime | None:
        """Return the table's answer for the air expected where it stands, None: nowhere."""
        if self.room is None:
            return None
        return self.paces.time_in(self.specimen, self.body_mm, self.room)

    def is_due(self, day: date) -> bool:
        """Say whether its minimum board time is over on a date."""
        return self.dates.due is not None and self.dates.due <= day

    def progress(self, at: datetime) -> float:
        """Return how much of the minimum board time has passed at a moment, 0 and beyond 1."""
        return self.worth(at) / self.paces.need(self.specimen, self.body_mm)[0]

    def worth(self, at: datetime) -> float:
        """Return the days at 20 deg C and 50 % that its air was worth up to a moment."""
        return worth(self.air, self._wall(at))

    def tested_on(self, test: DrynessTest) -> date:
        """Return the local date of a test."""
        return self._wall(test.tested_at).date()

    def _air(self, paces: Paces, body_mm: float, side: Side) -> tuple[Stretch, ...]:
        def drying(room: Room) -> Drying | None:
            return paces.drying(room, body_mm, side)

        return stretches(self._wall(self.placement.mounted_at), self.stays, drying)

    def _dates(self, paces: Paces, body_mm: float, air: Sequence[Stretch]) -> Dates:
        need = paces.need(self.specimen, body_mm)
        least = self._least(body_mm)
        return dates_in(air, self.placement.mounted_on, need, self._most(paces), least)

    def _most(self, paces: Paces) -> int:
        """Return the most days from the mounting for which a date is given.

        So many as `longest_days` after the last that is known of it: the move to the room where
        it stands, and the last that was measured there.
        """
        begin = self._wall(self.placement.mounted_at)
        known = begin
        if self.stays:
            since, room = self.stays[-1]
            measured = paces.of(room)
            known = max(begin, since, measured.air.end if measured else since)
        return math.ceil((known - begin) / timedelta(days=1) + self.rules.limit("longest_days"))

    def _least(self, body_mm: float) -> date | None:
        """Return the date before which it is not due: by its state, by its latest soft test."""
        least = []
        if self.specimen.state == "dried":
            least.append(dried_least(self.placement.mounted_on, self.rules))
        if self.tests and not self.stiff:
            again = timedelta(days=self.rules.recheck_days(body_mm))
            least.append(self.tested_on(self.tests[-1]) + again)
        return max(least, default=None)

    def _wall(self, moment: datetime) -> datetime:
        return moment.astimezone(self.zone).replace(tzinfo=None)
