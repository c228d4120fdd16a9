"""Sessions that repeat, as people say it: "Saturdays 09:00, 180 min until 2027-07-31".

Weekdays are English words, whole or their first three letters, in upper or lower case; several
may be named. Times are local wall time: what is at nine stays at nine when the clocks change.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from scheduler.words.tuples import NamedTuple

WEEKDAY_WORDS = (
    "Mondays",
    "Tuesdays",
    "Wednesdays",
    "Thursdays",
    "Fridays",
    "Saturdays",
    "Sundays",
)
EXAMPLE = "Saturdays 09:00, 180 min until 2027-07-31"
MOST_MIN = 14_400
"""The most hands-on minutes of a session: a team of ten for 24 hours."""

MOST_YEARS = 3
"""The most years ahead: nobody plans bench time later, so a later date is a mistyped digit."""

_FILLERS = {"every", "each", "on", "at", "and", "for"}
_CLOCK = re.compile(r"([0-9]{1,2})[:.]([0-9]{2})")
_MINUTES = re.compile(r"([0-9]{1,5})\s*(?:min|mins|minutes)\b", re.IGNORECASE)
_UNTIL = re.compile(r"\buntil\s+(\S+)", re.IGNORECASE)


class Repeat(NamedTuple):
    """One or more weekdays (Monday is 0) at a time of day; what was not said is None."""

    weekdays: tuple[int, ...]
    clock: time
    minutes: int | None = None
    until: date | None = None

    def starts(self, after: datetime) -> Iterator[datetime]:
        """Return the local wall-clock starts after a moment, to the end of the last day.

        `after` is naive local time, and so are the starts. Without a last day they never end.
        """
        day = after.date()
        while self.until is None or day <= self.until:
            start = datetime.combine(day, self.clock)
            if day.weekday() in self.weekdays and start > after:
                yield start
            day += timedelta(days=1)


class RepeatFault(ValueError):  # noqa: N818 - reads as the trade would say it
    """Words that name no repeating session: why, and what to write instead."""

    def __init__(self, reason: str, remedy: str = f"Write it as in: {EXAMPLE}") -> None:
        super().__init__(reason)
        self.reason = reason
        self.remedy = remedy


def names_weekday(text: str) -> bool:
    """Say whether any word of a text is a weekday."""
    return any(_weekday(word) is not None for word in _words(text))


def parse_repeat(text: str) -> Repeat:
    """Read a repeating session; raise RepeatFault for what cannot be meant."""
    minutes, rest = _take(_MINUTES, text)
    until, rest = _take(_UNTIL, rest)
    weekdays: list[int] = []
    clocks: list[time] = []
    for word in _words(rest):
        weekday = _weekday(word)
        if weekday is not None:
            weekdays.append(weekday)
        elif _CLOCK.fullmatch(word):
            clocks.append(_time(word))
        elif word.casefold() not in _FILLERS:
            raise RepeatFault(f"{word!r} is not understood{_hint(word)}")
    if not weekdays:
        raise RepeatFault("it names no weekday")
    if len(clocks) != 1:
        raise RepeatFault("it names more than one time" if clocks else "it names no time of day")
    return Repeat(
        tuple(sorted(set(weekdays))),
        clocks[0],
        None if minutes is None else _whole_minutes(minutes),
        None if until is None else _day(until),
    )


def _take(pattern: re.Pattern[str], text: str) -> tuple[str | None, str]:
    """Return what a pattern finds, and the text without it."""
    found = pattern.search(text)
    if found is None:
        return None, text
    return found.group(1), f"{text[: found.start()]} {text[found.end() :]}"


def _words(text: str) -> list[str]:
    return [word for word in re.split(r"[\s,;&]+", text) if word]


def _weekday(word: str) -> int | None:
    plain = word.casefold()
    for number, name in enumerate(WEEKDAY_WORDS):
        plural = name.casefold()
        if plain in (plural, plural[:-1], plural[:3]):
            return number
    return None


def _hint(word: str) -> str:
    near = difflib.get_close_matches(word.capitalize(), WEEKDAY_WORDS, 1)
    return f" (did you mean {near[0]}?)" if near else ""


def _time(word: str) -> time:
    hours, minutes = word.replace(".", ":").split(":")
    try:
        return time(int(hours), int(minutes))
    except ValueError:
        raise RepeatFault(f"{word!r} is not a time of day") from None


def _whole_minutes(text: str) -> int:
    if not 1 <= int(text) <= MOST_MIN:
        raise RepeatFault(f"{text} minutes are not from 1 to {MOST_MIN}")
    return int(text)


def _day(text: str) -> date:
    try:
        return datetime.strptime(text.rstrip(",;."), "%Y-%m-%d").date()  # noqa: DTZ007 - a date
    except ValueError:
        raise RepeatFault(
            f"{text!r} is not a date", "Write year-month-day, as in until 2027-07-31"
        ) from None
