"""What people would see in stories told in commands, compared whole."""

from __future__ import annotations

from pathlib import Path

import pytest
from console_blocks import shown
from story_blocks import STORIES, played


def test_every_story_is_there() -> None:
    told = [story.stem for story in STORIES]
    assert told == ["brood", "damp_fortnight", "damp_july", "first_weekend", "weekend"]


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.stem)
def test_it_goes_as_it_is_told(story: Path, tmp_path: Path) -> None:
    assert played(story, tmp_path) == story.read_text(encoding="utf-8")


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.stem)
def test_nothing_that_is_shown_is_wider_than_a_terminal(story: Path) -> None:
    lines = list(shown(story.read_text(encoding="utf-8")))
    assert lines
    assert max(map(len, lines)) <= 80
