"""How much a test counts whose specimen stood together with others in air that nobody ever read.

Pure. What nobody knows of the air is the same for all that stood in it: ten soft tests after a damp
fortnight without a dial are not ten witnesses. How much of it was the weather's and how much the
room's own, tests of one time cannot tell; those of separate times can. So each counts as one part
in its design effect, which is 1 + the sum of its correlations with the others (Kish's effective
sample size; from memory). The correlation of two is the share of their variance that is of air
which they shared. Where a dial or a logger was read, the belief of the air answers for this.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import timedelta

from scheduler.learning.witness import Witness

_DAY = timedelta(days=1)


def in_shared_air(those: Sequence[Witness], own: float) -> list[Witness]:
    """Return the witnesses of one room, each counting less the more unread air it shared.

    own: the standard deviation of ln progress of what differs between specimens.
    """
    parts = [one.unread / math.hypot(own, one.found.interval.spread) for one in those]
    return [
        one._replace(
            found=one.found._replace(
                interval=one.found.interval._replace(counts=1 / _design(n, those, parts))
            )
        )
        for n, one in enumerate(those)
    ]


def _design(mine: int, those: Sequence[Witness], parts: Sequence[float]) -> float:
    """Return the design effect of one test among those of its room."""
    one, part = those[mine], parts[mine]
    if not part:
        return 1.0
    others = (
        part * parts[n] * _together(one, other)
        for n, other in enumerate(those)
        if n != mine and parts[n]
    )
    return 1.0 + sum(others)


def _together(one: Witness, other: Witness) -> float:
    """Return the share of their time on the boards that two had together, 0 to 1."""
    both = min(one.last, other.last) - max(one.since, other.since)
    if both <= timedelta(0):
        return 0.0
    return (both / _DAY) / math.sqrt(_days(one) * _days(other))


def _days(one: Witness) -> float:
    return (one.last - one.since) / _DAY
