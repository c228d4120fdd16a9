"""The drying law, the same for every room, box and cabinet: table days divided by the pace.

Table days are days at 20 deg C and 50 %. Water leaves through the skin in step with the
vapour-pressure deficit (ENVENT-2001). The pace in an hour is that deficit divided by the one at 20
deg C and 50 %: the saturation pressure of the hour over that of 20 deg C (Magnus form of WMO-No.
8), times a rate that depends on humidity alone. The rate (humidity.csv) is (100 - rh) / 50 in the
middle. In dry air it is held back, because water loss falls behind the deficit there
(LOVERIDGE-1968) and a stout body dries from inside; in damp air it falls to nothing, because such a
body cannot be relied on to dry. Heat above `warm_below_c` gains nothing.

Where nobody measured, the air is assumed: for a room what somebody said of it, for a sealed box
what its desiccant gives, for a cabinet what its heat gives.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from itertools import pairwise
from operator import mul

from scheduler.air.hours import NO_HUMIDITY, NO_TEMPERATURE, saturation_hpa
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.rulebook.answers import sooner_note, straddle
from scheduler.words.problems import BadInput
from scheduler.words.records import Room, State
from scheduler.words.tuples import NamedTuple

ORDINARY_C = 20.0
"""At this temperature [deg C] and 50 % the days of the rule table hold, by definition."""


_ORDINARY_HPA = saturation_hpa(ORDINARY_C)


class SteadyAir(NamedTuple):
    """Air that does not change: humidity [%] and temperature [deg C]."""

    rh_pct: float
    temp_c: float = ORDINARY_C


ORDINARY = SteadyAir(50.0)


def assumed_air(room: Room, rules: Rulebook) -> SteadyAir | None:
    """Return the air assumed of a room where nobody measured, None when nobody has said."""
    if room.regime == "warm":
        temp_c = rules.limit("warm_from_c") if room.temp_c is None else room.temp_c
        rh_pct = rules.limit("warm_rh_pct") if room.rh_pct is None else room.rh_pct
        return SteadyAir(rh_pct, temp_c)
    temp_c = ORDINARY_C if room.temp_c is None else room.temp_c
    if room.regime == "desiccant" and room.rh_pct is None:
        return SteadyAir(rules.limit("desiccant_rh_pct"), temp_c)
    return None if room.rh_pct is None else SteadyAir(room.rh_pct, temp_c)


class AskedOfTable(NamedTuple):
    """What the table is asked about: family or group, width of the thorax [mm], state."""

    family: str | None
    body_mm: float
    state: State


class Law:
    """The law at the rules' body anchors; between two anchors the rate is a straight line.

    Humidities and temperatures come in hundredths, as hours are kept.
    """

    def __init__(self, rules: Rulebook) -> None:
        self.rules = rules
        self._most_c = rules.limit("warm_below_c")
        self._rows = {(row.body_mm, row.rh_pct): row.rate for row in rules.tables.humidity}
        self._tables: dict[int, list[float]] = {}
        self._lines: dict[tuple[tuple[int, int], tuple[float, float]], list[float]] = {}
        self._warmths: dict[int, float] = {}

    def anchors(self, body_mm: float) -> tuple[int, int, float]:
        """Return the two anchors around a body and where it lies between them, 0 to 1."""
        return straddle(self.rules.bodies, body_mm)

    def warmth(self, temp_c: float) -> float:
        """Return the saturation pressure at a temperature over that at 20 deg C."""
        return saturation_hpa(min(temp_c, self._most_c)) / _ORDINARY_HPA

    def pace(self, body_mm: float, air: SteadyAir) -> float:
        """Return the pace in steady air, 1 at 20 deg C and 50 %."""
        return self.rules.rate(body_mm, air.rh_pct) * self.warmth(air.temp_c)

    def warmths(self, temps: Collection[int], missing_c: float) -> list[float]:
        """Return the warmth of many hours; an hour without a temperature has `missing_c`."""
        known = self._warmths
        for temp in set(temps) - known.keys() - {NO_TEMPERATURE}:
            known[temp] = self.warmth(temp / 100)
        mine = known | {NO_TEMPERATURE: self.warmth(missing_c)}
        return list(map(mine.__getitem__, temps))

    def paces(
        self, anchor: int, humidities: Iterable[int], warmths: Iterable[float]
    ) -> Iterator[float]:
        """Yield the paces of an anchor in many hours; a missing humidity gives 0."""
        return map(mul, map(self.table(anchor).__getitem__, humidities), warmths)

    def table(self, anchor: int) -> list[float]:
        """Return the rates of an anchor for 0.00 to 100.00 %; after them 0 for a missing humidity.

        Raises BadInput when damper air dries faster.
        """
        if anchor not in self._tables:
            body, humidities = self.rules.bodies[anchor], self.rules.humidities
            rates = [self._rows[body, rh] for rh in humidities]
            if any(damp > dry for dry, damp in pairwise(rates)):
                raise BadInput(
                    f"humidity.csv: a body of {body:g} mm dries faster in damper air. "
                    "Find the row with `wingrest rules check`"
                )
            self._tables[anchor] = [*self._between(humidities, rates), 0.0]
        return self._tables[anchor]

    def _between(self, humidities: Sequence[float], rates: Sequence[float]) -> list[float]:
        """Return the rate at every hundredth of a percent, on straight lines between humidities."""
        edges = [round(rh * 100) for rh in humidities]
        table = [rates[0]] * edges[0]
        for line in zip(pairwise(edges), pairwise(rates), strict=True):
            if line not in self._lines:  # many anchors have the same one
                self._lines[line] = _line(*line)
            table += self._lines[line]
        return table + [rates[-1]] * (NO_HUMIDITY - edges[-1])


def _line(edges: tuple[int, int], rates: tuple[float, float]) -> list[float]:
    """Return the rates from the first edge to before the second, in steps of a hundredth."""
    width, step = edges[1] - edges[0], (rates[1] - rates[0]) / (edges[1] - edges[0])
    return [rates[0] + n * step for n in range(width)] if step else [rates[0]] * width


def time_in_air(rules: Rulebook, asked: AskedOfTable, air: SteadyAir | None) -> BoardTime:
    """Return the time on the board in steady air.

    air: None when nobody knows it; then there are no days. Frozen counts as fresh. More than
    `longest_days` are not given as days: the note says what to do instead. Raises ValueError for a
    body that is not above 0 mm.
    """
    if air is None:
        reckoning = rules.at_50(**asked._asdict())
        reckoning.notes.append("The air of the room is unknown: read a hygrometer and say it.")
        return reckoning.answer(longest_days=0.0)
    return at_days(rules, asked, _steady(rules, asked, air), air)


def at_days(
    rules: Rulebook, asked: AskedOfTable, days_of: Callable[[float], float], air: SteadyAir
) -> BoardTime:
    """Return the time on the board in air that turns the table's days into other days.

    days_of: gives the days in this air for days of the table (20 deg C, 50 %), infinite for never;
    air: what the answer names as its air. Where a person's own rules give sooner dates than the
    shipped ones, the note begins with that.
    """
    time = _at_days(rules, asked, days_of, air)
    if rules.shipped is None:
        return time
    mine, shipped = (
        _at_days(book, asked, _steady(book, asked, air), air) for book in (rules, rules.shipped)
    )
    note = sooner_note(mine, shipped)
    return time._replace(note=f"{note} {time.note}".rstrip()) if note else time


def _steady(rules: Rulebook, asked: AskedOfTable, air: SteadyAir) -> Callable[[float], float]:
    pace = Law(rules).pace(asked.body_mm, air)
    return lambda days: days / pace if pace else math.inf


def _at_days(
    rules: Rulebook, asked: AskedOfTable, days_of: Callable[[float], float], air: SteadyAir
) -> BoardTime:
    body_mm = asked.body_mm
    reckoning = rules.at_50(**asked._asdict())
    # A rate of exactly 1 changes nothing, so its rows are not part of the answer.
    if rules.rate(body_mm, air.rh_pct) != 1.0:
        reckoning.rules += (row.rule for row in rules.rate_rows(body_mm, air.rh_pct))
    if air.temp_c >= rules.limit("warm_from_c"):
        reckoning.notes.append(_warm_note(rules))
    longest = rules.limit_row("longest_days")
    reckoning.min_days = days_of(reckoning.min_days)
    reckoning.plan_days = days_of(reckoning.plan_days)
    if asked.state == "dried":
        least = rules.limit_row("least_days_dried")
        reckoning.raise_to(least.value, least.value, least.rule)
    if reckoning.min_days > longest.value:
        reckoning.rules.append(longest.rule)
        reckoning.notes.append(instead(rules, body_mm, air))
    return reckoning.answer(longest_days=longest.value)


def instead(rules: Rulebook, body_mm: float, air: SteadyAir) -> str:
    """Say what to do where the air does not dry a body."""
    stout = body_mm >= rules.limit("body_stout_mm")
    return (
        f"Air of {air.rh_pct:.3g} % at {air.temp_c:.3g} °C does not dry such a body within"
        f" {rules.limit('longest_days'):g} days: move the board to a drier room, dry the air"
        f" (a dehumidifier, a box with desiccant), warm it below {rules.limit('warm_below_c'):g}"
        f" °C (fat may melt, mind fire){', or open and empty the body' if stout else ''}."
    )


def _warm_note(rules: Rulebook) -> str:
    below = rules.limit("warm_below_c")
    return (
        f"A warm cabinet is vented and stays below {below:g} °C. Heat can melt fat and grease the"
        " wings, warp foam and waxed strips, and start a fire: stay with it."
    )
