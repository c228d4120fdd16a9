"""Everything that a record's tests taught, by room, for bodies like those tested there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from scheduler.drying.on_board import OnBoard
from scheduler.drying.teaching import in_days
from scheduler.learning.posterior import posteriors
from scheduler.learning.shared_air import in_shared_air
from scheduler.learning.taught import Shares, Taught, prior_of
from scheduler.learning.witness import Drier, Witness, drier_of, stoutness
from scheduler.rulebook import Rulebook
from scheduler.words.records import Room, Specimen
from scheduler.words.tuples import NamedTuple


class Lesson(NamedTuple):
    """What is believed of a room, and the specimens whose tests say so, the oldest first."""

    taught: Taught
    tested: tuple[Witness, ...]

    def speaks_for(self, stout: int) -> bool:
        """Say whether specimens of this class of stoutness or of a neighbouring one were tested."""
        return any(abs(one.stoutness - stout) <= 1 for one in self.tested)


class Lessons:
    """What was taught of every room in which anything was tested."""

    def __init__(self, every: Iterable[Witness], shares: Shares, rules: Rulebook) -> None:
        self.shares = shares
        self.rules = rules
        each: dict[Drier, list[Witness]] = {}
        for one in sorted(every, key=lambda one: (one.last, one.specimen)):
            each.setdefault(one.drier, []).append(one)
        own = rules.limit("learn_own")
        groups = {drier: in_shared_air(those, own) for drier, those in each.items()}
        intervals = [[one.found.interval for one in those] for those in groups.values()]
        self.rooms: Mapping[Drier, Lesson] = {
            drier: Lesson(
                Taught(believed, [one.found for one in those], shares, drier.said), tuple(those)
            )
            for (drier, those), believed in zip(
                groups.items(), posteriors(intervals, prior_of(rules)), strict=True
            )
        }

    def of(self, one: OnBoard) -> Taught | None:
        """Return what was taught about one on a board, None where the table's dates stand."""
        if one.room is None:
            return None
        return self._taught(drier_of(one.specimen, one.room.room), one.body_mm)

    def days(
        self, specimen: Specimen, body_mm: float, room: Room, table: tuple[int, int]
    ) -> tuple[int, int]:
        """Return the days to due and to clear of one to be mounted, given those of the table.

        They are rounded up; where nothing was learned they are the table's.
        """
        taught = self._taught(drier_of(specimen, room.room), body_mm)
        if taught is None:
            return table
        family = self.rules.kin(specimen).row.family
        ordinary = self.rules.at_50(family=family, body_mm=body_mm, state=specimen.state)
        return in_days(table[0], taught, ordinary.min_days)

    def _taught(self, drier: Drier, body_mm: float) -> Taught | None:
        lesson = self.rooms.get(drier)
        if lesson is None or not lesson.taught.enough:
            return None
        return lesson.taught if lesson.speaks_for(stoutness(body_mm, self.rules)) else None
