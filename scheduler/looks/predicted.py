"""Predicted against found: every specimen tested, with what the tests before it foretold."""

from __future__ import annotations

from scheduler.learning.lessons import Lesson
from scheduler.learning.posterior import posteriors
from scheduler.learning.taught import prior_of
from scheduler.rulebook import Rulebook
from scheduler.words.tuples import NamedTuple


class Foretold(NamedTuple):
    """One specimen: half of such were foretold dry by `predicted`, in minima of the table.

    It was soft at `soft`, 0 where it was never found so, and stiff at `stiff`, infinite where it
    was not yet, or drooped afterwards.
    """

    specimen: str
    predicted: float
    soft: float
    stiff: float
    drooped: bool


def foretold(lesson: Lesson, rules: Rulebook) -> tuple[Foretold, ...]:
    """Return every specimen tested in a room, held against what the tests there before it said."""
    prior = prior_of(rules)
    intervals = [one.found.interval for one in lesson.tested]
    found = []
    for n, one in enumerate(lesson.tested):
        (before,) = posteriors([intervals[:n]], prior)
        interval = one.found.interval
        found.append(
            Foretold(
                one.specimen,
                before.progress(0.5, interval.spread),
                interval.above,
                interval.below,
                one.found.drooped,
            )
        )
    return tuple(found)
