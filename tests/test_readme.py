"""What the README shows is what the program does."""

from __future__ import annotations

import re
from pathlib import Path

from console_blocks import refreshed, shown
from readme_blocks import README

TEXT = README.read_text(encoding="utf-8")


def test_every_command_of_the_readme_prints_what_stands_below_it(tmp_path: Path) -> None:
    assert refreshed(TEXT, tmp_path) == TEXT


def test_the_first_block_is_two_commands_of_one_line() -> None:
    first = re.search(r"^```sh\n(.*?)^```$", TEXT, re.MULTILINE | re.DOTALL)
    assert first is not None
    install, check = first[1].splitlines()
    assert "wingrest demo sample_batches/" in install
    assert "pytest" in check


def test_nothing_that_is_shown_is_wider_than_a_terminal() -> None:
    output = list(shown(TEXT))
    assert output
    assert max(map(len, output)) <= 80
