"""From what is believed of a room to the progress at which its specimens are due and clear.

Pure. Due comes sooner than by the table only where nearly all are dry by then, and later where
fewer are dry than the share that the person chose; never beyond bounds, and sooner only step by
step.
"""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.drying.teaching import EIGHT_IN_TEN, RoomSays
from scheduler.learning.posterior import DryBetween, Posterior, Prior
from scheduler.rulebook import Rulebook
from scheduler.words.tuples import NamedTuple


class Shares(NamedTuple):
    """How dates follow from what is believed; shares are 0 to 1, progress is in table's minima.

    `share` of the specimens are to be dry at due. Where due would come before the table's minimum,
    all but `risk` times the days of that minimum are to be dry: a long body has more days to save.
    If one drooped among the last `droop_tests`, at least `after_droop` are to be dry then. `clear`
    are to be dry when a slot is counted on. The tests that say something must count as
    `least_tests` before any date follows. Due lies between `least` and `most`, and not before
    `step` times the earliest progress that was ever tested stiff.
    """

    share: float
    risk: float
    after_droop: float
    droop_tests: int
    clear: float
    least_tests: int
    least: float
    most: float
    step: float


class Judged(NamedTuple):
    """What a specimen's tests say: when it was dry, and whether its wings drooped off the board."""

    interval: DryBetween
    drooped: bool = False

    @property
    def tells(self) -> bool:
        """Say whether its tests say something that the table did not."""
        soft_late = self.interval.above >= TOLD_FROM
        return soft_late or self.interval.below <= TOLD_TO


TOLD_FROM, TOLD_TO = 0.5, 1.5
"""A test that is soft before the one or stiff after the other (in table's minima) tells nothing."""


class Taught:
    """What a room's own tests make of the table's days."""

    def __init__(
        self, posterior: Posterior, found: Iterable[Judged], shares: Shares, room: str = ""
    ) -> None:
        found = tuple(found)
        self.room = room
        self.posterior = posterior
        self.shares = shares
        self.tests = sum(one.tells for one in found)
        self.counted = sum(one.interval.counts for one in found if one.tells)
        stiff = [one.interval.below for one in found]
        self.earliest_stiff = min(stiff, default=1.0)
        self.drooped_lately = any(one.drooped for one in found[-shares.droop_tests :])

    @property
    def says(self) -> RoomSays:
        """Return what the tests say of the room."""
        times, low, high = (self.posterior.factor(share) for share in (0.5, *EIGHT_IN_TEN))
        return RoomSays(
            self.room, self.tests, self.counted, times, low, high, round(100 * self.shares.share)
        )

    @property
    def enough(self) -> bool:
        """Say whether it has enough tests for dates of its own."""
        return round(self.counted, 9) >= self.shares.least_tests

    def due(self, min_days: float, spread: float = 0.0) -> float:
        """Return the progress from which to test a specimen with this spread.

        min_days: the table's minimum at 20 deg C and 50 %.
        """
        shares, dry = self.shares, self.posterior.progress
        sooner = min(1.0, dry(max(self._early(min_days), shares.share), spread))
        return self._bounded(max(dry(shares.share, spread), sooner))

    def clear(self, min_days: float, spread: float = 0.0) -> float:
        """Return the progress at which the plan counts on its slot."""
        counted = self._bounded(
            self.posterior.progress(max(self.shares.clear, self.shares.share), spread)
        )
        return max(self.due(min_days, spread), counted)

    def _early(self, min_days: float) -> float:
        """Return the share that must be dry where due comes before the table's minimum."""
        early = 1 - self.shares.risk * min_days
        return max(early, self.shares.after_droop) if self.drooped_lately else early

    def dry(self, share: float, spread: float = 0.0) -> float:
        """Return the progress at which a share (0 to 1) of such specimens is dry."""
        return self.posterior.progress(share, spread)

    def _bounded(self, progress: float) -> float:
        least = max(self.shares.least, self.shares.step * min(1.0, self.earliest_stiff))
        return min(max(progress, least), self.shares.most)


def shares_of(rules: Rulebook, share: float) -> Shares:
    """Return how dates follow, for the share (0 to 1) that a person chose."""
    limit = rules.limit
    return Shares(
        share=share,
        risk=limit("learn_risk_pct") / 100,
        after_droop=limit("learn_after_droop_pct") / 100,
        droop_tests=round(limit("learn_droop_tests")),
        clear=limit("learn_clear_pct") / 100,
        least_tests=round(limit("learn_least_tests")),
        least=limit("learn_least"),
        most=limit("learn_most"),
        step=limit("learn_step"),
    )


def prior_of(rules: Rulebook) -> Prior:
    """Return what is believed of rooms without tests."""
    return Prior(*(rules.limit(f"learn_{name}") for name in Prior._fields))
