"""A plan: what is proposed, how good it is, and what stood on the boards when it was made.

These are the records into which a kept plan is read back; `planner.problem` has the problem.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Literal

from scheduler.words.held import held
from scheduler.words.records import Basis
from scheduler.words.tuples import NamedTuple


class PlanStanding(NamedTuple):
    """A specimen that stands on a board now.

    `free_on` is the first date on which its slot counts as free: a date between due and clear, or
    the date of the plan when it is due already; None when nothing can be promised, so that the
    slot is taken to the end of the plan.
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

    `relax_from` and `out_by` are None for what needs no chamber. `after` names what must be tested
    and taken off first so that the slot is free.
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


@held
class Quality:
    """The four tiers, compared in this order; smaller is better.

    `spoiled` is the number of specimens behind tier 1; `unsavable` names those that no plan could
    save.
    """

    spoiled_priority: int
    weighted_waiting_days: int
    spare_groove_mm: float
    blocked_board_days: int
    spoiled: int
    unsavable: tuple[str, ...] = ()

    @property
    def tiers(self) -> tuple[int, int, float, int]:
        """Return the four tiers, the most important first."""
        blocked = self.blocked_board_days
        return self.spoiled_priority, self.weighted_waiting_days, self.spare_groove_mm, blocked

    @property
    def figures(self) -> tuple[object, ...]:
        """Return all it holds, in the order in which it is made."""
        return *self.tiers, self.spoiled, self.unsavable

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Quality) and self.tiers == other.tiers

    def __hash__(self) -> int:
        return hash(self.tiers)

    def __lt__(self, other: Quality) -> bool:
        return self.tiers < other.tiers

    def __le__(self, other: Quality) -> bool:
        return self.tiers <= other.tiers


NO_PRICES: Mapping[str, float] = {}


class Scarce(NamedTuple):
    """How much less the weighted waiting could be with more of what is scarce.

    `minute` is the price of one more minute, by the id of a session. `board_mm` is the price of one
    more mm of groove in every session, by kind of board, named by the id of its first board. With
    that one change, and no more let spoil, no plan waits less than the bound at these prices minus
    price x change; a plan that is above its bound now may gain that gap as well. A session that
    is too short to take off even one specimen has no price: nobody knows what its first minutes
    would save.
    """

    minute: Mapping[str, float] = NO_PRICES
    board_mm: Mapping[str, float] = NO_PRICES


UNPRICED = Scarce()
NOBODY_OFF: Mapping[str, str] = {}

Status = Literal["heuristic", "bounded", "mended", "optimal"]


class Plan(NamedTuple):
    """A proposal: placements by session, in mounting order, and why the others wait.

    `by_hand` is the quality of the plan by hand. `status` "optimal" means proven: no plan is better
    on the first two tiers. "bounded": every plan that lets no more spoil waits at least `bound`
    weighted days. "mended": an earlier plan, adapted to the record. "heuristic": nothing is known
    of how good it is. `stopped` says that the search was broken off. `off` is the session at which
    each specimen, standing or planned, comes off; one that it does not name stays to the end.
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
        """Return which part (0-1) of the weighted waiting is above the bound; None without one."""
        waits = self.quality.weighted_waiting_days
        if self.bound is None:
            return None
        return 0.0 if waits <= self.bound else (waits - self.bound) / waits
