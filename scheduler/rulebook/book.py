"""The rule tables in force, and what they answer: pure functions that name their rows."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import TypeVar

from scheduler.rulebook.answers import (
    Pin,
    Reckoning,
    Relaxing,
    along,
    cited,
    require_measures,
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
from scheduler.words.records import SizeClass, Specimen, State

B = TypeVar("B", bound=OverBodies)


class Rulebook:
    """The rule tables in force; every answer is pure and names its rows."""

    def __init__(
        self,
        tables: RuleTables,
        read_names: Callable[[], Iterable[NameRow]] = tuple,
        shipped: Rulebook | None = None,
    ) -> None:
        """Take the tables; `shipped` is the rulebook without a person's own rows, if any."""
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
        self._anchors: dict[State, list[BoardTimeRow]] = {}
        for row in tables.board_time:
            self._anchors.setdefault(row.state, []).append(row)

    @cached_property
    def rules(self) -> Mapping[str, Rule]:
        """Return every row's rule by its id."""
        return {rule.rule_id: rule for rule in self.tables.rules()}

    @cached_property
    def by_deficit(self) -> Rulebook:
        """Return these rules as if damp air slowed a body no more than its deficit does.

        From 50 % up to the humidity above which nothing comes off, the rate is then (100 - rh) / 50
        (ENVENT-2001): what may be dry already, where the table's rates are cautious.
        """
        most = self.limit("take_off_rh_pct")
        rows = (
            row._replace(rate=max(row.rate, (100 - row.rh_pct) / 50))
            if 50 < row.rh_pct <= most
            else row
            for row in self.tables.humidity
        )
        return Rulebook(self.tables._replace(humidity=tuple(rows)), self.kinship.names)

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
        """Return the row that answers for a specimen: by its family, else group, else genus."""
        return self.kinship.of(specimen.family, specimen.group, specimen.taxon)

    def at_50(self, *, family: str | None, body_mm: float, state: State) -> Reckoning:
        """Return the days on the board at 20 deg C and 50 %; those in other air follow from them.

        family: family or group; body_mm: width of the thorax [mm], above 0, else ValueError.
        Frozen counts as fresh.
        """
        require_measures(body_mm)
        rows = self._anchors["dried" if state == "dried" else "fresh"]
        left, right, share = straddle([row.body_mm for row in rows], body_mm)
        one, two = rows[left], rows[right]
        reckoning = Reckoning(
            along(one.min_days, two.min_days, share),
            along(one.plan_days, two.plan_days, share),
            [one.rule] if left == right else [one.rule, two.rule],
        )
        if body_mm > rows[-1].body_mm:
            reckoning.notes.append(
                f"Bodies above {rows[-1].body_mm:g} mm count as {rows[-1].body_mm:g} mm wide: empty"
                " them, and test with care."
            )
        self._keep_family_floor(reckoning, self.family(family), state)
        return reckoning

    def rate(self, body_mm: float, rh_pct: float) -> float:
        """Return the drying rate at 20 deg C relative to 50 %.

        body_mm: width of the thorax [mm]; rh_pct: relative humidity [%].
        """
        require_measures(body_mm, rh_pct)
        thin, thick, share = straddle(self.bodies, body_mm)
        dry, damp, part = straddle(self.humidities, rh_pct)

        def at(body: int) -> float:
            start = self._rates[self.bodies[body], self.humidities[dry]].rate
            end = self._rates[self.bodies[body], self.humidities[damp]].rate
            return along(start, end, part)

        return at(thin) if thin == thick else along(at(thin), at(thick), share)

    def rate_rows(self, body_mm: float, rh_pct: float) -> Iterator[HumidityRow]:
        """Yield the rows between which a rate lies: one, two or four."""
        bodies = dict.fromkeys(straddle(self.bodies, body_mm)[:2])
        humidities = dict.fromkeys(straddle(self.humidities, rh_pct)[:2])
        for body in bodies:
            for rh in humidities:
                yield self._rates[self.bodies[body], self.humidities[rh]]

    def relaxing(
        self, *, state: State, frozen_days: int | None, body_mm: float, temp_c: float | None
    ) -> Relaxing:
        """Return how long a specimen softens in the chamber.

        frozen_days: days in the freezer, None when unknown: then the oldest age answers;
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
        """Return the minutes it takes to test, take off and label one specimen."""
        return next(row.minutes for row in self.tables.handling if row.task == "take off")

    def recheck_days(self, body_mm: float) -> int:
        """Return the days to wait after a test that found a body [mm] still soft."""
        return _over(self.tables.recheck, body_mm).recheck_days

    def body_of_size(self, size: SizeClass) -> LimitRow:
        """Return the body width [mm] that a size class stands for, with its basis."""
        return self._limits[f"body_{size.replace(' ', '_')}_mm"]

    def _keep_family_floor(self, reckoning: Reckoning, row: FamilyRow, state: State) -> None:
        low, high = row.min_days_at_least, row.plan_days_at_least
        if state != "dried":
            if reckoning.raise_to(low, high, row.rule):
                floor = f"{row.family}: at least {low:g} days at 50 %. {row.rule.note}"
                reckoning.notes.append(floor)
        elif low or high:
            reckoning.notes.append(
                f"{row.family}: its least time of {low:g} days is for what was mounted fresh or "
                "frozen, and does not count here."
            )


def _over(rows: Sequence[B], body_mm: float) -> B:
    """Return the row whose range holds a body; the ranges cover every body."""
    require_measures(body_mm)
    return rows[bisect_right([row.body_mm_from for row in rows], body_mm) - 1]
