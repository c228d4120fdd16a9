"""Invented logger files of many formats and kinds of damage: none is misread without a warning."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest
from readings_cases.broken import MOST_SECONDS, tried
from readings_cases.damage import DAMAGES
from readings_cases.judge import NOW, ZONE, Case, cases, read_case, verdict

from scheduler.intake.readings import read_readings

ASIDE = ("asked", "refused", "named", "right")


def judged(files: Iterable[Case], folder: Path) -> Counter[tuple[bool, str]]:
    found: Counter[tuple[bool, str]] = Counter()
    for one in files:
        said = verdict(one, read_case(one, folder))
        assert said in ASIDE, f"seed {one.seed}: {said} ({one.dialect.name}; {one.damage})"
        found[one.damage is not None, said] += 1
    return found


def test_there_are_enough_manners_and_damages() -> None:
    assert len({one.dialect.name for one in cases(60)}) >= 40
    assert len(DAMAGES) >= 20


def test_as_loggers_write_them_95_of_100_need_no_question(tmp_path: Path) -> None:
    found = judged(cases(100, 90_000, share_damaged=0), tmp_path)
    assert found[False, "right"] >= 95


def test_damaged_ones_are_asked_about_refused_or_read_rightly(tmp_path: Path) -> None:
    judged(cases(150, 91_000, share_damaged=1), tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("part", range(4))
def test_thousands_of_them(part: int, tmp_path: Path) -> None:
    found = judged(cases(1_000, 100_000 + 1_000 * part), tmp_path)
    whole = sum(n for (damaged, _), n in found.items() if not damaged)
    assert found[False, "right"] >= 0.95 * whole


@pytest.mark.parametrize("part", range(4))
def test_whatever_the_bytes_no_traceback(part: int, tmp_path: Path) -> None:
    assert max(tried(seed, tmp_path) for seed in range(50 * part, 50 * part + 50)) <= MOST_SECONDS


@pytest.mark.long
def test_thousands_of_broken_files(tmp_path: Path) -> None:
    assert max(tried(seed, tmp_path) for seed in range(10_000, 13_000)) <= MOST_SECONDS


@pytest.mark.parametrize(
    "broken",
    [
        b"1\xff.07.2027 10:00;20,1;61,5",
        b"11.07.2027 10:00;20,1;61,\xff",
        b"11.07.2027 10:\xff0;20,1;61,5",
    ],
)
def test_a_broken_byte_is_no_space(tmp_path: Path, broken: bytes) -> None:
    # In one old code page this byte is a space that does not break: 1 July for 11, 61 for 61.5.
    path = tmp_path / "logger.csv"
    lines = [b"11.07.2027 09:00;20,0;61,0", broken, b"13.07.2027 11:00;20,0;61,0"]
    path.write_bytes(b"\n".join([b"Time;Temperature (C);RH (%)", *lines]) + b"\n")
    found = read_readings(path, zone=ZONE, now=NOW)
    assert found.problems
    assert "byte 0xFF" in found.problems[0].reason
