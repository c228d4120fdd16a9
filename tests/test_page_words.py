"""No command line on a page: whatever the house says, the page says where to tap instead."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import scheduler
from scheduler.cli import COMMANDS
from scheduler.page.spoken import PLACES, spoken

HOUSE = Path(scheduler.__file__).parent
TYPED = re.compile(r"wingrest [a-z-]|(?<![\w.-])--[a-z]")
"""What is typed at a terminal: the program's name before a word, or an option.

The slip of a form, which is drawn by chance, may hold ".--x" and is none.
"""


def texts_of(module: ast.Module) -> Iterator[str]:
    """Every text of a module but its docstrings; what is filled in stands as X."""
    docs = {
        id(node.body[0].value)
        for node in ast.walk(module)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    inside: set[int] = set()
    for node in ast.walk(module):
        if isinstance(node, ast.JoinedStr):
            inside |= {id(part) for part in node.values}
            yield "".join(
                str(part.value) if isinstance(part, ast.Constant) else "X" for part in node.values
            )
        elif isinstance(node, ast.Constant) and id(node) not in docs | inside:
            yield str(node.value)


def said_by_the_house() -> set[str]:
    paths = [p for p in HOUSE.rglob("*.py") if p.relative_to(HOUSE).parts[0] not in ("cli", "page")]
    return {t for p in paths for t in texts_of(ast.parse(p.read_text("utf-8"))) if TYPED.search(t)}


def test_whatever_the_house_says_is_said_without_a_command() -> None:
    said = said_by_the_house()
    assert len(said) > 60, "the house was not read"
    left = {text: spoken(text) for text in said if TYPED.search(spoken(text))}
    assert left == {}


def test_every_command_has_its_place() -> None:
    assert set(COMMANDS) - set(PLACES) == set()


@pytest.mark.parametrize(
    ("command", "page"),
    [
        ("no plan is kept. `wingrest plan` makes one", "no plan is kept. The page Plan makes one"),
        (
            "Nothing was taken off. Off too early, the wings droop; if it must be, say why:"
            " --early REASON",
            "Nothing was taken off. Off too early, the wings droop; if it must be, say why",
        ),
        (
            "Check the ids and --at; `wingrest journal` shows what was recorded",
            "Check the ids and the time; the Journal shows what was recorded",
        ),
        ("Take that back first: undo 12", "Take that back first: “Undo” of line 12"),
        ("locality Moor-North; 5--6 mm", "locality Moor-North; 5--6 mm"),
    ],
)
def test_a_sentence_stays_a_sentence(command: str, page: str) -> None:
    assert spoken(command) == page
