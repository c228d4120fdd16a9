"""What one cell may hold, and what to say when it holds something else.

A reader takes the stripped text of a filled cell and returns its value, or raises `CellFault` with
the reason and the remedy.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

Reader = Callable[[str], Any]

LONGEST_ID = 40
YEARS = (1900, 2199)
"""The first and the last year of anything that is scheduled; other years are a slip."""

_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")
_WITH_UNIT = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?\s*[%°]?\s*[^\W\d_]*\.?")
_ID = re.compile(r"[^\W_]([\w./-]*)")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_MIDNIGHT = re.compile(r"(?<=[0-9])[T ]00:00(:00(\.0+)?)?$")
_MOMENT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(:[0-9]{2})?(Z|[+-][0-9]{2}:[0-9]{2})?"
)
_CLOCK = re.compile(r"[0-9]{2}:[0-9]{2}")
_EVENT = re.compile(
    r"([0-9]{4}(?:-[0-9]{2}(?:-[0-9]{2})?)?)"
    r"(?:(?<=-[0-9]{2}-[0-9]{2})T([0-9]{2})(?::?([0-9]{2})(?::?([0-9]{2}))?)?"
    r"(?:Z|[+-][0-9]{2}(?::?[0-9]{2})?)?)?"
)


class CellFault(ValueError):  # noqa: N818 - reads as the trade would say it
    """A cell that cannot be used: why, and what to write instead."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(reason)
        self.reason = reason
        self.remedy = remedy


def number(least: float, most: float, unit: str) -> Reader:
    """Return a reader of numbers from `least` to `most`, both included, in `unit`."""
    remedy = f"Write a number from {least:g} to {most:g}{_in(unit)}"

    def read(text: str) -> float:
        value = _number(text, remedy)
        if not least <= value <= most:
            raise CellFault(f"is outside {least:g} to {most:g}{_in(unit)}", remedy)
        return value

    return read


def whole(least: int, most: int, unit: str) -> Reader:
    """Return a reader of whole numbers from `least` to `most`, both included."""
    remedy = f"Write a whole number from {least} to {most}{_in(unit)}"

    def read(text: str) -> int:
        value = _number(text, remedy)
        if not least <= value <= most:
            raise CellFault(f"is outside {least} to {most}{_in(unit)}", remedy)
        if value != int(value):
            raise CellFault("is not a whole number", remedy)
        return int(value)

    return read


def percentage(text: str) -> float:
    """Read a percentage of 0 to 100, both included.

    A number between 0 and 1 is refused: it is a fraction, and the remedy names its percentage.
    """
    value: float = number(0, 100, "%")(text)
    if 0 < value < 1:
        raise CellFault(
            "is a fraction, not a percentage", f"Write {100 * value:.4g} if that is meant"
        )
    return value


BUILDS: Mapping[str, str] = {
    word: size
    for size, words in {
        "very stout": "very thick, sehr dick, sehr kräftig",
        "stout": "thick, dick, fat, kräftig, plump",
        "slender": "thin, slim, dünn, schlank, zart",
        "medium": "mittel, mittelgroß",
    }.items()
    for word in words.split(", ")
}
"""What people call a build, in English and German (common practice, no source)."""

STATES_ALSO: Mapping[str, str] = {
    word: state
    for state, words in {
        "frozen": "gefroren, eingefroren, tiefgefroren, tk, freezer",
        "fresh": "frisch",
        "dried": "getrocknet, trocken, dry, papered, in papers, getütet, in tüten",
    }.items()
    for word in words.split(", ")
}


def word(*choices: str, also: Mapping[str, str] | None = None) -> Reader:
    """Return a reader of one of `choices`, or of another word for one, whatever the case."""
    remedy = f"Write one of: {', '.join(choices)}"

    def read(text: str) -> str:
        plain = " ".join(text.casefold().split())
        plain = (also or {}).get(plain, plain)
        if plain not in choices:
            raise CellFault("is not a word this column knows", remedy)
        return plain

    return read


def words(longest: int = 200, *, line_breaks: bool = False) -> Reader:
    """Return a reader of free text of at most `longest` characters.

    Control characters are refused, and line breaks too unless `line_breaks`.
    """

    def read(text: str) -> str:
        plain = unicodedata.normalize("NFC", text)
        if len(plain) > longest:
            raise CellFault(
                f"is {len(plain)} characters long, more than {longest}", "Shorten the text"
            )
        for sign in plain:
            if unicodedata.category(sign) == "Cc" and not (line_breaks and sign == "\n"):
                name = "line break" if sign == "\n" else f"control character U+{ord(sign):04X}"
                raise CellFault(f"contains a {name}", "Type the text anew, on one line")
        return plain

    return read


def name(text: str) -> str:
    """Read the id of a board, room, specimen or session: at most 40 characters, no spaces."""
    plain = unicodedata.normalize("NFC", text)
    if len(plain) > LONGEST_ID:
        raise CellFault(
            f"is {len(plain)} characters long, more than {LONGEST_ID}", "Choose a shorter id"
        )
    if not _ID.fullmatch(plain):
        raise CellFault(
            "is not an id",
            "Use letters, digits and - _ . / only, no spaces, and begin with a letter or digit",
        )
    return plain


