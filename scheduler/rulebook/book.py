"""The rule tables in force, and what they answer: pure functions that name their rows."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import TypedDict, TypeVar

from scheduler.rulebook.answers import (
    BoardTime,
    Pin,
    Reckoning,
    Relaxing,
    along,
    cited,
    require_measures,
    sooner_note,
    straddle,
    weakest,
)
from scheduler.rulebook.files import RuleTables
from scheduler.rulebook.kin import Kin, Kinship
from scheduler.rulebook.rows import (
    BoardTimeRow,
    FamilyRow,
    FitRow,
    HumidityRow,
    LimitRow,
    NameRow,
    OverBodies,
    Rule,
    SourceRow,
)
from scheduler.words.records import Regime, SizeClass, Specimen, State

B = TypeVar("B", bound=OverBodies)


class TimeAsked(TypedDict):
    """What a time on the board is asked for, but for the air."""

    family: str | None
    body_mm: float
    state: State
    regime: Regime


class Rulebook:
    """The rule tables in force; every answer is pure and names its rows."""

    def __init__(
        self,
        tables: RuleTables,
        read_names: Callable[[], Iterable[NameRow]] = tuple,
        shipped: Rulebook | None = None,
    ) -> None:
        """Take the tables; `shipped` are those that own rows stand in for, if any do."""
        self.tables = tables
        self.shipped = shipped
        self.sources: Mapping[str, SourceRow] = {row.source_id: row for row in tables.sources}
        self.families: tuple[FamilyRow, ...] = tables.families
        self.bodies: tuple[float, ...] = tuple(sorted({r.body_mm for r in tables.humidity}))
        self.humidities: tuple[float, ...] = tuple(sorted({r.rh_pct for r in tables.humidity}))
        self._rates = {(row.body_mm, row.rh_pct): row for row in tables.humidity}
        self._limits = {row.name: row for row in (*tables.limits, *tables.planning)}
        self.kinship = Kinship(self.families, read_names)
        self._mounting = [row for row in tables.handling if row.task == "mount"]
        self._anchors: dict[tuple[State, Regime], list[BoardTimeRow]] = {}
        for row in tables.board_time:
            self._anchors.setdefault((row.state, row.regime), []).append(row)

    @cached_property
    def rules(self) -> Mapping[str, Rule]:
        """Every row's rule by its id."""
        return {rule.rule_id: rule for rule in self.tables.rules()}

    def limit(self, name: str) -> float:
        """Return a single number of limits.csv or planning.csv; an unknown name raises KeyError."""
        return self._limits[name].value

    def limit_row(self, name: str) -> LimitRow:
        """Return the row of a single number, with its basis and sources."""
        return self._limits[name]

    def family(self, name: str | None, group: str | None = None) -> FamilyRow:
        """Return the row of a family, else of a vernacular group, else of `any`."""
        return self.kinship.of(name, group).row

    def kin(self, specimen: Specimen) -> Kin:
        """Return whose row answers for a specimen: by its family, its group, else its genus."""
        return self.kinship.of(specimen.family, specimen.group, specimen.taxon)

    def board_time(
        self,
        *,
        family: str | None,
        body_mm: float,
        state: State,
        regime: Regime,
        rh_pct: float | None,
    ) -> BoardTime:
        """Return the time on the board.

        family: family or group; body_mm: width of the thorax [mm]; rh_pct: relative humidity
        of the room at 20 deg C [%]. The humidity counts in the regime `room` alone, where
        None means that the air is unknown and gives no days. Frozen counts as fresh. A body
        that is not above 0 mm, or a humidity that is not a number, raises ValueError.
        """
        asked: TimeAsked = {"family": family, "body_mm": body_mm, "state": state, "regime": regime}
        time = self.bare_time(**asked, rh_pct=rh_pct)
        if self.shipped is None:
            return time
        note = sooner_note(time, self.shipped.bare_time(**asked, rh_pct=rh_pct))
        return time._replace(note=f"{note} {time.note}".rstrip()) if note else time

    def bare_time(
        self,
        *,
        family: str | None,
        body_mm: float,
        state: State,
        regime: Regime,
        rh_pct: float | None,
    ) -> BoardTime:
        """Return the time on the board, without a word on the shipped tables beside it."""
        reckoning = self._at_50_pct(body_mm, state, regime)
        self._keep_family_floor(reckoning, self.family(family), state, regime)
        if regime == "warm":
            reckoning.notes.append(self._warm_note())
        if regime == "room" and not self._slow_down(reckoning, body_mm, rh_pct):
            reckoning.notes.append(self._instead(family, body_mm, state, rh_pct))
            return reckoning.answer(dries=False)
        if state == "dried":
            least = self._limits["least_days_dried"]
            reckoning.raise_to(least.value, least.value, least.rule)
        return reckoning.answer()

    def rate(self, body_mm: float, rh_pct: float) -> float:
        """Return the drying rate in a room relative to 50 %.

        body_mm: width of the thorax [mm]; rh_pct: relative humidity at 20 deg C [%]. A rate
        under the limit `least_rate` counts as 0.
        """
        rate = self.bare_rate(body_mm, rh_pct)
        return rate if rate >= self.limit("least_rate") else 0.0

    def relaxing(
        self, *, state: State, frozen_days: int | None, body_mm: float, temp_c: float | None
    ) -> Relaxing:
        """Return how long a specimen softens in the chamber.

        frozen_days: days in the freezer, None when unknown: then the longest row answers;
        body_mm: width of the thorax [mm]; temp_c: the chamber's room [deg C], None when
        unknown: then it counts as ordinary. In a warm room decay comes sooner.
        """
        require_measures(body_mm)
        age = 0.0 if state != "frozen" else math.inf if frozen_days is None else frozen_days
        row = next(
            row
            for row in self.tables.relaxing
            if row.state == state
            and row.body_mm_from <= body_mm < row.body_mm_below
            and row.frozen_days_from <= age
            and (age < row.frozen_days_below or row.frozen_days_below == math.inf)
        )
        rules, most, note = [row.rule], row.most_hours, row.rule.note
        warm = self._limits["chamber_warm_most_hours"]
        if temp_c is not None and temp_c > self.limit("chamber_warm_c") and warm.value < most:
            most = max(warm.value, row.first_look_hours)
            rules.append(warm.rule)
            note += f" The room has {temp_c:g} C: out after {most:g} hours."
        ids = tuple(rule.rule_id for rule in rules)
        first = row.first_look_hours
        return Relaxing(row.chamber, first, most, ids, weakest(rules), cited(rules), note)

    def fit_row(self, body_mm: float) -> FitRow:
        """Return the clearances, gap and edge for a body [mm]."""
        return _over(self.tables.fit, body_mm)

    def pin(self, body_mm: float) -> Pin:
        """Return the pin for a body [mm]."""
        row = _over(self.tables.pins, body_mm)
        rule = row.rule
        return Pin(row.pin, rule.rule_id, rule.basis, rule.sources, rule.note)

    def minutes(self, body_mm: float) -> int:
        """Return the minutes it takes to mount a body [mm]."""
        return _over(self._mounting, body_mm).minutes

    @property
    def take_off_min(self) -> int:
        """The minutes it takes to test, take off and label one specimen."""
        return next(row.minutes for row in self.tables.handling if row.task == "take off")

    def recheck_days(self, body_mm: float) -> int:
        """Return the days to wait after a test that found a body [mm] still soft."""
        return _over(self.tables.recheck, body_mm).recheck_days

    def body_of_size(self, size: SizeClass) -> LimitRow:
        """Return the body width [mm] that a size class stands for, with its basis."""
        return self._limits[f"body_{size.replace(' ', '_')}_mm"]

    def _at_50_pct(self, body_mm: float, state: State, regime: Regime) -> Reckoning:
        require_measures(body_mm)
        rows = self._anchors["dried" if state == "dried" else "fresh", regime]
        left, right, share = straddle([row.body_mm for row in rows], body_mm)
        one, two = rows[left], rows[right]
        reckoning = Reckoning(
            along(one.min_days, two.min_days, share),
            along(one.plan_days, two.plan_days, share),
            [one.rule] if left == right else [one.rule, two.rule],
        )
        if body_mm > rows[-1].body_mm:
            reckoning.notes.append(
                f"Bodies above {rows[-1].body_mm:g} mm answer as that: empty them, test with care."
            )
        return reckoning

    def _keep_family_floor(
        self, reckoning: Reckoning, row: FamilyRow, state: State, regime: Regime
    ) -> None:
        low, high = row.min_days_at_least, row.plan_days_at_least
        if state != "dried" and regime != "warm":
            if reckoning.raise_to(low, high, row.rule):
                floor = f"{row.family}: at least {low:g} days at 50 %. {row.rule.note}"
                reckoning.notes.append(floor)
        elif low or high:
            reckoning.notes.append(
                f"{row.family}: the {low:g} days asked for otherwise are for what was mounted "
                "fresh or frozen, in a room or with desiccant; they do not count here."
            )

    def _slow_down(self, reckoning: Reckoning, body_mm: float, rh_pct: float | None) -> bool:
        """Divide by the rate of the room's air; say whether that leaves any days."""
        if rh_pct is None:
            return False
        rate = self.bare_rate(body_mm, rh_pct)
        # A rate of exactly 1 changes nothing, so its rows are not part of the answer.
        if rate != 1.0:
            reckoning.rules += (row.rule for row in self._rate_rows(body_mm, rh_pct))
        least = self._limits["least_rate"]
        if 0 < rate < least.value:
            reckoning.rules.append(least.rule)
        if not rate or rate < least.value:
            return False
        reckoning.min_days /= rate
        reckoning.plan_days /= rate
        return True

    def bare_rate(self, body_mm: float, rh_pct: float) -> float:
        """Return the rate that the rows give, also where it is too small to count."""
        require_measures(body_mm, rh_pct)
        thin, thick, share = straddle(self.bodies, body_mm)
        dry, damp, part = straddle(self.humidities, rh_pct)

        def at(body: int) -> float:
            start = self._rates[self.bodies[body], self.humidities[dry]].rate
            end = self._rates[self.bodies[body], self.humidities[damp]].rate
            return along(start, end, part)

        return at(thin) if thin == thick else along(at(thin), at(thick), share)

    def _rate_rows(self, body_mm: float, rh_pct: float) -> Iterator[HumidityRow]:
        bodies = dict.fromkeys(straddle(self.bodies, body_mm)[:2])
        humidities = dict.fromkeys(straddle(self.humidities, rh_pct)[:2])
        for body in bodies:
            for rh in humidities:
                yield self._rates[self.bodies[body], self.humidities[rh]]

    def _warm_note(self) -> str:
        low, high = self.limit("warm_from_c"), self.limit("warm_below_c")
        return (
            f"Warm means a vented cabinet from {low:g} to below {high:g} C. Heat can melt fat and "
            "grease the wings, warp foam and waxed strips, and start a fire: stay with it."
        )

    def _instead(
        self, family: str | None, body_mm: float, state: State, rh_pct: float | None
    ) -> str:
        if rh_pct is None:
            return "The air of the room is unknown: read a hygrometer and give its humidity."
        days = {}
        for regime in _ELSEWHERE:
            days[regime] = self.bare_time(
                family=family, body_mm=body_mm, state=state, regime=regime, rh_pct=None
            ).min_days
        empty = " Empty a very stout body first." if body_mm >= self.limit("body_stout_mm") else ""
        return (
            f"At {rh_pct:g} % such a body cannot be relied on to dry: move the board to a drier "
            f"room, over desiccant (at least {days['desiccant']} days) or into a warm, vented "
            f"cabinet below {self.limit('warm_below_c'):g} °C (at least {days['warm']} days: fat "
            f"may melt, mind fire).{empty}"
        )


_ELSEWHERE: tuple[Regime, ...] = ("desiccant", "warm")


def _over(rows: Sequence[B], body_mm: float) -> B:
    """Return the row whose range holds a body; the ranges cover every body."""
    require_measures(body_mm)
    return rows[bisect_right([row.body_mm_from for row in rows], body_mm) - 1]
