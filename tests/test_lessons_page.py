"""The page of one's own tests: predicted and found, room by room."""

from __future__ import annotations

import math

from scheduler.looks.predicted import Foretold
from scheduler.page.bench.dots import SIDE, dots


def test_every_specimen_is_a_dot_that_says_what_was_foretold_and_found() -> None:
    drawn = dots(
        "study",
        [
            Foretold("M-01", 1.0, 0.9, 1.2, False),
            Foretold("M-02", 1.1, 1.3, math.inf, False),
            Foretold("M-03", 1.1, 1.2, math.inf, True),
        ],
    )
    assert drawn.count("<circle") == 2
    assert "<title>M-01: foretold 1.00, stiff at 1.20</title>" in drawn
    assert "<title>M-02: foretold 1.10, soft at 1.30</title>" in drawn
    assert "<title>M-03: drooped</title>" in drawn
    assert "of 3 specimens" in drawn


def test_what_was_foretold_rightly_lies_on_the_slanting_line() -> None:
    drawn = dots("study", [Foretold("M-01", 1.0, 0.0, 1.0, False)])
    x, y = (float(drawn.split(f'{at}="')[1].split('"')[0]) for at in ("cx", "cy"))
    assert x + y == SIDE or abs(x + y - SIDE) < 0.2
