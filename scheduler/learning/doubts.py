"""Where tests contradict each other or what came of them: a room that changed, a hand that errs.

Pure. A doubt leaves no test out of the learning; a person is asked to look.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from scheduler.drying.teaching import EIGHT_IN_TEN
from scheduler.learning.lessons import Lesson
from scheduler.learning.posterior import Posterior, Prior, posteriors
from scheduler.learning.witness import Witness
from scheduler.words import wording
from scheduler.words.tuples import NamedTuple

OF_LATE = 6
"""So many specimens tested last are compared with those tested before them."""

NEVER_SOFT = 20
"""So many in a row that were stiff at their first test say more of the hand than of specimens."""

LATELY = 20
"""A droop is mentioned as long as it is among so many specimens tested last."""


class Doubt(NamedTuple):
    """What does not fit in a room's tests, and the specimens that it is about."""

    kind: str
    specimens: tuple[str, ...]
    text: str


def doubts(lesson: Lesson, prior: Prior) -> Iterator[Doubt]:
    """Yield what does not fit in the tests of a room; what may cost most comes first."""
    if lesson.taught.enough:
        yield from _drooped(lesson.tested[-LATELY:])
        yield from _changed(lesson.tested, prior)
        yield from _never_soft(lesson.tested)


def _drooped(tested: Sequence[Witness]) -> Iterator[Doubt]:
    drooped = tuple(one.specimen for one in tested if one.found.drooped)
    if drooped:
        text = (
            f"{wording.listed(drooped)} drooped after coming off: specimens here are tested later"
            " for a while. Feel a second time, on another day, before you take off"
        )
        yield Doubt("drooped", drooped, text)


def _changed(tested: Sequence[Witness], prior: Prior) -> Iterator[Doubt]:
    telling = [one for one in tested if one.found.tells]
    before, lately = telling[:-OF_LATE], telling[-OF_LATE:]
    if len(before) < OF_LATE:
        return
    was, is_now = (_alone(those, prior) for those in (before, lately))
    low, high = EIGHT_IN_TEN
    later = is_now.factor(low) > was.factor(high)
    if later or is_now.factor(high) < was.factor(low):
        text = (
            f"the last {OF_LATE} dried in {is_now.factor():.2f} times the table's days, those"
            f" before in {was.factor():.2f}: has the place changed, its heating, its gauge, or"
            " who tests?"
        )
        yield Doubt("changed", tuple(one.specimen for one in lately), text)


def _never_soft(tested: Sequence[Witness]) -> Iterator[Doubt]:
    last = tested[-NEVER_SOFT:]
    stiff = [one for one in last if one.found.interval.above <= 0]
    if len(stiff) == len(last) == NEVER_SOFT and all(
        not math.isinf(one.found.interval.below) for one in last
    ):
        text = (
            f"the last {NEVER_SOFT} were all stiff at their first test. Test one or two a few days"
            " before they are due: soft ones tell how soon is too soon"
        )
        yield Doubt("never soft", (), text)


def _alone(tested: Sequence[Witness], prior: Prior) -> Posterior:
    (believed,) = posteriors([[one.found.interval for one in tested]], prior)
    return believed
