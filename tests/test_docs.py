"""Help and documents: every command is explained, listed and quick to ask."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

import click
import pytest
from bench_cases import weekend

from scheduler.cli import COMMANDS, wingrest

ROOT = Path(__file__).parent.parent
HEAVY = ("pandas", "numpy", "numba", "ortools", "icalendar", "flask", "caldav", "niquests", "lxml")


def command(name: str) -> click.Command:
    found = wingrest.get_command(click.Context(wingrest), name)
    assert found is not None
    return found


def every_command() -> Iterator[tuple[str, click.Command]]:
    """Every command and what stands below it, by its words."""
    for name in COMMANDS:
        found = command(name)
        yield name, found
        below: Mapping[str, click.Command] = getattr(found, "commands", {})
        yield from ((f"{name} {word}", one) for word, one in below.items())


def first_sentence(text: str) -> str:
    told = re.match(r"(.+?[.?])(?:\s|$)", " ".join(text.split()))
    assert told is not None, f"no sentence: {text!r}"
    return told[1]


@pytest.mark.parametrize(("words", "found"), list(every_command()), ids=lambda v: str(v))
def test_every_command_and_every_option_has_help(words: str, found: click.Command) -> None:
    assert found.help, f"{words} has no help"
    silent = [p.name for p in found.params if isinstance(p, click.Option) and not p.help]
    assert silent == []


@pytest.mark.parametrize("name", COMMANDS)
def test_the_list_of_commands_says_the_first_sentence_of_each_help(name: str) -> None:
    assert COMMANDS[name][1] == first_sentence(command(name).help or "")


def test_the_list_names_every_command(tmp_path: Path) -> None:
    shown = weekend(tmp_path).did("--help")
    for name, (_, text) in COMMANDS.items():
        assert re.search(rf"^  {name} +{re.escape(text[:30])}", shown, re.MULTILINE), name


@pytest.mark.parametrize("words", [words for words, _ in every_command()])
def test_every_command_stands_in_the_documents(words: str) -> None:
    pages = [page.read_text(encoding="utf-8") for page in ROOT.glob("*.md")]
    # Options such as --now stand between the program and the command; prose may name it alone.
    name = re.compile(rf"(wingrest(?: --\w+ \S+)* |`){words}\b")
    assert any(name.search(page) for page in pages)


def test_no_command_has_a_module_that_nobody_can_reach() -> None:
    modules = {p.stem for p in (ROOT / "scheduler" / "cli").glob("*.py")}
    listed = {module for module, _ in COMMANDS.values()}
    shared = {m for m in modules - listed if not m.startswith("__")}
    for module in shared:
        text = (ROOT / "scheduler" / "cli" / f"{module}.py").read_text(encoding="utf-8")
        assert "@click.command()" not in text, module


@pytest.mark.parametrize(
    "words",
    [
        ["--help"],
        ["ready"],
        ["ready", "B5", "--format", "json"],
        ["rules", "explain", "--body-mm", "6", "--rh-pct", "60"],
        ["today"],
        ["find", "sphinx"],
        ["show", "M-14"],
        ["list", "waiting"],
        ["list", "waiting", "--format", "json"],
        ["session", "2027-06-05", "09:00", "--minutes", "90"],
        ["add", "owlet", "--wingspan", "38", "--fresh"],
        ["amend", "M-14", "wingspan_mm=56"],
    ],
    ids=" ".join,
)
def test_a_quick_question_imports_nothing_heavy(words: list[str], tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    words = ["--store", str(desk.store), "--now", "2027-05-05T18:00", *words]
    script = (
        "import sys\n"
        "from scheduler.cli import main\n"
        "try:\n"
        f"    main({words!r})\n"
        "except SystemExit as left:\n"
        "    status = left.code\n"
        f"print(status, sorted(set({HEAVY!r}) & set(sys.modules)), file=sys.stderr)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    status, loaded = run.stderr.splitlines()[-1].split(" ", 1)
    assert status in ("0", "1")
    assert run.stdout
    assert loaded == "[]"


def test_the_import_budget_would_notice(tmp_path: Path) -> None:
    # `feed` needs icalendar: the same question about it finds it.
    desk = weekend(tmp_path)
    words = ["--store", str(desk.store), "feed", "-o", str(tmp_path / "boards.ics")]
    script = (
        "import sys\n"
        "from scheduler.cli import main\n"
        "try:\n"
        f"    main({words!r})\n"
        "except SystemExit:\n"
        "    print('icalendar' in sys.modules)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert run.stdout.splitlines()[-1] == "True"
