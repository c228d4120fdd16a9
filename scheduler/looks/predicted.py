"""Predicted against found: every tested specimen, with what the tests before it predicted."""

from __future__ import annotations

from scheduler.learning.lessons import Lesson
from scheduler.learning.posterior import posteriors
from scheduler.learning.taught import prior_of
from scheduler.rulebook import Rulebook
from scheduler.words.tuples import NamedTuple


class Foretold(NamedTuple):
    """One specimen: half of its kind were expected to be dry by `predicted`, in table's minima.

    It was last soft at `soft` (0: never found soft) and first stiff after that at `stiff`
    (infinite: not yet, or it drooped afterwards).
    """

    specimen: str
    predicted: float
    soft: float
    stiff: float
    drooped: bool


def foretold(lesson: Lesson, rules: Rulebook) -> tuple[Foretold, ...]:
    """Return every specimen tested in a room, compared with what the tests before it said."""
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
