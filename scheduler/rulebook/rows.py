"""The rows of the rule tables.

Every row but those of genera.csv and sources.csv carries a `Rule`: where it stands, and on whose
word. Ranges of bodies and of days in the freezer include the lower bound and exclude the upper;
an empty upper bound means no limit.
"""

from __future__ import annotations

from scheduler.words.records import Basis, Source, State
from scheduler.words.tuples import NamedTuple

LIMIT_NAMES = (
    "least_days_dried",
    "take_off_rh_pct",
    "take_off_window_hours",
    "mould_rh_pct",
    "warm_from_c",
    "warm_below_c",
    "chamber_warm_c",
    "chamber_warm_most_hours",
    "fresh_keeps_hours",
    "fridge_keeps_hours",
    "fridge_small_keeps_hours",
    "fridge_fresh_keeps_hours",
    "limp_after_frozen_days",
    "limp_when_fresh_days",
    "stalled_hours",
    "stalled_progress_pct",
    "stalled_warm_c",
    "mould_watch_hours",
    "swing_rh_pct",
    "silent_days",
    "wingspan_per_forewing",
    "wingspan_allowance",
    "body_exponent",
    "body_low",
    "body_high",
    "reference_wingspan_mm",
    "widest_groove_mm",
    "pest_freeze_days",
    "pest_warm_hours",
    "body_slender_mm",
    "body_medium_mm",
    "body_stout_mm",
    "body_very_stout_mm",
    "longest_days",
    "desiccant_rh_pct",
    "warm_rh_pct",
    "air_swing_pct",
    "air_weather_pct",
    "air_weather_days",
    "air_season_pct",
    "air_season_days",
    "air_said_pct",
    "air_unread_pct",
    "promise_days",
    "promise_times",
    "learn_person",
    "learn_room",
    "learn_own",
    "learn_own_doubt",
    "learn_keeps",
    "learn_error",
    "learn_least_tests",
    "learn_last",
    "learn_least",
    "learn_most",
    "learn_step",
    "learn_again",
    "learn_feel_pct",
    "learn_feel_new_pct",
    "learn_risk_pct",
    "learn_after_droop_pct",
    "learn_droop_tests",
    "learn_clear_pct",
)
"""The single numbers that `limits.csv` must give."""

PLANNING_NAMES = (
    "age_doubles_days",
    "late_days",
    "packed_days",
    "slot_pct",
    "left_days",
    "off_sessions",
)
"""The single numbers that `planning.csv` must give."""

SEEN = ("SEEN", "SEEN-2", "MEMORY", "none")
"""Whether a source was read itself, read as quoted elsewhere, remembered, or neither."""

TASKS = ("mount", "take off")

NAME_RANKS = ("genus", "former genus", "subfamily", "former family")
"""What kind of name a row of genera.csv may hold."""


class Rule(NamedTuple):
    """Where a row stands (`line` counts as a spreadsheet does), and on whose word."""

    rule_id: str
    file: str
    line: int
    basis: Basis
    sources: tuple[Source, ...]
    note: str


class BoardTimeRow(NamedTuple):
    """Days on the board at 20 deg C and 50 % for one body width."""

    rule: Rule
    state: State
    body_mm: float
    min_days: float
    plan_days: float


class HumidityRow(NamedTuple):
    """The drying rate of one body width at one humidity, relative to 50 %."""

    rule: Rule
    body_mm: float
    rh_pct: float
    rate: float


class FamilyRow(NamedTuple):
    """A family's names, shape and floors.

    The floors are days at 50 % for what was mounted fresh or frozen; 0 means none. The
    shape (body and wing ratios, typical wingspan) has a basis of its own.
    """

    rule: Rule
    family: str
    groups: tuple[str, ...]
    order: str
    body_per_wingspan: float
    body_length_per_wingspan: float
    wing_depth_fraction: float
    min_days_at_least: float
    plan_days_at_least: float
    typical_wingspan_mm: float | None
    shape_basis: Basis


class RelaxingRow(NamedTuple):
    """How long a body of some state and age in the freezer softens in the chamber."""

    rule: Rule
    state: State
    frozen_days_from: float
    frozen_days_below: float
    body_mm_from: float
    body_mm_below: float
    chamber: bool
    first_look_hours: float
    most_hours: float


class FitRow(NamedTuple):
    """How much wider than body and wings a groove, slot and board must be."""

    rule: Rule
    body_mm_from: float
    body_mm_below: float
    clearance_min_mm: float
    clearance_max_mm: float
    gap_mm: float
    edge_mm: float


class PinRow(NamedTuple):
    """The pin for a body."""

    rule: Rule
    body_mm_from: float
    body_mm_below: float
    pin: str


class HandlingRow(NamedTuple):
    """Minutes at the bench for a task and a body."""

    rule: Rule
    task: str
    body_mm_from: float
    body_mm_below: float
    minutes: int


class RecheckRow(NamedTuple):
    """Days to wait after a dryness test that found the wings still soft."""

    rule: Rule
    body_mm_from: float
    body_mm_below: float
    recheck_days: int


OverBodies = FitRow | PinRow | HandlingRow | RecheckRow
"""The rows that answer for a range of bodies."""


class LimitRow(NamedTuple):
    """A single number."""

    rule: Rule
    name: str
    value: float
    unit: str


class NameRow(NamedTuple):
    """A genus, a subfamily or a former name, with the family it belongs to and its order."""

    name: str
    rank: str
    family: str
    order: str
    source_id: str
    note: str
    line: int


class SourceRow(NamedTuple):
    """A source: who said it, where it can be found, and whether it was seen."""

    source_id: str
    author: str
    year: str
    title: str
    publisher: str
    seen: str
    address: str
    note: str
