"""Lists from known truth, whole and damaged, and what nobody should write: a part of the proof.

`python tests/proof/tables.py` and `python tests/proof/fuzz.py` run as many as one likes.
"""

from __future__ import annotations

import pytest
from proof import fuzz, tables
from proof.dialects import DIALECTS
from proof.slips import DAMAGES


def proven(count: int, seed: int) -> None:
    tally = tables.run(count, seed)
    assert tally.wrong == []
    assert tally.undamaged_asked_first <= 0.05 * tally.undamaged
    assert tally.undamaged_asked_again == 0
    assert tally.damaged > 0.3 * count


def test_there_are_dialects_and_damages_enough() -> None:
    assert (len(DIALECTS) >= 60, len(DAMAGES) >= 40) == (True, True)


def test_no_list_is_read_wrongly_without_a_word() -> None:
    proven(2 * 3 * len(DIALECTS), seed=11)


@pytest.mark.slow
def test_a_list_in_every_dialect_is_loaded_by_the_command_as_it_truly_is() -> None:
    assert tables.by_command(len(DIALECTS), seed=12) == []


@pytest.mark.long
@pytest.mark.parametrize("seed", range(20, 24))
def test_no_list_of_thousands_is_read_wrongly_without_a_word(seed: int) -> None:
    proven(1440, seed)


def test_no_input_makes_a_parser_fail_or_hang() -> None:
    assert fuzz.run(160, seed=3)[1] == []


@pytest.mark.long
@pytest.mark.parametrize("seed", range(30, 34))
def test_no_input_of_thousands_makes_a_parser_fail_or_hang(seed: int) -> None:
    assert fuzz.run(1000, seed)[1] == []
