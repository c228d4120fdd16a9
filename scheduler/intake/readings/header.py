"""Which column of a logger's file is which, by the words that loggers use.

Words are compared without case and accents. A dew point, wet bulb or absolute humidity is
recognised so that it is not taken for what counts.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

Unit = Literal["C", "F"]

_OTHER = re.compile(
    r"dew|taupunkt|tau-punkt|rosee|rocio|rugiada|wet|feuchtkugel|abs|g/m|heat|vpd|point"
)
_HUMIDITY = re.compile(r"humid|humed|feucht|umidit|hygro|vocht|\b(rh|hr|rf|r\.h|r\.f|hum)\b|^%$")
_TEMPERATURE = re.compile(
    r"temp|celsius|fahrenheit|^t\b|^(deg )?°?\s*[cf]$|°\s*[cf]\b|\bdeg\.?\s*[cf]\b"
)
_DATE = re.compile(r"\b(date|datum|fecha|data|day|tag)\b")
_CLOCK = re.compile(r"\b(time|zeit|uhrzeit|hora|heure|ora|tijd|clock)\b")
_BOTH = re.compile(r"date\W?time|timestamp|zeitstempel|datum\W+(uhr)?zeit|fecha\W+hora|moment")
_FAHRENHEIT = re.compile(r"fahrenheit|°\s*f\b|\bdeg\.?\s*f\b|[(\[,/_ ]\s*f\s*[)\]]?$|^f$")
_CELSIUS = re.compile(r"celsius|°\s*c\b|\bdeg\.?\s*c\b|[(\[,/_ ]\s*c\s*[)\]]?$|^c$")
_OFFSET = re.compile(r"\b(?:utc|gmt)\b\s*(?:([+-])(\d{1,2}):?(\d{2})?)?")


@dataclass(frozen=True, slots=True)
class Columns:
    """Where things stand in a row, counted from 0, and in what unit.

    `times` is one column, or date and time of day. `offset_min` is what the header says about
    the clock; None: local time.
    """

    times: tuple[int, ...]
    humidity: int
    temperature: int | None
    unit: Unit | None
    offset_min: int | None
    titles: tuple[str, ...]

    def title(self, column: int) -> str:
        """Return the title of a column as the file writes it."""
        return self.titles[column]


class HeaderFault(Exception):  # noqa: N818
    """A header that cannot be used: the column, why, and what to do."""

    def __init__(self, column: str | None, reason: str, remedy: str) -> None:
        super().__init__(reason)
        self.column = column
        self.reason = reason
        self.remedy = remedy


def plain(title: str) -> str:
    """Return a title as it is compared."""
    decomposed = unicodedata.normalize("NFD", title.replace("º", "°").casefold())
    return " ".join("".join(s for s in decomposed if not unicodedata.combining(s)).split())


def is_header(cells: Sequence[str]) -> bool:
    """Say whether a line names at least a time and a humidity."""
    return _names(cells, _is_humidity)


def looks_like_header(cells: Sequence[str]) -> bool:
    """Say whether a line names at least a time and a temperature: a header without humidity."""
    return _names(cells, _is_temperature)


def _names(cells: Sequence[str], value: Callable[[str], bool]) -> bool:
    titles = [plain(cell) for cell in cells]
    times = {n for n, title in enumerate(titles) if _is_time(title)}
    return bool(times) and any(value(t) and times - {n} for n, t in enumerate(titles))


def columns_of(cells: Sequence[str], units: Sequence[str] = ()) -> Columns:
    """Return the columns of a header, with the units of a line below it.

    Raises HeaderFault when two columns could be meant.
    """
    titles = [plain(cell) for cell in cells]
    humidity = _only(cells, [n for n, t in enumerate(titles) if _is_humidity(t)], "humidity")
    temps = [n for n, t in enumerate(titles) if _is_temperature(t)]
    temperature = _only(cells, temps, "temperature") if temps else None
    times = _times(titles)
    below = "" if temperature is None or len(units) <= temperature else units[temperature]
    return Columns(
        times,
        humidity,
        temperature,
        None if temperature is None else _unit(titles[temperature], plain(below)),
        _offset(" ".join(titles[n] for n in times)),
        tuple(cells),
    )


def unit_in(text: str) -> Unit | None:
    """Return the unit that a title or a cell carries."""
    return "F" if _FAHRENHEIT.search(text) else "C" if _CELSIUS.search(text) else None


def _unit(title: str, below: str) -> Unit | None:
    return unit_in(title) or unit_in(below)


def _is_humidity(title: str) -> bool:
    return bool(_HUMIDITY.search(title)) and not _OTHER.search(title)


def _is_temperature(title: str) -> bool:
    return bool(_TEMPERATURE.search(title)) and not (_OTHER.search(title) or _is_humidity(title))


def _is_time(title: str) -> bool:
    return any(words.search(title) for words in (_BOTH, _DATE, _CLOCK))


def _times(titles: Sequence[str]) -> tuple[int, ...]:
    """Return the column of the moment, or those of date and time of day."""
    full = [
        n for n, t in enumerate(titles) if _BOTH.search(t) or (_DATE.search(t) and _CLOCK.search(t))
    ]
    if full:
        return (full[0],)
    dates = [n for n, title in enumerate(titles) if _DATE.search(title)]
    clocks = [n for n, title in enumerate(titles) if _CLOCK.search(title)]
    return tuple(found[0] for found in (dates, clocks) if found)


def _only(cells: Sequence[str], found: Sequence[int], what: str) -> int:
    if len(found) > 1:
        names = ", ".join(f'"{cells[n]}"' for n in found)
        raise HeaderFault(
            cells[found[1]],
            f"two columns could be the {what}: {names}",
            "Keep one of them, the sensor that stands with the boards",
        )
    return found[0]


def _offset(title: str) -> int | None:
    found = _OFFSET.search(title)
    if found is None:
        return None
    sign, hours, minutes = found.groups()
    return 0 if sign is None else int(f"{sign}1") * (int(hours) * 60 + int(minutes or 0))
