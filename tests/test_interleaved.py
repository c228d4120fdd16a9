"""Two commands that cross: as if one came after the other, or one is told that it was overtaken.

Nothing here is a rule of the trade: these are the duties of a record of facts.
"""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import time
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from subprocess import DEVNULL

import interleaved_cases
import pytest
from bench_cases import WEDNESDAY
from interleaved_cases import Ended, House, Left, Point, deeds

from scheduler.deeds import rooms, testing
from scheduler.record.journal import read_journal
from scheduler.record.kept import kept_plan
from scheduler.record.store import Store

NAMES = tuple(deeds(Path()))
TAKE_BACK = {"undo", "undo amend", "undo release", "undo load", "away back"}


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    return House(tmp_path_factory.mktemp("house"))


def names_the_other(ended: Ended) -> bool:
    """Whether a refusal says which line was in its way."""
    return ended.refused is not None and bool(re.search(r"(?i)\bline \d+", ended.refused))


def assert_crossed_well(house: House, first: str, second: str) -> None:
    orders = [house.in_turn(first, second), house.in_turn(second, first)]
    alone = {name: house.in_turn(name) for name in (first, second)}
    for point in house.points(first):
        mine, hers = house.crossed(first, point, second)
        left = house.left()
        said = (first, point, second, mine, hers, left, orders)
        # What was mounted by the plan of before is as if it came first, with the later line.
        facts = [(order.image, sorted(order.lines)) for order in orders]
        if (left.image, sorted(left.lines)) in facts:
            # A fact and the plan that follows it are two transactions: another fact may come
            # between, and the plan follows that too. What was searched when a fact came is
            # mended to it, as the next plan would.
            turns = ((first, second), (second, first))
            before = house.in_turn()
            assert (
                left.kept in [order.kept for order in orders]
                or any(left.kept == house.in_turn(*names, "plan").kept for names in turns)
                # What was taken back before the plan followed it leaves the plan as it was.
                or ({first, second} & TAKE_BACK and left[::2] == before[::2])
                # Or one mending had both to follow, where in turn each had one.
                or follows_both(house, first, point, second, left)
            ), said
        elif names_the_other(mine):
            assert left == alone[second], said
        else:
            assert names_the_other(hers), said
            assert left == alone[first], said


def follows_both(house: House, first: str, point: Point, second: str, left: Left) -> bool:
    """Whether the plan that was left answers the record: mending it once more changes nothing."""
    house.crossed(first, point, second)
    return house.left() == left and house.mended() == left.kept


@pytest.mark.long
@pytest.mark.parametrize("first", NAMES)
def test_any_two_commands_cross_as_if_one_came_after_the_other(house: House, first: str) -> None:
    for second in NAMES:
        assert_crossed_well(house, first, second)


def test_a_plan_in_which_nobody_moved_takes_off_who_stands_again(house: House) -> None:
    # The plan was made while M-06 was off its board: it names no session at which it comes off.
    mine, hers = house.crossed("air offset", Point("deciding", 1), "undo release")
    assert (mine.refused, hers.refused) == (None, None)
    with Store(house.path) as store:
        kept = kept_plan(store)
    assert kept is not None
    assert kept.plan.off["M-06"] == "SAT"


def test_every_command_that_records_is_crossed_with_every_other() -> None:
    """A deed that nobody named here would be one whose lost updates nobody looks for."""
    found, tried = set(), names_in(Path(interleaved_cases.__file__), "deeds")
    for module in Path(testing.__file__).parent.glob("*.py"):
        tree = ast.parse(module.read_text(encoding="utf-8"))
        functions = {n.name: n for n in tree.body if isinstance(n, ast.FunctionDef)}
        recording = {
            name
            for name, node in functions.items()
            if any(isinstance(n, ast.With) and _is_deed(n) for n in ast.walk(node))
        }
        while more := {
            name
            for name, node in functions.items()
            if name not in recording
            and recording & {n.id for n in ast.walk(node) if isinstance(n, ast.Name)}
        }:
            recording |= more
        found |= {name for name in recording if not name.startswith("_")}
    assert {"set_away", "amend_lot", "bag", "keep_photo", "put_back"} <= found
    assert sorted(found - tried) == []


def names_in(module: Path, function: str) -> set[str]:
    """The names that a function of a module uses."""
    tree = ast.parse(module.read_text(encoding="utf-8"))
    (found,) = (n for n in tree.body if isinstance(n, ast.FunctionDef) and n.name == function)
    return {n.id for n in ast.walk(found) if isinstance(n, ast.Name)}


# --- the cases that were found -------------------------------------------------------------


def crossed(house: House, first: str, second: str, where: str = "deciding") -> tuple[Ended, Ended]:
    """How two commands end when the second comes to the first's first transaction."""
    return house.crossed(first, Point(where, 1), second)


