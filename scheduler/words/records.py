"""The words of the trade as frozen records.

Names carry their unit (`_mm`, `_pct`, `_c`, `_days`, `_hours`, `_min`). Moments are aware
datetimes; dates are local dates. Ranges of numbers include the lower bound and exclude the upper.
The records are named tuples: they cost the start of a quick question a tenth of what dataclasses
would.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from typing import Literal, get_args

from scheduler.words.tuples import NamedTuple

State = Literal["fresh", "frozen", "dried"]
Regime = Literal["room", "desiccant", "warm"]
Basis = Literal["published", "scaled", "common practice", "memory"]
SizeClass = Literal["slender", "medium", "stout", "very stout"]
Verdict = Literal["stiff", "soft"]
Refill = Literal["any", "end", "whole"]
Place = Literal["freezer", "fridge", "thawed"]
DoneWith = Literal["labelled", "bagged", "handed over"]

STATES: tuple[State, ...] = get_args(State)
REGIMES: tuple[Regime, ...] = get_args(Regime)
SIZE_CLASSES: tuple[SizeClass, ...] = get_args(SizeClass)
HOSTS_SEEN = ("fed", "bred", "found")
"""How a host is known: seen feeding on it, bred from it, or only found there."""
REFILLS: tuple[Refill, ...] = get_args(Refill)
BASES: tuple[Basis, ...] = get_args(Basis)
"""From the strongest to the weakest: a combined answer carries the weakest of its rows."""

NO_LABEL: Mapping[str, str] = {}
"""The label of a specimen of which nothing is known that a label could say."""


class Settings(NamedTuple):
    """The settings of a whole record; `chamber_places` None means no limit.

    `protected` names species, genera and families that its keeper wants to be warned of.
    `dry_share_pct` is how many of a hundred specimens should be dry on their due date; it counts
    only where a room's own tests tell when specimens are dry.
    """

    timezone: str = "UTC"
    chamber_places: int | None = None
    chamber_time: time = time(20, 0)
    protected: tuple[str, ...] = ()
    dry_share_pct: int = 70


class Room(NamedTuple):
    """Where boards stand. `rh_pct` and `temp_c` are the air assumed without readings."""

    room: str
    regime: Regime = "room"
    rh_pct: float | None = None
    temp_c: float | None = None


class Board(NamedTuple):
    """One spreading board; `length_mm` is the usable groove, counted from its left end.

    `refill` says where new specimens may join while others are drying on it: anywhere
    (`any`), only to the right of all of them (`end`), or not at all (`whole`).
    """

    board: str
    groove_mm: float
    span_mm: float
    length_mm: int
    out: bool = False
    refill: Refill = "any"


class BoardStay(NamedTuple):
    """A board's stay in `room`, from `since` until its next stay begins."""

    board: str
    room: str
    since: datetime


class Specimen(NamedTuple):
    """One insect. Every size may be missing; `fit` estimates, and says so.

    `body_mm` is the width of the thorax, `groove_mm` the groove that one would use for it.
    `available` is the first local date on which it may go into the chamber, `spoils_by` the
    last on which it may still be mounted, `wanted_by` the date by which it should be off the
    board. `priority` is 1-10, 10 the most urgent. `box` is where it lies before it is mounted:
    a box, tray or bag, as its owner calls it. `lot` names specimens that are alike and share
    one label, such as the brood of one rearing. `label` holds Darwin Core terms, and what the
    standard has no term for: when the adult emerged, and how its host is known.
    """

    specimen: str
    family: str | None = None
    group: str | None = None
    taxon: str | None = None
    sex: str | None = None
    body_mm: float | None = None
    size: SizeClass | None = None
    forewing_mm: float | None = None
    wingspan_mm: float | None = None
    groove_mm: float | None = None
    state: State = "frozen"
    frozen_on: date | None = None
    available: date | None = None
    wanted_by: date | None = None
    spoils_by: date | None = None
    priority: int = 1
    minutes: int | None = None
    box: str | None = None
    lot: str | None = None
    label: Mapping[str, str] = NO_LABEL


class Session(NamedTuple):
    """A stretch of bench time; `minutes` 0 means cancelled. `who` None: anybody's."""

    session: str
    start: datetime
    minutes: int
    who: str | None = None

    @property
    def end(self) -> datetime:
        """Return when it is over; a cancelled one is over at its start."""
        return self.start + timedelta(minutes=self.minutes)


class Placement(NamedTuple):
    """One specimen in one slot, from its mounting to its release, as it was really done.

    The slot is `from_mm` (included) to `to_mm` (excluded), whole mm from the board's left
    end; `estimated` says that nobody measured where it is. `id` is 0 for a placement that is
    not recorded yet. `mounted_on` is the local date of `mounted_at`. `session` is the session
    that was recorded as planned, None for what was mounted by hand.
    """

    id: int
    specimen: str
    board: str
    from_mm: int
    to_mm: int
    mounted_at: datetime
    mounted_on: date
    released_at: datetime | None = None
    early_reason: str | None = None
    estimated: bool = False
    rule_ids: tuple[str, ...] = ()
    session: str | None = None


class ChamberStay(NamedTuple):
    """A specimen's stay in the relaxing chamber; `until` None means that it is still inside."""

    specimen: str
    since: datetime
    until: datetime | None = None


class DrynessTest(NamedTuple):
    """A dryness test done by hand on one placement.

    `progress_pct` is how much of the minimum board time was over at that moment, `due_on` the
    due date as it was then, `rh_pct` and `temp_c` the room's air; None where nobody knew.
    """

    placement: int
    tested_at: datetime
    verdict: Verdict
    progress_pct: float | None = None
    rh_pct: float | None = None
    temp_c: float | None = None
    due_on: date | None = None


class Droop(NamedTuple):
    """A wing that sank after its specimen had come off the board: when it was seen, and how."""

    placement: int
    seen_at: datetime
    note: str = ""


class Away(NamedTuple):
    """Days off, first and last included: of the person `who`, of everybody where it is None."""

    from_day: date
    to_day: date
    who: str | None = None

    def has(self, day: date) -> bool:
        """Say whether a local date is one of them."""
        return self.from_day <= day <= self.to_day


class Keeping(NamedTuple):
    """Where a specimen is kept from `since` on, until it is mounted or moved again.

    `thawed` means out of the cold, in ordinary air, and not in the chamber.
    """

    specimen: str
    place: Place
    since: datetime


class Afterwards(NamedTuple):
    """What was done with a specimen once it had come off: labelled, bagged, handed over.

    `whom` is who got it; `note` is any text, such as the number of a permit.
    """

    specimen: str
    step: DoneWith
    at: datetime
    whom: str | None = None
    note: str | None = None


class Photo(NamedTuple):
    """A picture of a specimen: a file, kept beside the record or where its owner has it."""

    specimen: str
    file: str
    taken_at: datetime


class Dial(NamedTuple):
    """The air of a room as somebody read it off a dial."""

    room: str
    read_at: datetime
    rh_pct: float
    temp_c: float | None = None


class SensorOffset(NamedTuple):
    """A correction that a test of a sensor found: add `points` [% rh] to it from `since` on.

    `sensor` is a logger's name, or "dial".
    """

    room: str
    sensor: str
    since: datetime
    points: float


class Source(NamedTuple):
    """Where a rule comes from: a row of `sources.csv` and the place in it."""

    source_id: str
    locator: str
