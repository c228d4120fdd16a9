"""The line that names a logger's columns: which one is read for what."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.intake.asking import Asking, Option
from scheduler.intake.readings.kinds import Role, Unit, folded, other_kind, role_of, unit_in

_OFFSET = re.compile(r"\b(?:utc|gmt)\b\s*(?:([+-])(\d{1,2}):?(\d{2})?)?")
_TIMES: tuple[Role, ...] = ("moment", "date", "clock")


@dataclass(frozen=True, slots=True)
class Columns:
    """Where things are in a row, counted from 0, and in what unit.

    `times` is one column, or those of date and time of day. `offset_min` is what the header says of
    the clock, in minutes ahead of UTC; None: local time. `percent`: the humidity's title names its
    unit.
    """

    times: tuple[int, ...]
    humidity: int
    temperature: int | None
    unit: Unit | None
    percent: bool
    offset_min: int | None
    titles: tuple[str, ...]

    def title(self, column: int) -> str:
        """Return the title of a column as the file writes it."""
        return self.titles[column]

    @property
    def wanted(self) -> tuple[int, ...]:
        """Return the columns that are read: times, humidity, temperature."""
        temperature = () if self.temperature is None else (self.temperature,)
        return (*self.times, self.humidity, *temperature)

    def taken_as(self, column: int) -> str:
        """Return what a column is taken for, in words."""
        if column in self.times:
            return "time"
        if column == self.humidity:
            return "relative humidity"
        if column == self.temperature:
            return "temperature"
        title = self.titles[column]
        known = other_kind(title) or {"humidity": "another humidity"}.get(role_of(title) or "")
        return f"not read: {known}" if known else "not read"


def is_header(cells: Sequence[str]) -> bool:
    """Say whether a line names at least a time and a humidity."""
    return _names(cells, "humidity")


def looks_like_header(cells: Sequence[str]) -> bool:
    """Say whether a line names at least a time and a temperature, which is a header too."""
    return _names(cells, "temperature")


def _names(cells: Sequence[str], value: Role) -> bool:
    roles = [role_of(cell) for cell in cells]
    return value in roles and any(role in _TIMES for role in roles)


def columns_of(cells: Sequence[str], units: Sequence[str], asking: Asking) -> Columns:
    """Return the columns of a header, with the units in a line below it.

    If several humidities or temperatures are there, it is asked which counts.
    """
    roles = [role_of(cell) for cell in cells]
    below = [units[n] if n < len(units) else "" for n in range(len(cells))]
    humidities = [n for n, role in enumerate(roles) if role == "humidity"]
    relative = [n for n in humidities if other_kind(below[n]) is None] or humidities
    humidity = _only(cells, relative, "humidity", asking)
    temps = [n for n, role in enumerate(roles) if role == "temperature"]
    temperature = _only(cells, temps, "temperature", asking) if temps else None
    unit = None
    if temperature is not None:
        unit = unit_in(cells[temperature]) or unit_in(below[temperature])
    times = _times(roles)
    return Columns(
        times,
        humidity,
        temperature,
        unit,
        "%" in cells[humidity] + below[humidity],
        _offset(" ".join(folded(cells[n]) for n in times)),
        tuple(cells),
    )


def _times(roles: Sequence[Role | None]) -> tuple[int, ...]:
    """Return the column of the moment, or those of date and time of day."""
    if "moment" in roles:
        return (roles.index("moment"),)
    return tuple(roles.index(role) for role in ("date", "clock") if role in roles)


def _only(cells: Sequence[str], found: Sequence[int], what: str, asking: Asking) -> int:
    if len(found) == 1:
        return found[0]
    names = ", ".join(f'"{cells[n]}"' for n in found)
    chosen = asking.ask(
        what,
        f"Several columns could be the {what}: {names}. Which sensor stands with the boards?",
        [Option(str(n + 1), f'column {n + 1}, "{cells[n]}"') for n in found],
    )
    return int(chosen) - 1


def _offset(title: str) -> int | None:
    found = _OFFSET.search(title)
    if found is None:
        return None
    sign, hours, minutes = found.groups()
    return 0 if sign is None else int(f"{sign}1") * (int(hours) * 60 + int(minutes or 0))
