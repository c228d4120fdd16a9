"""How one line of a rule table is read: cell by cell, every fault noted.

A reader always returns a row; whoever reads the file leaves out the lines with faults.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TypeVar, cast

from scheduler.rulebook.rows import (
    LIMIT_NAMES,
    NAME_RANKS,
    PLANNING_NAMES,
    SEEN,
    TASKS,
    BoardTimeRow,
    FamilyRow,
    FitRow,
    HandlingRow,
    HumidityRow,
    LimitRow,
    NameRow,
    PinRow,
    RecheckRow,
    RelaxingRow,
    Rule,
    SourceRow,
)
from scheduler.words.problems import Problem
from scheduler.words.records import BASES, STATES, Source

W = TypeVar("W", bound=str)


class Cells:
    """One line of a table after the other; a cell that cannot be used is noted in `problems`."""

    def __init__(self, file: str, problems: list[Problem]) -> None:
        self.file = file
        self.line = 0
        self._values: Mapping[str, str] = {}
        self._problems = problems
        self._named: dict[tuple[str, str], tuple[Source, ...]] = {}

    def turn_to(self, line: int, values: Mapping[str, str]) -> None:
        """Go to another line; `values` are its cells by column."""
        self.line, self._values = line, values

    def fault(self, column: str, reason: str, remedy: str) -> None:
        """Note a problem with the cell in `column`."""
        value = self._values.get(column, "")
        self._problems.append(Problem(self.file, self.line, column, value, reason, remedy))

    def maybe(self, column: str) -> str:
        """Return the cell's text, which may be empty."""
        return self._values.get(column, "")

    def text(self, column: str) -> str:
        """Return the cell's text; an empty cell is a problem."""
        value = self.maybe(column)
        if not value:
            self.fault(column, "is empty", "Fill it in.")
        return value

    def number(self, column: str, least: float = 0.0, most: float = math.inf) -> float:
        """Return the cell's number from `least` to `most`, both included; `least` for a fault."""
        value = self._values.get(column, "")
        try:
            number = float(value)
        except ValueError:
            self.fault(column, "is not a number", "Write a number such as 4.5, with a point.")
            return least
        if not (least <= number <= most and math.isfinite(number)):
            span = f"at least {least:g}" if math.isinf(most) else f"from {least:g} to {most:g}"
            self.fault(column, "is out of range", f"Write a number {span}.")
            return least
        return number

    def more_than_nothing(self, column: str) -> float:
        """Return the cell's number, which must be above 0."""
        before = len(self._problems)
        number = self.number(column)
        if number == 0 and len(self._problems) == before:
            self.fault(column, "is not above 0", "Write a number above 0.")
        return number

    def number_or(self, column: str, empty: float) -> float:
        """Return the cell's number, or `empty` when nothing is written."""
        return self.number(column) if self.maybe(column) else empty

    def count(self, column: str) -> int:
        """Return the cell's whole number, which must be at least 1."""
        number = self.number(column, least=1)
        if number != int(number):
            self.fault(column, "is not a whole number", "Write a whole number.")
        return int(number)

    def word(self, column: str, words: Sequence[W]) -> W:
        """Return the cell's word, one of `words`; for a faulty word the last of them."""
        value = self._values.get(column, "")
        if value not in words:
            self.fault(column, "is not a known word", f"Write one of: {', '.join(words)}.")
            return words[-1]
        return words[words.index(cast(W, value))]

    def between(self, start: str, below: str) -> tuple[float, float]:
        """Return a range; an empty start means 0, an empty end no limit."""
        low, high = self.number_or(start, 0.0), self.number_or(below, math.inf)
        if low >= high:
            self.fault(below, f"is not above {start}", "The range must rise; empty means no limit.")
        return low, high

    def not_below(self, column: str, value: float, other: str, least: float) -> None:
        """Note a problem when the value of `column` is below the one of `other`."""
        if value < least:
            self.fault(column, f"is below {other} ({least:g})", f"Write at least {least:g}.")

    def rule(self) -> Rule:
        """Read what every row carries: id, basis, sources and note."""
        basis = self.word("basis", BASES)
        sources = self._sources()
        if basis == "published" and not all(source.locator for source in sources):
            self.fault("locator", "a published figure has no locator", "Name the page or section.")
        if basis in ("published", "scaled") and not sources:
            remedy = "Name a source_id of sources.csv, or change the basis."
            self.fault("source_id", f"the basis is {basis}, but no source is named", remedy)
        if basis == "scaled" and not self.maybe("note"):
            remedy = "Name the row or source it comes from, and the law."
            self.fault("note", "a scaled figure does not say how", remedy)
        note = self.maybe("note")
        return Rule(self.text("rule_id"), self.file, self.line, basis, sources, note)

    def _sources(self) -> tuple[Source, ...]:
        """Return the sources that the row names; most rows name the same as others."""
        said = self.maybe("source_id"), self.maybe("locator")
        if said not in self._named:
            before, found = len(self._problems), self._read_sources(*said)
            if len(self._problems) > before:
                return found
            self._named[said] = found
        return self._named[said]

    def _read_sources(self, named: str, located: str) -> tuple[Source, ...]:
        if not (named or located):
            return ()
        ids = self.split("source_id")
        if not ids:
            self.fault("locator", "names a place in no source", "Name its source_id, or clear it.")
        locators = [text.strip() for text in located.split("|")]
        if ids and len(locators) != len(ids):
            remedy = "Write one locator for each source, separated by |."
            self.fault("locator", f"{len(ids)} sources, {len(locators)} locators", remedy)
            return tuple(Source(i, "?") for i in ids)
        # Without any source there is still one empty locator, which means nothing.
        return tuple(Source(i, where) for i, where in zip(ids, locators, strict=False))

    def split(self, column: str) -> tuple[str, ...]:
        """Return the words of a cell, separated by |."""
        parts = map(str.strip, self._values.get(column, "").split("|"))
        return tuple(filter(None, parts))


