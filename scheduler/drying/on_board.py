"""One specimen on its board, and what follows from where it stood; each thing computed once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from scheduler.drying import fit
from scheduler.drying.dates import (
    Dates,
    Paces,
    Stretch,
    Times,
    body_on_board,
    dates_in,
    dried_least,
    progress_in,
    stretches,
)
from scheduler.rulebook import Rulebook
from scheduler.words.records import Board, DrynessTest, Placement, Room, Specimen


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
        return self._air(self.paces)

    @cached_property
    def dates(self) -> Dates:
        """Return due and clear, moved by its latest soft test."""
        return dates_in(self.air, self._least)

    @cached_property
    def assumed_dates(self) -> Dates:
        """Return due and clear if nobody had measured any air."""
        return dates_in(self._air(self.unmeasured), self._least)

    def dates_if(self, onward: float | None) -> Dates:
        """Return due and clear if its room went on drying at this rate; None: as expected."""
        return dates_in(self.air, self._least, onward)

    def is_due(self, day: date) -> bool:
        """Say whether its minimum board time is over on a date."""
        return self.dates.due is not None and self.dates.due <= day

    def progress(self, at: datetime) -> float:
        """Return how much of the minimum board time has passed at a moment, 0 and beyond 1."""
        return progress_in(self.air, self._wall(at))

    def tested_on(self, test: DrynessTest) -> date:
        """Return the local date of a test."""
        return self._wall(test.tested_at).date()

    def _air(self, paces: Paces) -> tuple[Stretch, ...]:
        def times(room: Room) -> Times:
            return paces.times(self.specimen, self.body_mm, room)

        return stretches(self.placement.mounted_on, self.stays, times)

    @cached_property
    def _least(self) -> date | None:
        """Return the date before which it is not due: by its state, by its latest soft test."""
        least = []
        if self.specimen.state == "dried":
            least.append(dried_least(self.placement.mounted_on, self.rules))
        if self.tests and not self.stiff:
            again = timedelta(days=self.rules.recheck_days(self.body_mm))
            least.append(self.tested_on(self.tests[-1]) + again)
        return max(least, default=None)

    def _wall(self, moment: datetime) -> datetime:
        return moment.astimezone(self.zone).replace(tzinfo=None)
