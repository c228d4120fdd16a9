"""The proof that the rules obey the laws of the trade, for `wingrest rules check`.

The laws: thicker never sooner, damper never sooner, minimum never above plan. Anchors are
compared row by row, so that a fault names its row; what lies between is checked on a fine grid.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from pathlib import Path

from scheduler.rulebook.answers import TOLERANCE_DAYS
from scheduler.rulebook.book import Rulebook
from scheduler.rulebook.check import at_row, genus_faults, table_faults, unused_sources
from scheduler.rulebook.files import RuleTables, read_names, read_tables
from scheduler.rulebook.rows import BoardTimeRow, HumidityRow
from scheduler.words.problems import Problem
from scheduler.words.records import STATES, State

BODIES_MM = tuple(step / 4 for step in range(2, 81))
"""Widths of the grid: 0.5 to 20 mm in steps of a quarter."""

DAYS_HOLD_AT_PCT = 50
"""The humidity at which the days of board_time.csv hold (its definition)."""

HUMIDITIES_PCT = tuple(range(0, 101, 2))


def all_faults(folder: Path, own: Path | None = None) -> list[Problem]:
    """Return every fault of the rules, from a wrong cell to a broken law.

    Rows are compared only in files whose lines can all be read: else one wrong cell would show
    as many faults. The grid is checked only when nothing else is wrong.
    """
    tables, problems = read_tables(folder, own)
    names, unreadable = read_names(folder, own)
    problems += unreadable
    unread = {_table(problem) for problem in problems}
    later = [*table_faults(tables), *anchor_faults(tables), *genus_faults(names, tables)]
    if "sources.csv" in unread:
        later = [problem for problem in later if problem.column != "source_id"]
    problems += [problem for problem in later if _table(problem) not in unread]
    if not problems:
        problems += grid_faults(Rulebook(tables))
    if not unread and own is None:
        problems += unused_sources(tables, names)
    return problems


def _table(problem: Problem) -> str:
    return problem.file.rpartition("/")[2]


def anchor_faults(tables: RuleTables) -> Iterator[Problem]:
    """Yield the rows that break a law when compared with their neighbour."""
    for one, two in itertools.pairwise(tables.board_time):
        if one.state == two.state:
            yield from _thicker_sooner(one, two)
    rows = {(row.body_mm, row.rh_pct): row for row in tables.humidity}
    bodies, humidities = (
        (sorted(set(axis)) for axis in zip(*rows, strict=True)) if rows else ((), ())
    )
    for body, (dry, damp) in itertools.product(bodies, itertools.pairwise(humidities)):
        yield from _faster(rows, (body, dry), (body, damp), "damper")
    for rh, (thin, thick) in itertools.product(humidities, itertools.pairwise(bodies)):
        yield from _faster(rows, (thin, rh), (thick, rh), "thicker")
    for row in tables.humidity:
        if row.rh_pct == DAYS_HOLD_AT_PCT and row.rate != 1:
            reason = "the rate at 50 % must be 1: there the days of board_time.csv hold"
            yield at_row(row.rule, "rate", f"{row.rate:g}", reason, "Write 1.")
    yield from _narrower(tables)


def _narrower(tables: RuleTables) -> Iterator[Problem]:
    for first, second in itertools.pairwise(tables.fit):
        narrow = second.body_mm_from + second.clearance_min_mm
        wide = first.body_mm_below + first.clearance_min_mm
        if narrow < wide:
            reason = f"a thicker body would need a narrower groove than row {first.rule.line} asks"
            value = f"{second.clearance_min_mm:g}"
            yield at_row(second.rule, "clearance_min_mm", value, reason, "Raise it.")


def _thicker_sooner(one: BoardTimeRow, two: BoardTimeRow) -> Iterator[Problem]:
    days = (("min_days", one.min_days, two.min_days), ("plan_days", one.plan_days, two.plan_days))
    for column, thin, thick in days:
        if thick < thin:
            reason = f"a thicker body would be dry sooner than {one.rule.rule_id} ({thin:g} days)"
            yield at_row(two.rule, column, f"{thick:g}", reason, f"Write at least {thin:g}.")


def _faster(
    rows: dict[tuple[float, float], HumidityRow],
    from_place: tuple[float, float],
    to_place: tuple[float, float],
    word: str,
) -> Iterator[Problem]:
    one, two = rows.get(from_place), rows.get(to_place)
    if one is not None and two is not None and two.rate > one.rate:
        reason = f"{word} would dry faster than {one.rule.rule_id} ({one.rate:g})"
        yield at_row(two.rule, "rate", f"{two.rate:g}", reason, f"Write at most {one.rate:g}.")


def grid_faults(book: Rulebook) -> Iterator[Problem]:
    """Yield the laws that the answers break on the grid, each once per state and family."""
    # Families with the same floors have the same days: the first of them stands for all.
    floors = {
        (row.min_days_at_least, row.plan_days_at_least): row.family
        for row in reversed(book.families)
    }
    for state, family in itertools.product(STATES, sorted(floors.values())):
        yield from _first(_laws(book, state, family))


def _first(problems: Iterator[Problem]) -> Iterator[Problem]:
    """Yield the first problem of each reason: neighbours on the grid repeat it."""
    seen: set[str] = set()
    for problem in problems:
        if problem.reason not in seen:
            seen.add(problem.reason)
            yield problem


def _laws(book: Rulebook, state: State, family: str) -> Iterator[Problem]:
    """Yield what is broken at 20 deg C; another temperature changes every pace alike."""
    above: list[tuple[float, float]] = []
    for body in BODIES_MM:
        row = [_days(book, state, family, body, rh) for rh in HUMIDITIES_PCT]
        for rh, days in zip(HUMIDITIES_PCT, row, strict=True):
            if days[0] > days[1]:
                yield _law(state, family, body, "the minimum is above the plan")
            if above and _sooner(days, above[HUMIDITIES_PCT.index(rh)]):
                yield _law(state, family, body, "a thicker body is dry sooner")
        for dry, damp in itertools.pairwise(row):
            if _sooner(damp, dry):
                yield _law(state, family, body, "damper air dries sooner")
        above = row


def _days(book: Rulebook, state: State, family: str, body: float, rh: float) -> tuple[float, float]:
    """Return minimum and plan [days], infinite in air that never dries such a body."""
    days = book.at_50(family=family, body_mm=body, state=state)
    rate = book.rate(body, rh)
    return (days.min_days / rate, days.plan_days / rate) if rate else (math.inf, math.inf)


def _sooner(days: tuple[float, float], other: tuple[float, float]) -> bool:
    return any(one < two - TOLERANCE_DAYS for one, two in zip(days, other, strict=True))


def _law(state: State, family: str, body: float, broken: str) -> Problem:
    reason = f"{broken}: state {state}, family {family}"
    remedy = "Compare the anchors around this width with those of the other tables."
    return Problem("board_time.csv", None, "body_mm", f"{body:g}", reason, remedy)
