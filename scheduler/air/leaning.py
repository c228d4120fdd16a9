"""How much years of past days tell of the days ahead: three numbers hold all of it.

A belief is linear in what was seen. So the days before the first one asked about tell it three sums
and no more: one of the usual figure, and those of the weather and the season at its dawn. How much
each day weighs in these sums depends on when readings were taken, so the weights are computed once.
What is believed of an anchor of the rules under any air then costs a product of two lists.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from operator import mul

from scheduler.air.belief import Belief
from scheduler.words.tuples import NamedTuple


class Recalled(NamedTuple):
    """What a day shows when `others` are recalled on it: `own` of its own, `each` of theirs."""

    own: float
    each: float
    others: Sequence[int]


class Leaning:
    """Days from `first` on, as they lean on all that was seen; gives the same as the belief.

    recalled: by day, the other days that tell a little of it; every other day shows its own alone.
    """

    def __init__(self, belief: Belief, first: int, recalled: Mapping[int, Recalled]) -> None:
        self._belief = belief
        self._first = first
        self._recalled = recalled
        self._ahead = [(day, what) for day, what in recalled.items() if day >= first]
        told = belief.weights_of_usual()
        weather, season = belief.weights_at(first)
        self._at_dawn = sum(weather), sum(season)
        self._told = self._unmixed(told)
        self._weather = self._unmixed([*weather, *[0.0] * (belief.days - first)])
        self._season = self._unmixed([*season, *[0.0] * (belief.days - first)])

    def _unmixed(self, weights: list[float]) -> list[float]:
        """Return what each day weighs by itself, from the weights of what days show together."""
        found = weights[:]
        for day, (own, each, others) in self._recalled.items():
            weight = weights[day]
            found[day] += (own - 1) * weight
            for other in others:
                found[other] += each * weight
        return found

    def of(self, seen: Sequence[float], said: float | None) -> list[float]:
        """Return what is believed of every day from `first` on.

        seen: by day, the mean of what was measured on it, 0 where nothing was; said: the usual
        figure that somebody said, None when nobody has.
        """
        usual = self._belief.usual_from(sum(map(mul, self._told, seen)), said)
        weather = sum(map(mul, self._weather, seen)) - usual * self._at_dawn[0]
        season = sum(map(mul, self._season, seen)) - usual * self._at_dawn[1]
        shown = list(seen[self._first :])
        for day, (own, each, others) in self._ahead:
            shown[day - self._first] = own * seen[day] + each * sum(seen[d] for d in others)
        return self._belief.of(shown, usual, self._first, (weather, season))
