"""A person's own rule rows: proven with the shipped ones, and loud where they are sooner."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from bench_cases import Desk, weekend

from scheduler.rulebook import rules_dir

MEDIUM = "fresh-room-4.5"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def own(
    tmp_path: Path, row: str, *, separator: str = ",", table: str = "board_time.csv", **cells: str
) -> Path:
    """A folder with one row of a shipped table, changed."""
    with (rules_dir() / table).open(encoding="utf-8", newline="") as file:
        found = next(line for line in csv.DictReader(file) if line["rule_id"] == row)
    folder = tmp_path / "mine"
    folder.mkdir()
    with (folder / table).open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(found), delimiter=separator)
        writer.writeheader()
        writer.writerow({**found, **cells})
    return folder


@pytest.mark.parametrize("separator", [",", ";"])
def test_a_copied_row_is_no_fault(desk: Desk, tmp_path: Path, separator: str) -> None:
    mine = own(tmp_path, MEDIUM, separator=separator)
    for words in (("--rules", mine, "rules", "check"), ("rules", "check", mine)):
        run = desk(*words)
        assert (run.status, run.err) == (0, "")
        assert "no faults, with the shipped tables" in run.out


def test_a_law_broken_names_the_row(desk: Desk, tmp_path: Path) -> None:
    mine = own(tmp_path, MEDIUM, min_days="1", plan_days="2")
    run = desk("--rules", mine, "rules", "check")
    assert run.status == 2
    assert "mine/board_time.csv, row 2, min_days: a thicker body would be dry sooner" in (
        run.problems
    )


def test_an_unknown_rule_is_named_with_the_nearest(desk: Desk, tmp_path: Path) -> None:
    mine = own(tmp_path, MEDIUM, rule_id="fresh-rom-4.5")
    run = desk("--rules", mine, "rules", "check")
    assert "fresh-rom-4.5 is no shipped rule: it is added; did you mean fresh-room-4.5?" in (
        run.problems
    )


def test_what_is_sooner_is_said_in_every_answer(desk: Desk, tmp_path: Path) -> None:
    mine = own(tmp_path, MEDIUM, min_days="10", plan_days="12")
    for words in (
        ("ready", "B3"),
        ("plan",),
        ("rules", "explain", "--body-mm", "4.5", "--rh-pct", "50"),
    ):
        run = desk("--rules", mine, *words)
        assert "mine/board_time.csv, row 2 (fresh-room-4.5): sooner than the shipped table" in (
            run.problems
        )
    assert "SOONER THAN THE SHIPPED TABLES by your own rules" in run.out
    run = desk("--rules", mine, "ready", "M-05", "--format", "json")
    (specimen,) = json.loads(run.out)["boards"][0]["specimens"]
    assert "SOONER THAN THE SHIPPED TABLES" in specimen["note"]


def test_what_is_later_is_nobody_s_danger(desk: Desk, tmp_path: Path) -> None:
    mine = own(tmp_path, "fresh-room-8", plan_days="24")
    run = desk("--rules", mine, "rules", "explain", "--body-mm", "8", "--rh-pct", "50")
    assert (run.status, run.err, "SOONER" in run.out) == (0, "", False)


# --- words that are typed ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("air", "study", "0.62"), "is a fraction, not a percentage (read: '0.62'). Write 62"),
        (("air", "study", ""), "RH: is empty"),
        (("air", "study", "nan"), "is not a number"),
        (("air", "study", "50", "nan"), "is not a number"),
        (("rules", "explain", "--body-mm", "nan", "--rh-pct", "50"), "is not a number"),
        (("rules", "explain", "--body-mm", "4", "--rh-pct", "nan"), "is not a number"),
    ],
)
def test_typed_words_that_are_no_measure_are_refused(
    desk: Desk, words: tuple[str, ...], said: str
) -> None:
    run = desk(*words)
    assert (run.status, said in run.problems) == (2, True), run.err
