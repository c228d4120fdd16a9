"""How dates, numbers and lists are said to people, the same everywhere and in any locale."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII")
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

COLUMNS = 80
"""The width of a terminal that every screen fits."""


NEAR_DAYS = 300
"""A date more than this many days away, about ten months, is said with its year."""


def day(when: date, today: date) -> str:
    """Return a date as "8 May", with its year where that is not plain from `today`."""
    far = abs(when.toordinal() - today.toordinal()) > NEAR_DAYS
    return f"{when.day} {MONTHS[when.month - 1]}{f' {when.year}' if far else ''}"


def weekday(when: date, today: date) -> str:
    """Return a date as "Sat 8 May", with its year as `day` has it."""
    return f"{WEEKDAYS[when.weekday()]} {day(when, today)}"


def moment(when: datetime, today: date) -> str:
    """Return a local moment as "Sat 8 May 09:00", with its year as `day` has it."""
    return f"{weekday(when, today)} {when:%H:%M}"


def moment_with_year(when: datetime) -> str:
    """Return a local moment as "Sat 8 May 2027 09:00", for texts that may be read much later."""
    return f"{WEEKDAYS[when.weekday()]} {with_year(when)} {when:%H:%M}"


def between(earliest: date | None, latest: date | None, today: date) -> str:
    """Return a span as "between 15 and 31 Jul", or that an end is open (None).

    Returns "" where both ends are the same date.
    """
    if earliest is None:
        return "with no date in sight"
    if latest is None:
        return f"not before {day(earliest, today)}, and with no end in sight"
    if earliest == latest:
        return ""
    alike = (earliest.year, earliest.month) == (latest.year, latest.month)
    first = str(earliest.day) if alike else day(earliest, today)
    return f"between {first} and {day(latest, today)}"


def with_year(when: date) -> str:
    """Return a date as "8 May 2027", for texts that may be read much later."""
    return f"{when.day} {MONTHS[when.month - 1]} {when.year}"


def from_boxes(boxes: Iterable[tuple[str, Sequence[str]]]) -> str:
    """Return "from Tray 2: M-01, M-02; from Dose 3: M-07", empty where no box is known."""
    return "; ".join(f"from {box}: {', '.join(names)}" for box, names in boxes)


def label_date(when: date) -> str:
    """Return a date as a label writes it, the month in Roman: "8.V."."""
    return f"{when.day}.{ROMAN[when.month - 1]}."


def strip(specimen: str, mounted_on: date, due: date | None) -> str:
    """Return what to write on the strip beside a specimen: "K-07 · 8.V. · test from 22.V."."""
    test = f"test from {label_date(due)}" if due else "no date yet in this air"
    return f"{specimen} · {label_date(mounted_on)} · {test}"


def days_said(days: int) -> str:
    """Return "1 day" or "12 days"."""
    return counted(days, "day")


def ago(passed: timedelta) -> str:
    """Return how long ago something was, in the largest whole unit: "20 minutes ago"."""
    minutes = int(passed.total_seconds() // 60)
    if minutes < 1:
        return "just now"
    for unit, many in (("day", 24 * 60), ("hour", 60)):
        if minutes >= 2 * many:
            return f"{counted(minutes // many, unit)} ago"
    return f"{counted(minutes, 'minute')} ago"


def counted(number: int, thing: str) -> str:
    """Return a number with its thing, as "1 specimen" or "3 specimens"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def how_dry(progress_pct: int | None) -> str:
    """Return how much of the minimum board time is over, at most "100 %"; "?" where unknown.

    Past 100 % the due date says more.
    """
    return "?" if progress_pct is None else f"{min(progress_pct, 100)} %"


def listed(names: Iterable[str]) -> str:
    """Return names as "A, B and C"."""
    every = list(names)
    if len(every) < 2:
        return "".join(every)
    return ", ".join(every[:-1]) + " and " + every[-1]


def wrapped(text: str, indent: str = "", hanging: str | None = None) -> list[str]:
    """Return the lines of a text wrapped to the width of a terminal; no word is broken."""
    return textwrap.wrap(
        text,
        COLUMNS,
        initial_indent=indent,
        subsequent_indent=indent if hanging is None else hanging,
        break_long_words=False,  # a path that is torn cannot be copied
        break_on_hyphens=False,
    )


def table(
    head: Sequence[str],
    body: Sequence[Sequence[str]],
    right: frozenset[int] = frozenset(),
    indent: int = 0,
) -> list[str]:
    """Return aligned lines; the columns numbered in `right` are flushed right.

    `indent` is the width that the caller puts before each line. A row too wide for a terminal
    has its last cell broken below itself.
    """
    rows = [list(head), *(list(r) for r in body)]
    widths = [max(len(r[i]) for r in rows) for i in range(len(head))]
    last = len(head) - 1
    room = COLUMNS - indent - sum(widths[:last]) - 2 * last
    widths[last] = max(min(widths[last], room), min(20, widths[last]))
    lines: list[str] = []
    for row in rows:
        cells = [
            c.rjust(widths[i]) if i in right else c.ljust(widths[i])
            for i, c in enumerate(row[:last])
        ]
        broken = textwrap.wrap(row[last], widths[last]) or [""]
        lead = "  ".join(cells) + ("  " if cells else "")
        first = broken[0].rjust(widths[last]) if last in right else broken[0]
        lines.append((lead + first).rstrip())
        lines.extend(" " * len(lead) + part for part in broken[1:])
    return lines
