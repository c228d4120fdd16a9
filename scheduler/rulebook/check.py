"""Check that the rule tables answer every question exactly once.

These checks are quick and run whenever rules are loaded; `laws` proves that the answers obey
the laws of the trade.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from scheduler.rulebook.answers import plain
from scheduler.rulebook.files import RuleTables
from scheduler.rulebook.rows import (
    LIMIT_NAMES,
    PLANNING_NAMES,
    TASKS,
    NameRow,
    OverBodies,
    RelaxingRow,
    Rule,
)
from scheduler.words.problems import Problem
from scheduler.words.records import STATES


def table_faults(tables: RuleTables) -> list[Problem]:
    """Return what is missing, given twice or contradictory between the rows."""
    return [
        *_board_time_faults(tables),
        *_humidity_faults(tables),
        *_family_faults(tables),
        *_range_faults("fit.csv", tables.fit),
        *_range_faults("pins.csv", tables.pins),
        *_handling_faults(tables),
        *_range_faults("recheck.csv", tables.recheck),
        *_relaxing_faults(tables),
        *_limit_faults(tables),
        *_source_faults(tables),
        *_id_faults(tables),
    ]


def genus_faults(names: Sequence[NameRow], tables: RuleTables) -> list[Problem]:
    """Return the rows of genera.csv without a listed source, or with no row that answers them."""
    known = {row.source_id for row in tables.sources}
    answered = {plain(row.family) for row in tables.families}
    faults = []
    for row in names:
        if row.source_id not in known:
            reason, remedy = "the source is not in sources.csv", "Add it there, or correct the id."
            faults.append(("source_id", row.line, row.source_id, reason, remedy))
        if not {plain(row.family), plain(row.order)} & answered:
            reason = f"neither it nor its order {row.order!r} has a row in families.csv"
            faults.append(("family", row.line, row.family, reason, "Correct it, or add the row."))
    return [
        Problem("genera.csv", line, column, value, reason, remedy)
        for column, line, value, reason, remedy in faults
    ]


def unused_sources(tables: RuleTables, names: Sequence[NameRow] = ()) -> list[Problem]:
    """Return the sources that no row cites and no note names."""
    cited = {source.source_id for rule in tables.rules() for source in rule.sources}
    cited |= {row.source_id for row in names}
    notes = " ".join(rule.note for rule in tables.rules())
    named = set(notes.translate(str.maketrans("(),.;:", "      ")).split())
    return [
        Problem(
            "sources.csv",
            None,
            "source_id",
            row.source_id,
            "no rule uses this source",
            "Cite it in a row, or remove it.",
        )
        for row in tables.sources
        if row.source_id not in cited | named
    ]


def _whole(file: str, column: str | None, reason: str, remedy: str) -> Problem:
    return Problem(file, None, column, None, reason, remedy)


def at_row(rule: Rule, column: str, value: str, reason: str, remedy: str) -> Problem:
    """Return a problem with the row of a rule."""
    return Problem(rule.file, rule.line, column, value, reason, remedy)


def _board_time_faults(tables: RuleTables) -> Iterator[Problem]:
    found = {row.state for row in tables.board_time}
    for state in STATES:
        if state != "frozen" and state not in found:
            reason = f"no anchor for state {state}"
            yield _whole("board_time.csv", "state", reason, "Add at least one row.")


def _humidity_faults(tables: RuleTables) -> Iterator[Problem]:
    found = {(row.body_mm, row.rh_pct) for row in tables.humidity}
    bodies = sorted({body for body, _ in found})
    humidities = sorted({rh for _, rh in found} | {50.0})
    if not bodies:
        yield _whole("humidity.csv", None, "has no usable row", "Put the shipped rows back.")
    for body, rh in itertools.product(bodies, humidities):
        if (body, rh) not in found:
            reason = f"no rate for a body of {body:g} mm at {rh:g} %"
            yield _whole("humidity.csv", "rate", reason, "Give every body every humidity, and 50.")


def _family_faults(tables: RuleTables) -> Iterator[Problem]:
    if not any(row.family.casefold() == "any" for row in tables.families):
        reason = "no row for the family any"
        yield _whole("families.csv", "family", reason, "Put the shipped row back.")
    words: dict[str, str] = {}
    for row in tables.families:
        for name in (row.family, *row.groups):
            owner = words.setdefault(plain(name), row.family)
            if owner != row.family:
                reason = f"{owner} has the same name or group"
                yield at_row(row.rule, "group", name, reason, "A word names one family.")


def _range_faults(file: str, rows: Sequence[OverBodies], of: str = "") -> Iterator[Problem]:
    """Yield the gaps and overlaps of rows sorted by body width."""
    covered = 0.0
    for row in rows:
        if row.body_mm_from > covered:
            reason = f"no row for bodies from {covered:g} to {row.body_mm_from:g} mm{of}"
            yield at_row(
                row.rule, "body_mm_from", f"{row.body_mm_from:g}", reason, "Close the gap."
            )
        elif row.body_mm_from < covered:
            reason = f"an earlier row answers up to {covered:g} mm{of}"
            remedy = "Each body belongs to one row."
            yield at_row(row.rule, "body_mm_from", f"{row.body_mm_from:g}", reason, remedy)
        covered = max(covered, row.body_mm_below)
    if covered != float("inf"):
        reason = f"no row for bodies from {covered:g} mm{of}"
        yield _whole(file, "body_mm_below", reason, "Leave the last body_mm_below empty.")


def _handling_faults(tables: RuleTables) -> Iterator[Problem]:
    for task in TASKS:
        rows = [row for row in tables.handling if row.task == task]
        yield from _range_faults("handling.csv", rows, f" ({task})")


def _relaxing_faults(tables: RuleTables) -> Iterator[Problem]:
    """Yield the gaps and overlaps in age and body, state by state."""
    for state in STATES:
        rows = [row for row in tables.relaxing if row.state == state]
        ages = _cuts([(r.frozen_days_from, r.frozen_days_below) for r in rows])
        bodies = _cuts([(r.body_mm_from, r.body_mm_below) for r in rows])
        for age, body in itertools.product(ages, bodies):
            hits = [row for row in rows if _answers(row, age, body)]
            where = f"{state}, {age:g} days in the freezer, a body of {body:g} mm"
            if not hits:
                yield _whole("relaxing.csv", "state", f"no row for: {where}", "Close the gap.")
            for row in hits[1:]:
                reason = f"row {hits[0].rule.line} answers too for: {where}"
                remedy = "Each case belongs to one row."
                yield at_row(row.rule, "rule_id", row.rule.rule_id, reason, remedy)


def _cuts(ranges: Sequence[tuple[float, float]]) -> list[float]:
    """Return the lower edge of each stretch between bounds: one case there tests the stretch."""
    edges = {0.0} | {edge for both in ranges for edge in both}
    return sorted(edge for edge in edges if edge != float("inf"))


def _answers(row: RelaxingRow, age: float, body: float) -> bool:
    in_age = row.frozen_days_from <= age < row.frozen_days_below
    return in_age and row.body_mm_from <= body < row.body_mm_below


def _limit_faults(tables: RuleTables) -> Iterator[Problem]:
    asked = (
        ("limits.csv", LIMIT_NAMES, tables.limits),
        ("planning.csv", PLANNING_NAMES, tables.planning),
    )
    for file, names, rows in asked:
        found = {row.name for row in rows}
        for name in names:
            if name not in found:
                yield _whole(file, "name", f"no row for {name}", "Put the shipped row back.")


def _source_faults(tables: RuleTables) -> Iterator[Problem]:
    known = {row.source_id for row in tables.sources}
    for rule in tables.rules():
        for source in rule.sources:
            if source.source_id not in known:
                reason = "the source is not in sources.csv"
                remedy = "Add it there, or correct the id."
                yield at_row(rule, "source_id", source.source_id, reason, remedy)


def _id_faults(tables: RuleTables) -> Iterator[Problem]:
    """Yield the rule ids used in two tables; within a table the reader finds them."""
    first: dict[str, Rule] = {}
    for rule in tables.rules():
        twin = first.setdefault(rule.rule_id, rule)
        if twin is not rule:
            reason = f"{twin.file}, row {twin.line} has the same rule_id"
            yield at_row(rule, "rule_id", rule.rule_id, reason, "Give it another id.")