def country_code(text: str) -> str:
    """Read an ISO 3166-1 alpha-2 code; only its shape is checked: two letters."""
    if not re.fullmatch(r"[A-Za-z]{2}", text):
        raise CellFault("is not a two-letter country code", "Write the ISO 3166 code, as in NO")
    return text.upper()


def calendar_day(text: str) -> date:
    """Read an ISO 8601 calendar date; a midnight that a program wrote after it is ignored."""
    remedy = "Write year-month-day, as in 2027-05-08"
    text = _MIDNIGHT.sub("", text)
    if not _DAY.fullmatch(text):
        raise CellFault("is not a date", remedy)
    try:
        value = date.fromisoformat(text)
    except ValueError:
        raise CellFault("is not a day of the calendar", remedy) from None
    _check_year(value.year)
    return value


def calendar_moment(text: str) -> datetime:
    """Read an ISO 8601 date and time; naive when it carries no offset."""
    remedy = "Write date and time, as in 2027-05-08T09:00"
    if _DAY.fullmatch(text):
        raise CellFault("has no time of day", remedy)
    if not _MOMENT.fullmatch(text):
        raise CellFault("is not a date and time", remedy)
    try:
        value = datetime.fromisoformat(text)
    except ValueError:
        raise CellFault("is not a moment of the calendar", remedy) from None
    _check_year(value.year)
    return value


def moment_or_day(text: str) -> datetime:
    """Read a moment; a date without a time means noon of that day."""
    if _DAY.fullmatch(text):
        return datetime.combine(calendar_day(text), time(12, 0))
    return calendar_moment(text)


def clock(text: str) -> time:
    """Read a local time of day."""
    remedy = "Write hours and minutes, as in 20:00"
    if not _CLOCK.fullmatch(text):
        raise CellFault("is not a time of day", remedy)
    try:
        return time.fromisoformat(text)
    except ValueError:
        raise CellFault("is not a time of day", remedy) from None


def event_date(text: str) -> str:
    """Check an ISO 8601 date, year-month, year, moment, or interval `start/end` of these.

    The end of an interval may leave out what it shares with the start (2007-11-13/15), as in Darwin
    Core's examples for eventDate.
    """
    start, slash, end = text.partition("/")
    first = _event_part(start)
    if slash:
        if not _EVENT.fullmatch(end) and 0 < len(end) < len(first):
            end = first[: len(first) - len(end)] + end
        last = _event_part(end)
        shared = min(len(first), len(last))
        if first[:shared] > last[:shared]:
            raise CellFault("ends before it begins", "Write the earlier date first")
    return text


def first_day(event: str) -> date | None:
    """Return the day on which a checked event date begins, None when it names no day."""
    start = event.partition("/")[0][:10]
    return date.fromisoformat(start) if len(start) == 10 else None


def localise(moment: datetime, zone: ZoneInfo) -> tuple[datetime, bool]:
    """Return the moment in `zone`, and whether it is ambiguous there.

    A naive moment is local. In the hour that occurs twice in autumn the first time (summer time) is
    meant. Raises CellFault in the hour that is skipped in spring: such a moment does not exist.
    """
    if moment.tzinfo is not None:
        return moment.astimezone(zone), False
    local = moment.replace(tzinfo=zone)
    if local.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != moment:
        raise CellFault(
            f"does not exist in {zone.key}: the clocks go forward over it",
            "Write a time before or after the missing hour",
        )
    return local, local.utcoffset() != local.replace(fold=1).utcoffset()


def _event_part(text: str) -> str:
    remedy = "Write an ISO 8601 date or interval, as in 2027-05-08 or 2027-05-07/2027-05-08"
    found = _EVENT.fullmatch(text)
    if found is None:
        raise CellFault("is not an ISO 8601 date or interval", remedy)
    day_text = found.group(1)
    try:
        date.fromisoformat((day_text + "-01-01")[:10])
        hour, minute, second = (int(part or 0) for part in found.groups()[1:])
        time(hour, minute, second)
    except ValueError:
        raise CellFault("is not a day or time of the calendar", remedy) from None
    return day_text


def _number(text: str, remedy: str) -> float:
    if _NUMBER.fullmatch(text):
        return float(text)
    if _DECIMAL_COMMA.fullmatch(text):
        raise CellFault(
            "has a comma where the decimal point belongs",
            "Write it with a point, and thousands without a sign",
        )
    if _DAY.match(text):
        raise CellFault("is a date, not a number", remedy)
    if _WITH_UNIT.fullmatch(text):
        raise CellFault("carries a unit", f"{remedy}, and leave the unit out")
    raise CellFault("is not a number", remedy)


def _check_year(year: int) -> None:
    if not YEARS[0] <= year <= YEARS[1]:
        raise CellFault(f"is not between the years {YEARS[0]} and {YEARS[1]}", "Check the year")


def _in(unit: str) -> str:
    return f" {unit}" if unit else ""