def label_of(house: House, specimen: str) -> Mapping[str, str]:
    with Store(house.path) as store:
        return store.snapshot().specimens[specimen].label


@pytest.mark.parametrize("where", ["before", "deciding", "after"])
def test_two_corrections_of_a_label_keep_both_terms(house: House, where: str) -> None:
    ended = crossed(house, "amend locality", "amend country", where)
    assert [one.refused for one in ended] == [None, None]
    assert label_of(house, "M-03") == {"locality": "Alder Carr", "country": "Saltmere"}


@pytest.mark.parametrize("where", ["before", "deciding", "after"])
def test_one_term_corrected_by_two_is_told_to_the_second(house: House, where: str) -> None:
    mine, hers = crossed(house, "amend locality", "amend locality again", where)
    late = mine if where == "before" else hers
    if where == "after":  # she began when his was there to be seen
        assert late.refused is None
    else:
        assert late.refused is not None
        assert "somebody was quicker" in late.refused
        assert "Line 5 was recorded meanwhile: amended M-03: locality" in late.refused


@pytest.mark.parametrize("where", ["before", "deciding"])
def test_nothing_comes_off_after_a_soft_test_unsaid(house: House, where: str) -> None:
    first, second = ("release", "test soft") if where == "before" else ("test soft", "release")
    released = crossed(house, first, second, where)[0 if where == "before" else 1]
    assert released.refused is not None
    assert "M-01 stays on B1" in released.refused
    assert "Line 5 was recorded meanwhile: tested soft: M-01 on B1" in released.refused
    assert house.left().lines == (("test", "tested soft: M-01 on B1"),)


@pytest.mark.parametrize("where", ["before", "deciding"])
def test_undo_does_not_eat_what_was_amended_since(house: House, where: str) -> None:
    order = ("undo load", "amend size") if where == "before" else ("amend size", "undo load")
    undone = crossed(house, *order, where)[0 if where == "before" else 1]
    assert undone.refused is not None
    assert "line 5 (amended M-03: wingspan_mm 44 (was 36)) changed the same" in undone.refused


def test_undo_without_a_number_is_of_what_was_the_latest(house: House) -> None:
    undone, _ = crossed(house, "undo", "move", "before")
    assert undone.refused is not None
    assert "Line 5 was recorded meanwhile: moved B1 to attic" in undone.refused
    assert house.left().lines == (("move", "moved B1 to attic"),)


@pytest.mark.parametrize("second", ["mount one", "mount list", "mount session"])
def test_what_is_lost_or_in_the_chamber_stands_on_no_board(house: House, second: str) -> None:
    for first in ("lost waiting", "relax"):
        crossed(house, first, second)
        with Store(house.path) as store:
            snap = store.snapshot()
        on_board = {p.specimen for p in snap.standing()}
        assert not on_board & set(snap.gone)
        assert not on_board & {s.specimen for s in snap.in_chamber()}


def test_nothing_is_mounted_on_a_board_that_went_out_of_use_unsaid(house: House) -> None:
    _, mounted = crossed(house, "board", "mount session")
    assert mounted.refused is not None
    assert "Line 5 was recorded meanwhile: B2 is out of use" in mounted.refused
    assert house.left().lines == (("board", "B2 is out of use"),)
    _, mounted = crossed(house, "board", "mount session", "after")
    assert mounted.refused is not None
    assert "B2 is out of use (line 5), and the kept plan still mounts there" in mounted.refused


def test_what_is_mounted_before_the_plan_follows_new_readings_names_the_rules_of_its_dates(
    house: House,
) -> None:
    after = house.in_turn("readings", "mount session")
    crossed(house, "readings", "mount session")
    assert house.left()[:2] == after[:2]


@pytest.mark.parametrize("first", ["move", "air", "readings"])
def test_what_is_mounted_meanwhile_does_not_stop_what_is_said(house: House, first: str) -> None:
    for point in house.points(first):
        mine, hers = house.crossed(first, point, "mount one")
        assert (mine.refused, hers.refused) == (None, None)


def test_the_places_that_two_people_decided_both_stay(house: House) -> None:
    crossed(house, "plan kept", "plan kept too")
    assert house.left().kept.pinned == {"M-03", "M-04"}
    crossed(house, "plan anew", "plan kept too", "before")
    assert "M-04" in {p[0] for p in house.left().kept.placements}


def test_a_release_is_not_taken_back_once_the_specimen_is_lost(tmp_path: Path) -> None:
    desk = House(tmp_path).desk()
    desk.did("lost", "M-06", "dropped")
    run = desk("undo", "2")
    assert run.status == 3
    assert "M-06 is lost (dropped) and cannot stand on B3" in run.problems
    assert "Line 5 says: M-06 is lost: dropped. Take that back first: undo 5" in run.problems


