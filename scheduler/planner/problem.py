"""The planning problem and its answer, as every planner, bound and referee understands them.

Time is counted in sessions: a slot can be used again only at a session. All dates are local, and
every moment carries the record's zone. Slots are whole mm, `from_mm` included, `to_mm` excluded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time

from scheduler.drying.later import Phase, phase_at
from scheduler.planner.proposal import (
    Plan,
    Planned,
    PlanStanding,
    Quality,
    Scarce,
    Status,
)
from scheduler.words.records import Basis, Refill

__all__ = [
    "BoardDays",
    "Plan",
    "PlanBoard",
    "PlanProblem",
    "PlanSession",
    "PlanStanding",
    "PlanWaiting",
    "Planned",
    "Quality",
    "Scarce",
    "Status",
    "Weights",
]


@dataclass(frozen=True, slots=True)
class PlanBoard:
    """A board that may be used, and the room in which it stands during the whole plan.

    `refill` says where new specimens may join while others, mounted at an earlier session,
    dry on it: anywhere (`any`), only to the right of all of them (`end`), or not at all (`whole`).
    """

    board: str
    length_mm: int
    room: str
    refill: Refill = "any"


@dataclass(frozen=True, slots=True)
class PlanSession:
    """A session that can still be used; in a running one `minutes` are those that are left.

    A running session takes only what is soft at the moment of the plan.
    """

    session: str
    start: datetime
    minutes: int
    running: bool = False

    @property
    def on(self) -> date:
        """Return the session's local date."""
        return self.start.date()


@dataclass(frozen=True, slots=True)
class BoardDays:
    """Whole days from the mounting date to due (`min_days`) and to clear (`plan_days`).

    The slot counts as free after `slot_days`, where these are None after `plan_days`.
    """

    min_days: int
    plan_days: int
    rule_ids: tuple[str, ...]
    basis: Basis
    slot_days: int | None = None

    @property
    def free_days(self) -> int:
        """Return the days from the mounting date until the slot counts as free."""
        return self.plan_days if self.slot_days is None else self.slot_days


@dataclass(frozen=True, slots=True)
class Weights:
    """What counts in a plan, in days of waiting; the values are in `planning.csv`.

    A day of waiting counts 1, and 1 more for every `age_doubles_days` since the specimen was found
    (0: age does not count). Each day past the wished date counts `late_days`, and a groove that
    must be packed `packed_days`. What is dry may come off at the first session for it or at one of
    the next `off_sessions`; what stands now and is still on after those counts `left_days`.
    """

    age_doubles_days: int = 0
    late_days: int = 0
    packed_days: int = 0
    left_days: int = 0
    off_sessions: int = 0


@dataclass(frozen=True, slots=True)
class PlanWaiting:
    """A specimen that waits to be mounted.

    `open_at` is the earliest moment at which it can go into the chamber; `soft_at` is the
    earliest at which it is soft: (chamber_since or open_at) + first_look_hours. `lost_at` is the
    moment after which it must not be mounted, and `lost_why` says where that comes from.
    `spare_mm` maps every board that it fits to groove - body - least clearance; `pack` names those
    whose groove is so wide that it must be packed. `days` has one entry for each room of these
    boards, None where the air gives no time. `first` and `last` are the indices (both included)
    of the sessions open to it; `first` > `last` when there is none. `estimated` says how a size
    was estimated; it is empty when the size was measured. `later` are other ways in which it is
    kept and softened if it is mounted later, by moment; what can go into the cold has one, and
    no `lost_at`. `found_on` is the date from which its age counts, None: from when it is soft.
    """

    specimen: str
    slot_mm: int
    body_mm: float
    minutes: int
    priority: int
    open_at: datetime
    soft_at: datetime
    first_look_hours: float
    most_hours: float
    chamber: bool
    chamber_since: datetime | None
    lost_at: datetime | None
    wanted_by: date | None
    spare_mm: Mapping[str, float]
    pack: frozenset[str]
    days: Mapping[str, BoardDays | None]
    first: int
    last: int
    estimated: str = ""
    lost_why: str = ""
    found_on: date | None = None
    later: tuple[Phase, ...] = ()

    def phase(self, mount_at: datetime) -> Phase:
        """Return how it is kept and softened if it is mounted at this moment."""
        return phase_at(self.later, mount_at) or Phase(
            self.open_at, None, self.chamber, self.first_look_hours, self.most_hours
        )


@dataclass(frozen=True, slots=True)
class PlanProblem:
    """Everything a planner or a referee needs; it follows from the record and the clock alone.

    `end` is the date that stands for "never": the last session's date + 30 days. `take_off_min`
    is how many minutes it takes to take off one specimen. `chamber_places` None means no limit.
    `misfits` are specimens that fit no board in use, with the reason in the trade's words.
    """

    now: datetime
    timezone: str
    end: date
    chamber_places: int | None
    chamber_time: time
    take_off_min: int
    boards: tuple[PlanBoard, ...]
    standing: tuple[PlanStanding, ...]
    sessions: tuple[PlanSession, ...]
    waiting: tuple[PlanWaiting, ...]
    misfits: Mapping[str, str] = field(default_factory=dict)
    weights: Weights = Weights()