def read_board_time(cells: Cells) -> BoardTimeRow:
    """Read a row of board_time.csv; fresh stands for frozen too."""
    low, high = cells.number("min_days"), cells.number("plan_days")
    cells.not_below("plan_days", high, "min_days", low)
    return BoardTimeRow(
        cells.rule(),
        cells.word("state", tuple(s for s in STATES if s != "frozen")),
        cells.more_than_nothing("body_mm"),
        low,
        high,
    )


def read_humidity(cells: Cells) -> HumidityRow:
    """Read a row of humidity.csv."""
    body, rh = cells.more_than_nothing("body_mm"), cells.number("rh_pct", most=100)
    return HumidityRow(cells.rule(), body, rh, cells.number("rate"))


def read_family(cells: Cells) -> FamilyRow:
    """Read a row of families.csv."""
    low, high = cells.number("min_days_at_least"), cells.number("plan_days_at_least")
    cells.not_below("plan_days_at_least", high, "min_days_at_least", low)
    typical = cells.maybe("typical_wingspan_mm")
    return FamilyRow(
        cells.rule(),
        cells.text("family"),
        cells.split("group"),
        cells.maybe("order"),
        cells.more_than_nothing("body_per_wingspan"),
        cells.more_than_nothing("body_length_per_wingspan"),
        cells.more_than_nothing("wing_depth_fraction"),
        low,
        high,
        cells.more_than_nothing("typical_wingspan_mm") if typical else None,
        cells.word("shape_basis", BASES),
    )


def read_relaxing(cells: Cells) -> RelaxingRow:
    """Read a row of relaxing.csv; only frozen specimens may have an age in the freezer."""
    state = cells.word("state", STATES)
    ages = cells.between("frozen_days_from", "frozen_days_below")
    if cells.maybe("state") in ("fresh", "dried") and ages != (0.0, math.inf):
        cells.fault("frozen_days_from", f"{state} has no age in the freezer", "Leave both empty.")
    first, most = cells.number("first_look_hours"), cells.number("most_hours")
    cells.not_below("most_hours", most, "first_look_hours", first)
    chamber = cells.word("chamber", ("yes", "no")) == "yes"
    bodies = cells.between("body_mm_from", "body_mm_below")
    return RelaxingRow(cells.rule(), state, *ages, *bodies, chamber, first, most)


def read_fit(cells: Cells) -> FitRow:
    """Read a row of fit.csv."""
    low, high = cells.number("clearance_min_mm"), cells.number("clearance_max_mm")
    cells.not_below("clearance_max_mm", high, "clearance_min_mm", low)
    bodies = cells.between("body_mm_from", "body_mm_below")
    gap, edge = cells.number("gap_mm"), cells.number("edge_mm")
    return FitRow(cells.rule(), *bodies, low, high, gap, edge)


def read_pin(cells: Cells) -> PinRow:
    """Read a row of pins.csv."""
    bodies = cells.between("body_mm_from", "body_mm_below")
    return PinRow(cells.rule(), *bodies, cells.text("pin"))


def read_handling(cells: Cells) -> HandlingRow:
    """Read a row of handling.csv; taking off takes the same time for every body."""
    task = cells.word("task", TASKS)
    bodies = cells.between("body_mm_from", "body_mm_below")
    if task == "take off" and bodies != (0.0, math.inf):
        cells.fault("body_mm_from", "taking off has one time for every body", "Write 0 and empty.")
    return HandlingRow(cells.rule(), task, *bodies, cells.count("minutes"))


def read_recheck(cells: Cells) -> RecheckRow:
    """Read a row of recheck.csv."""
    bodies = cells.between("body_mm_from", "body_mm_below")
    return RecheckRow(cells.rule(), *bodies, cells.count("recheck_days"))


def read_limit(cells: Cells) -> LimitRow:
    """Read a row of limits.csv."""
    return _single(cells, LIMIT_NAMES)


def read_planning(cells: Cells) -> LimitRow:
    """Read a row of planning.csv."""
    return _single(cells, PLANNING_NAMES)


def _single(cells: Cells, names: tuple[str, ...]) -> LimitRow:
    name = cells.word("name", names)
    most = 100.0 if name.endswith("_pct") else math.inf
    return LimitRow(cells.rule(), name, cells.number("value", most=most), cells.maybe("unit"))


def read_name(cells: Cells) -> NameRow:
    """Read a row of genera.csv."""
    return NameRow(
        cells.text("name"),
        cells.word("rank", NAME_RANKS),
        cells.text("family"),
        cells.maybe("order"),
        cells.text("source_id"),
        cells.maybe("note"),
        cells.line,
    )


def read_source(cells: Cells) -> SourceRow:
    """Read a row of sources.csv."""
    return SourceRow(
        cells.text("source_id"),
        cells.maybe("author"),
        cells.maybe("year"),
        cells.text("title"),
        cells.maybe("publisher"),
        cells.word("seen", SEEN),
        cells.maybe("address"),
        cells.maybe("note"),
    )
