"""Read many lists written from known truth: none may be read wrongly without a warning.

python tests/proof/tables.py --files 10000
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench_cases import Desk
from verb_cases import snapshot

from proof.dialects import COLUMNS, DIALECTS, UNCLEAR
from proof.lists import TODAY, Sheet, sheet_of, write
from proof.slips import DAMAGES
from scheduler.intake.batch import Batch, Known, read_batch
from scheduler.intake.batch.mapping import keep_mapping
from scheduler.rulebook import Rulebook, load_rulebook


@dataclass
class Tally:
    """What became of the lists."""

    undamaged: int = 0
    undamaged_asked_first: int = 0
    unclear_asked_first: int = 0
    undamaged_asked_again: int = 0
    damaged: int = 0
    damaged_named: int = 0
    wrong: list[str] = field(default_factory=list)
    kinds: Counter[str] = field(default_factory=Counter)

    def said(self) -> str:
        """The figures, in a line or two."""
        return (
            f"{self.undamaged} undamaged in {len(DIALECTS)} dialects:"
            f" {self.undamaged_asked_first} asked about the first time"
            f" ({self.unclear_asked_first} of these with titles that may mean several things),"
            f" {self.undamaged_asked_again} again; {self.damaged} with {len(DAMAGES)} kinds of"
            f" damage: {self.damaged_named} named or asked about;"
            f" read wrongly without a word: {len(self.wrong)}"
        )


def run(count: int, seed: int = 1) -> Tally:
    """Write and read so many lists, half of them damaged."""
    rules, tally, dice = load_rulebook(), Tally(), random.Random(seed)
    names = list(DIALECTS)
    for n in range(count):
        name = names[n % len(names)]
        sheet = sheet_of(seed * 1_000_003 + n, DIALECTS[name])
        kind = dice.choice(list(DAMAGES)) if n // len(names) % 2 else ""
        with TemporaryDirectory() as folder:
            if kind and DAMAGES[kind](sheet):
                _damaged(f"{n}: {name}, {kind}", sheet, Path(folder), rules, tally)
                tally.kinds[kind] += 1
            elif not kind:
                _undamaged(f"{n}: {name}", sheet, Path(folder), rules, tally)
    return tally


def _read(path: Path, rules: Rulebook) -> tuple[Batch, int]:
    batch, problems = read_batch(path, known=Known(timezone="UTC"), rules=rules, now=TODAY)
    return batch, len(problems)


def _undamaged(name: str, sheet: Sheet, folder: Path, rules: Rulebook, tally: Tally) -> None:
    tally.undamaged += 1
    path = write(sheet, folder)
    batch, problems = _read(path, rules)
    if batch.questions or problems:
        tally.undamaged_asked_first += 1
        tally.unclear_asked_first += tuple(sheet.header) == UNCLEAR
        if not problems:
            keep_mapping(path, batch)
            batch, problems = _read(path, rules)
        tally.undamaged_asked_again += bool(batch.questions or problems)
    if not problems and not _true(sheet, batch):
        tally.wrong.append(name)


def _damaged(name: str, sheet: Sheet, folder: Path, rules: Rulebook, tally: Tally) -> None:
    tally.damaged += 1
    # What a person agreed to of a sound list must not hide a damage of this one.
    sound = folder / "sound"
    sound.mkdir()
    first = write(sheet_of(7, sheet.dialect), sound)
    batch, _ = _read(first, rules)
    keep_mapping(folder / "list", batch)
    batch, problems = _read(write(sheet, folder), rules)
    if problems or batch.questions:
        tally.damaged_named += 1
    elif not _true(sheet, batch):
        tally.wrong.append(name)


def by_command(count: int, seed: int = 1) -> list[str]:
    """Load so many lists by the command, a record each; return those that it holds otherwise."""
    names, wrong = list(DIALECTS), []
    for n in range(count):
        name = names[n % len(names)]
        sheet = sheet_of(seed * 1_000_003 + n, DIALECTS[name])
        with TemporaryDirectory() as folder:
            path, desk = write(sheet, Path(folder)), Desk(Path(folder) / "record.sqlite")
            desk.did("load", path, "--yes", now=TODAY.isoformat())
            kept = snapshot(desk).specimens.values()
        if _cells(kept) != _cells(sheet.truth):
            wrong.append(f"{n}: {name}, by the command")
    return wrong


def _cells(insects: Iterable[Any]) -> list[tuple[Any, ...]]:
    return sorted(tuple(getattr(insect, column) for column in COLUMNS) for insect in insects)


def _true(sheet: Sheet, batch: Batch) -> bool:
    """Whether every specimen was read as it truly is, and none beside them."""
    read = [tuple(getattr(s, column) for column in COLUMNS) for s in batch.specimens]
    return read == [tuple(getattr(i, column) for column in COLUMNS) for i in sheet.truth]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--command", type=int, default=0, help="so many by the command as well")
    told = parser.parse_args()
    start = time.process_time()
    result = run(told.files, told.seed)
    print(f"{result.said()}; {time.process_time() - start:.0f} s of the processor")
    result.wrong += by_command(told.command, told.seed)
    for line in result.wrong[:20]:
        print(f"  wrong: {line}")
    assert not result.wrong
    assert result.undamaged_asked_first <= result.undamaged * 0.05
    assert result.undamaged_asked_again == 0