def test_a_release_is_not_taken_back_once_it_is_in_the_chamber(tmp_path: Path) -> None:
    desk = House(tmp_path).desk()
    desk.did("relax", "M-06")
    run = desk("undo", "2")
    assert run.status == 3
    assert "M-06 stands on B3 and cannot be in the chamber too" in run.problems


def test_what_cannot_be_said_afterwards_does_not_fail_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise KeyError(4)

    desk = House(tmp_path).desk()
    monkeypatch.setattr(rooms, "moved_dates", fails)
    run = desk("move", "B1", "attic")
    assert run.status == 0
    assert run.out == "moved B1 to attic\n"
    assert (
        "recorded as line 5; what follows from it could not be worked out (KeyError: 4)"
        in run.problems
    )


def test_stopped_after_it_was_recorded_it_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stops(*_: object) -> None:
        raise KeyboardInterrupt

    desk = House(tmp_path).desk()
    monkeypatch.setattr(testing, "replan", stops)
    run = desk("test", "M-01", "soft")
    assert run.status == 0
    assert "recorded as line 5; what follows from it was stopped" in run.problems


RUN = "from scheduler.cli import main; main()"
TERMS = ("country", "locality", "habitat", "recordedBy", "stateProvince", "verbatimLabel")


@pytest.mark.slow
def test_processes_that_write_at_once_lose_nothing(tmp_path: Path) -> None:
    desk = House(tmp_path).desk()

    def amends(term: str) -> list[str]:
        said = []
        for n in range(4):
            command = [sys.executable, "-c", RUN, "--store", str(desk.store)]
            command += ["--now", WEDNESDAY, "amend", "M-03", f"{term}=word {n}"]
            run = subprocess.run(command, capture_output=True, text=True, check=False)
            said += [] if run.returncode == 0 else [run.stderr]
        return said

    with ThreadPoolExecutor(len(TERMS)) as pool:
        assert list(pool.map(amends, TERMS)) == [[]] * len(TERMS)
    with Store(desk.store) as store:
        label = store.snapshot().specimens["M-03"].label
    assert {term: label[term] for term in TERMS} == dict.fromkeys(TERMS, "word 3")


@pytest.mark.long
def test_of_a_soft_test_and_a_release_at_once_nothing_comes_off_after_the_test(
    tmp_path: Path,
) -> None:
    """Forty pairs of processes, each pair within 0.15 s: the later ones see the earlier line."""
    released = tested = 0
    for number in range(40):
        desk = House(tmp_path).desk()
        words = [["test", "M-01", "soft"], ["release", "M-01"]]
        order = words if number % 2 else words[::-1]
        running = []
        for command in order:
            start = [sys.executable, "-c", RUN, "--store", str(desk.store), "--now", WEDNESDAY]
            running.append(subprocess.Popen([*start, *command], stdout=DEVNULL, stderr=DEVNULL))
            time.sleep(0.15 * number / 40)
        assert {one.wait(60) for one in running} <= {0, 2, 3}  # 2: it stands on no board any more
        with Store(desk.store) as store:
            lines = [line.command for line in read_journal(store)[4:]]
        assert lines in (["test"], ["release"])
        released, tested = released + (lines == ["release"]), tested + (lines == ["test"])
    assert min(released, tested) > 0, (released, tested)
    print(f"{released} released, {tested} tested soft, none both")


@pytest.mark.parametrize("module", sorted(Path(testing.__file__).parent.glob("*.py")), ids=str)
def test_a_deed_reads_the_record_inside_its_transaction(module: Path) -> None:
    """No function reads the record ahead of the transaction in which it decides on it.

    What is slow is read before, and compared inside: those functions say so here.
    """
    tree = ast.parse(module.read_text(encoding="utf-8"))
    for function in (n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)):
        deeds_in = [n for n in ast.walk(function) if isinstance(n, ast.With) and _is_deed(n)]
        inside = {id(n) for one in deeds_in for n in ast.walk(one)}
        begins = min((one.lineno for one in deeds_in), default=0)
        reads = [n for n in ast.walk(function) if isinstance(n, ast.Call) and _reads(n)]
        # What is said afterwards may be read afterwards.
        early = [n for n in reads if id(n) not in inside and n.lineno < begins]
        if deeds_in and function.name not in READ_FIRST:
            assert not early, f"{module.name}: {function.name} reads ahead of its deed"


READ_FIRST = {"load"}
"""Files are read while others may write; the deed compares what they were read against."""


def _is_deed(node: ast.With) -> bool:
    return any(ast.unparse(item.context_expr).startswith("store.deed(") for item in node.items)


def _reads(node: ast.AST) -> bool:
    return isinstance(node, ast.Call) and ast.unparse(node.func) in (
        "view_of",
        "store.snapshot",
        "store.facts",
        "kept_plan",
    )
