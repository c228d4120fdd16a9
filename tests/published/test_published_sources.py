"""Every published rule has its printed figure here, and every figure its source."""

from __future__ import annotations

import re
from collections.abc import Iterable

import pytest
from published_cases import CASE_TABLES, FOLDER, Row, each, rows, rule_rows
from test_published_rules import RULES, days_for, softening

from scheduler.rulebook import rules_dir

FIGURES = {
    "board_time": ("min_days", "plan_days"),
    "families": ("min_days_at_least", "plan_days_at_least"),
    "relaxing": ("first_look_hours", "most_hours"),
    "fit": ("clearance_min_mm", "clearance_max_mm", "gap_mm", "edge_mm"),
    "pins": ("pin",),
    "recheck": ("recheck_days",),
    "limits": ("value",),
}
"""The figures of the tables whose published rows stand here; humidity rests on physics."""

CASES = [row for table in CASE_TABLES for row in rows(table)]
OUTSIDE = [row for row in CASES if row.get("contradiction")]
CONTRADICTIONS = {row["number"]: row for row in rows("contradictions")}
KNOWN = {row["source_id"]: row["seen"] for row in (*rule_rows("sources"), *rows("sources"))}


Printed = dict[tuple[str, str], set[str]]


def _rule_id(value: str | Row) -> str:
    return value if isinstance(value, str) else value["rule_id"]


def named(row: Row) -> str:
    return row["case"]


def printed_figures() -> Printed:
    """Return what is printed inside, by the rule that answers and the source."""
    printed: Printed = {}

    def note(row: Row, rules: Iterable[str]) -> None:
        for rule in rules:
            printed.setdefault((rule, row["source_id"]), set()).update((row["lower"], row["upper"]))

    for row in _inside("board_time", "body_mm", "rh_pct"):
        note(row, days_for(row).rule_ids)
    for row in _inside("relaxing", "state", "body_mm", "temp_c"):
        for age in (0, None):
            note(row, softening(row, age).rule_ids)
    for row in _inside("pins", "body_mm"):
        note(row, [RULES.pin(float(row["body_mm"])).rule_id])
    for row in _inside("limits"):
        if row["limit"] == "recheck_days":
            note(row, (one.rule.rule_id for one in RULES.tables.recheck))
        else:
            note(row, [RULES.limit_row(row["limit"]).rule.rule_id])
    return printed


def _inside(table: str, *columns: str) -> list[Row]:
    found = (param.values[0] for param in each(table, *columns))
    return [row for row in found if row.get("verdict", "inside") == "inside"]


PRINTED = printed_figures()
PUBLISHED = [
    (table, row) for table in FIGURES for row in rule_rows(table) if row["basis"] == "published"
]


def test_there_are_published_rules() -> None:
    assert {table for table, _ in PUBLISHED} == FIGURES.keys() - {"fit", "families", "recheck"}


@pytest.mark.parametrize(("table", "row"), PUBLISHED, ids=_rule_id)
def test_a_published_rule_has_a_case_inside_from_each_of_its_sources(table: str, row: Row) -> None:
    for source in row["source_id"].split("|"):
        assert (row["rule_id"], source) in PRINTED, f"{table}.csv: {source}"


@pytest.mark.parametrize(("table", "row"), PUBLISHED, ids=_rule_id)
def test_every_figure_of_a_published_rule_is_printed(table: str, row: Row) -> None:
    sources = row["source_id"].split("|")
    printed = set[str]().union(*(PRINTED.get((row["rule_id"], sid), ()) for sid in sources))
    for column in FIGURES[table]:
        assert row[column] in printed, f"{column} {row[column]}: printed are {sorted(printed)}"


def test_every_source_of_the_board_and_the_chamber_has_a_case() -> None:
    cited = {
        source
        for table in FIGURES.keys() - {"limits"}
        for row in rule_rows(table)
        for source in row["source_id"].split("|")
        if source
    }
    # WILKINSON prints no hours; no_case.csv says so.
    assert cited - {row["source_id"] for row in CASES} == {"WILKINSON"}


def test_every_voice_on_days_has_a_case() -> None:
    voices = {row["source_id"] for row in rows("board_time")}
    assert {f"S{number}" for number in range(1, 19)} <= voices


@pytest.mark.parametrize("row", CASES, ids=named)
def test_a_case_names_a_known_source_as_it_was_read(row: Row) -> None:
    assert row["seen"] == KNOWN[row["source_id"]]
    assert row["seen"] in ("SEEN", "SEEN-2")
    assert row["locator"]
    assert row["says"]


def test_the_sources_of_no_rule_are_used_here_and_listed_once() -> None:
    listed = [row["source_id"] for row in rows("sources")]
    assert len(listed) == len(set(listed))
    assert not set(listed) & {row["source_id"] for row in rule_rows("sources")}
    assert all(row["why_no_rule"] for row in rows("sources"))
    told = {source for row in (*CASES, *rows("no_case")) for source in row["source_id"].split("|")}
    assert set(listed) <= told <= KNOWN.keys()


@pytest.mark.parametrize("row", CASES, ids=named)
def test_a_case_gives_its_bounds_and_the_reason_of_its_tolerance(row: Row) -> None:
    if "tolerance" in row:
        assert row["why_tolerance"].startswith(("0:", "0.1:", "1:", "about:"))
        assert row["lower"] or row["upper"] or row["bound"] in ("never", "wider")
        no_slack = row["why_tolerance"].startswith("0:")
        assert (float(row["tolerance"]) == 0) == no_slack
    if row.get("why_tolerance", "").startswith("about:"):
        assert float(row["tolerance"]) == round(float(row["lower"]) / 10)


@pytest.mark.parametrize("row", rows("board_time"), ids=named)
def test_a_humidity_is_the_sources_or_said_to_be_ours(row: Row) -> None:
    assert bool(row["rh_pct"]) == bool(row["rh_from"]) == (row["regime"] == "room")
    if row["rh_from"] == "ours":
        assert row["reading"]


def test_cases_are_named_once() -> None:
    names = [f"{table}/{row['case']}" for table in CASE_TABLES for row in rows(table)]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("row", CASES, ids=named)
def test_what_lies_outside_names_a_contradiction_to_which_its_source_is_a_party(row: Row) -> None:
    verdict = row.get("verdict", "inside")
    assert (verdict in ("below", "above")) == bool(row.get("contradiction"))
    if row.get("contradiction"):
        parties = CONTRADICTIONS[row["contradiction"]]["source_id"].split("|")
        assert row["source_id"] in parties


def test_every_contradiction_is_needed() -> None:
    assert CONTRADICTIONS.keys() == {"1", "2", "3", "4", "5", "7", "13", "14"}
    assert {row["contradiction"] for row in OUTSIDE} == CONTRADICTIONS.keys()


@pytest.mark.parametrize("number", CONTRADICTIONS)
def test_the_rules_explain_the_same_contradiction(number: str) -> None:
    text = (rules_dir() / "README.md").read_text(encoding="utf-8")
    line = re.search(rf"^\| {number} \| .*$", text, re.MULTILINE)
    assert line is not None
    known = {row["source_id"] for row in rule_rows("sources")}
    parties = set(CONTRADICTIONS[number]["source_id"].split("|")) & known
    assert parties <= set(re.findall(r"[A-Z][\w-]*", line[0]))


def test_the_exact_tables_of_this_folder() -> None:
    tables = {*CASE_TABLES, "sources", "contradictions", "no_case"}
    assert tables <= {path.stem for path in FOLDER.glob("*.csv")}
