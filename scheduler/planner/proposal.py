"""A plan: what is proposed, how good it is, and what stood on the boards when it was made.

All that a kept plan is read back into; the problem that it answers is `planner.problem`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

from scheduler.words.records import Basis
from scheduler.words.tuples import NamedTuple


class PlanStanding(NamedTuple):
    """What stands on a board now and until `free_on`.

    `free_on` is the first date from which the slot counts as free: a date between due and
    clear, or the date of the plan when it is due already; None when nothing can be promised
    (the slot is taken to the end of the plan).
    """

    specimen: str
    board: str
    from_mm: int
    to_mm: int
    due: date | None
    clear: date | None
    free_on: date | None


class Planned(NamedTuple):
    """One proposed placement. `due` and `clear` are None where the air gives no time.

    `relax_from` is None for what needs no chamber. `after` names what must be tested and
    taken off first so that the slot is free.
    """

    specimen: str
    session: str
    board: str
    from_mm: int
    to_mm: int
    relax_from: datetime | None
    out_by: datetime | None
    mount_at: datetime
    due: date | None
    clear: date | None
    min_days: int | None
    plan_days: int | None
    rule_ids: tuple[str, ...]
    basis: Basis | None
    minutes: int
    after: tuple[str, ...] = ()


@dataclass(frozen=True)
class Quality:
    """The four tiers, compared in this order; smaller is better.

    `spoiled` counts what tier 1 weighs; `unsavable` names those that no plan could save.
    """

    spoiled_priority: int
    weighted_waiting_days: int
    spare_groove_mm: float
    blocked_board_days: int
    spoiled: int = field(compare=False)
    unsavable: tuple[str, ...] = field(compare=False, default=())

    @property
    def tiers(self) -> tuple[int, int, float, int]:
        """Return the four tiers, the weightiest first."""
        blocked = self.blocked_board_days
        return self.spoiled_priority, self.weighted_waiting_days, self.spare_groove_mm, blocked

    def __lt__(self, other: Quality) -> bool:
        return self.tiers < other.tiers

    def __le__(self, other: Quality) -> bool:
        return self.tiers <= other.tiers


NO_PRICES: Mapping[str, float] = {}


class Scarce(NamedTuple):
    """What is scarce: how fast the bound on the weighted waiting falls with more of it.

    `minute` per session (by id) and minute; `board_mm` per kind of board, named by the id of
    its first board: per mm of groove more in every session. With that one change, and as much
    let spoil, no plan waits less than the bound that these prices give less price x change. A
    plan that is above its bound now can gain that much more. A session in which nothing can be
    mounted, or nothing be taken off, has no price: nobody knows what its first minutes save.
    """

    minute: Mapping[str, float] = NO_PRICES
    board_mm: Mapping[str, float] = NO_PRICES


UNPRICED = Scarce()
NOBODY_OFF: Mapping[str, str] = {}

Status = Literal["heuristic", "bounded", "mended", "optimal"]


class Plan(NamedTuple):
    """A proposal: placements in mounting order by session, and why the others wait.

    `by_hand` is the quality of planning by hand. `status` "optimal": proven that no plan is
    better on the first two tiers. "bounded": every plan that lets no more spoil waits at least
    `bound` weighted days. "mended": an earlier plan, brought up to the record. "heuristic":
    nothing is known of how good it is. `stopped`: the search was broken off. `off` says at which
    session what stands, or is planned, comes off; what it does not name stays to the end.
    """

    placements: tuple[Planned, ...]
    unplaced: tuple[tuple[str, str], ...]
    quality: Quality
    by_hand: Quality | None = None
    status: Status = "heuristic"
    bound: int | None = None
    scarce: Scarce = UNPRICED
    stopped: bool = False
    off: Mapping[str, str] = NOBODY_OFF

    @property
    def gap(self) -> float | None:
        """Return the part of its weighted waiting above the bound; None where none is known."""
        waits = self.quality.weighted_waiting_days
        if self.bound is None:
            return None
        return 0.0 if waits <= self.bound else (waits - self.bound) / waits
