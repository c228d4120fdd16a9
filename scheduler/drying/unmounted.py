"""One waiting specimen, and what follows from where it was; each result computed once."""

from __future__ import annotations

from datetime import datetime
from functools import cached_property

from scheduler.drying import fit
from scheduler.drying.later import Phase, kept_later, phase_at
from scheduler.drying.softening import Been, Softening, softening
from scheduler.rulebook import Rulebook
from scheduler.words.records import ChamberStay, Keeping, Place, Specimen


class Unmounted:
    """A waiting specimen, at a moment under rules."""

    def __init__(self, specimen: Specimen, been: Been, rules: Rulebook, now: datetime) -> None:
        self.specimen, self.been, self.rules, self.now = specimen, been, rules, now

    @cached_property
    def size(self) -> fit.Size | None:
        """Return its size, None when there is nothing to estimate it from."""
        return fit.size_of(self.specimen, self.rules)

    @cached_property
    def softening(self) -> Softening:
        """Return how it becomes soft and when it spoils; an unknown body counts as very stout."""
        return self.softening_at(self.now)

    def softening_at(self, at: datetime) -> Softening:
        """Return how it becomes soft, as things stood at a moment."""
        return softening(self.specimen, self._body_mm, self.been, self.rules, at)

    def softening_in(self, stay: ChamberStay) -> Softening:
        """Return how it becomes soft, or became soft, in one stay in the chamber."""
        since, specimen = stay.since.astimezone(self.been.zone), self.specimen
        # If it was frozen only after it went in, it was fresh then.
        if specimen.state == "frozen" and (specimen.frozen_on or since.date()) > since.date():
            specimen = specimen._replace(state="fresh")
        there = self.been._replace(stays=(stay._replace(until=None),))
        return softening(specimen, self._body_mm, there, self.rules, since)

    @cached_property
    def later(self) -> tuple[Phase, ...]:
        """Return how it is kept and softened if it is mounted later; empty if as it is now."""
        return kept_later(
            self.specimen, self._body_mm, self.softening, self.been, self.rules, self.now
        )

    @property
    def cold(self) -> Place | None:
        """Return the cold place that keeps it from spoiling, None if it needs none or none helps.

        Where it needs several, the one that comes first.
        """
        return next((phase.place for phase in self.later if phase.place is not None), None)

    def first_look_hours(self, mount_at: datetime) -> float:
        """Return the fewest hours that it must be in the chamber to be mounted at a moment."""
        return (phase_at(self.later, mount_at) or self.softening).first_look_hours

    @property
    def kept(self) -> Keeping | None:
        """Return where it was last said to be kept."""
        return self.been.keeping

    @property
    def _body_mm(self) -> float:
        return self.rules.limit("body_very_stout_mm") if self.size is None else self.size.body_mm
