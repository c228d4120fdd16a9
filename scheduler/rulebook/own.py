"""A person's own rows beside the shipped ones: what they add, and what they make sooner."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Iterator
from pathlib import Path

from scheduler.rulebook.answers import TOLERANCE_DAYS, shown
from scheduler.rulebook.book import Rulebook
from scheduler.rulebook.rows import Rule
from scheduler.words.records import State

_BODIES_MM = tuple(step / 2 for step in range(1, 41))
_HUMIDITIES_PCT = tuple(range(30, 91, 2))
_STATES: tuple[State, ...] = ("fresh", "dried")
_LOOSER_IF_MORE = ("take_off_rh_pct", "mould_rh_pct", "warm_from_c", "warm_below_c")
_LOOSER_IF_LESS = ("least_days_dried", "desiccant_rh_pct", "warm_rh_pct")


def own_rules(book: Rulebook, own: Path) -> dict[str, Rule]:
    """Return the rules that stand in a person's own folder, by id."""
    return {i: rule for i, rule in book.rules.items() if rule.file.startswith(f"{own.name}/")}


def added(book: Rulebook, shipped: Rulebook, own: Path) -> Iterator[str]:
    """Yield the own rows whose id no shipped row has, with the shipped id perhaps meant."""
    for rule_id, rule in own_rules(book, own).items():
        if rule_id not in shipped.rules:
            near = difflib.get_close_matches(rule_id, shipped.rules, n=1, cutoff=0.6)
            hint = f"; did you mean {near[0]}?" if near else ""
            yield f"{rule.file}, row {rule.line}: {rule_id} is no shipped rule: it is added{hint}"


def sooner(book: Rulebook, shipped: Rulebook, own: Path) -> list[str]:
    """Return, for each own row that makes anything sooner than the shipped tables, what it is."""
    mine = own_rules(book, own)
    said: dict[str, str] = {}
    for rule_id, text in itertools.chain(
        _sooner_times(book, shipped),
        _sooner_rates(book, shipped),
        _lower_floors(book, shipped),
        _sooner_tests(book, shipped),
        _looser_limits(book, shipped),
    ):
        if rule_id in mine:
            said.setdefault(rule_id, text)
    return [f"{mine[i].file}, row {mine[i].line} ({i}): {text}" for i, text in said.items()]


def _sooner_times(book: Rulebook, shipped: Rulebook) -> Iterator[tuple[str, str]]:
    for state, body in itertools.product(_STATES, _BODIES_MM):
        mine, theirs = (b.at_50(family=None, body_mm=body, state=state) for b in (book, shipped))
        if mine.min_days < theirs.min_days - TOLERANCE_DAYS:
            text = (
                f"sooner than the shipped table: a body of {body:g} mm, {state}, is tested from"
                f" day {shown(mine.min_days)}, shipped {shown(theirs.min_days)}"
            )
            yield from ((rule.rule_id, text) for rule in mine.rules)


def _sooner_rates(book: Rulebook, shipped: Rulebook) -> Iterator[tuple[str, str]]:
    for row in book.tables.humidity:
        theirs = shipped.rate(row.body_mm, row.rh_pct)
        if row.rate > theirs + TOLERANCE_DAYS:
            yield (
                row.rule.rule_id,
                f"sooner than the shipped table: at {row.rh_pct:g} % a body of {row.body_mm:g} mm"
                f" dries at a rate of {row.rate:g}, shipped {theirs:.3g}",
            )


def _lower_floors(book: Rulebook, shipped: Rulebook) -> Iterator[tuple[str, str]]:
    for row in book.families:
        theirs = shipped.family(row.family)
        if row.min_days_at_least < theirs.min_days_at_least:
            yield (
                row.rule.rule_id,
                f"sooner than the shipped table: {row.family} at least"
                f" {row.min_days_at_least:g} days, shipped {theirs.min_days_at_least:g}",
            )


def _sooner_tests(book: Rulebook, shipped: Rulebook) -> Iterator[tuple[str, str]]:
    for row in book.tables.recheck:
        theirs = shipped.recheck_days(max(row.body_mm_from, 0.1))
        if row.recheck_days < theirs:
            yield (
                row.rule.rule_id,
                f"sooner than the shipped table: a soft one is tested again after"
                f" {row.recheck_days} days, shipped {theirs}",
            )


def _looser_limits(book: Rulebook, shipped: Rulebook) -> Iterator[tuple[str, str]]:
    for row in book.tables.limits:
        theirs = shipped.limit(row.name)
        more, less = row.value > theirs, row.value < theirs
        if (more and row.name in _LOOSER_IF_MORE) or (less and row.name in _LOOSER_IF_LESS):
            yield (
                row.rule.rule_id,
                f"looser than the shipped table: {row.name} {row.value:g}, shipped {theirs:g}",
            )
