"""The house keeps its own rules: one name for one thing, small rooms, imports one way."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import scheduler

HOUSE = Path(scheduler.__file__).parent
MOST_LINES, MOST_LINES_OF_A_FUNCTION = 320, 40

ROOMS = (
    "words table rulebook air drying intake planner record learning view feed looks faces deeds"
    " paper page cli"
).split(" ")
"""From the ground up: a room imports those before it, and none after it."""

CONVENTIONS = {"command": "cli", "blueprint": "page"}
"""What every module of a room calls alike, because it is looked up by that name."""


@cache
def modules() -> dict[Path, ast.Module]:
    """Every module of the house by its path."""
    return {path: ast.parse(path.read_text("utf-8")) for path in sorted(HOUSE.rglob("*.py"))}


def here(path: Path) -> str:
    """A module as it is named in this test."""
    return path.relative_to(HOUSE).with_suffix("").as_posix()


def room(name: str) -> str:
    return name.split("/")[0]


def names_of(module: ast.Module) -> Iterator[str]:
    """Names that a module defines, those with an underscore left out; imports define nothing."""
    for node in module.body:
        found: list[str] = []
        if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.AsyncFunctionDef):
            found = [node.name]
        elif isinstance(node, ast.Assign):
            found = [target.id for target in node.targets if isinstance(target, ast.Name)]
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            found = [node.target.id]
        yield from (name for name in found if not name.startswith("_"))


def test_no_public_name_is_defined_in_two_modules() -> None:
    where = defaultdict(set)
    for path, module in modules().items():
        for name in names_of(module):
            if room(here(path)) != CONVENTIONS.get(name):
                where[name].add(here(path))
    twice = {name: sorted(places) for name, places in where.items() if len(places) > 1}
    assert twice == {}


def test_no_module_and_no_function_outgrows_its_reader() -> None:
    long = {here(p) for p in modules() if len(p.read_text("utf-8").splitlines()) > MOST_LINES}
    assert sorted(long) == []
    longer = {
        f"{here(path)}.{node.name}"
        for path, module in modules().items()
        for node in ast.walk(module)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and (node.end_lineno or 0) - node.lineno >= MOST_LINES_OF_A_FUNCTION
    }
    assert sorted(longer) == []


def imported(module: ast.Module) -> Iterator[str]:
    """The rooms that a module imports from, wherever in it it does."""
    for node in ast.walk(module):
        if isinstance(node, ast.ImportFrom) and node.module:
            parts = node.module.split(".")
            if parts[0] == "scheduler":
                yield from [parts[1]] if len(parts) > 1 else (alias.name for alias in node.names)


def test_imports_go_one_way() -> None:
    upward = {
        (room(here(path)), to)
        for path, module in modules().items()
        if room(here(path)) in ROOMS
        for to in imported(module)
        if ROOMS.index(to) > ROOMS.index(room(here(path)))
    }
    assert sorted(upward) == []


def test_every_room_has_its_place() -> None:
    there = {room(here(path)) for path in modules()} - {"__init__", "__main__"}
    assert there == set(ROOMS)
