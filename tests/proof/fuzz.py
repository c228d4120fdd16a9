"""Hand every parser of tables, options, own rules and settings what nobody should write.

    python tests/proof/fuzz.py --inputs 5000

A parser may refuse anything, in its own words; it may not fail (exit status 70), and not hang.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from contextlib import chdir
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench_cases import FIRST_WEEKEND, Desk

from proof.lists import DIALECTS, sheet_of, write
from scheduler.rulebook import RULE_FILES, rules_dir

MOST_SECONDS = 10.0
"""Of the processor: what others do on the machine is no fault of a parser."""
_WORDS = (
    "", " ", "nan", "inf", "-inf", "-1", "0", "1e999", "1e-400", "٣", "½", "0x10", "1_000",
    "''", '"',
    "\x00", "\n", "=1+1", "2027-02-30", "2027-13-01", "0000-00-00", "9999-12-31T23:59", "8.5.27",
    "B1", "M-01", "study", "a" * 5000, "🦋", "=", "x=", "=x", "wingspan_mm=nan", "--", "-", "%",
    "50%",
    "0.5", "50,5", "5" * 400, "[", "1-2", "~4", "true", "None", "..", "/", "../../x",
)  # fmt: skip
_COMMANDS = (
    ("air", "study"), ("air",), ("amend", "M-14"), ("amend",), ("add", "owlet", "--count"),
    ("add", "owlet", "--wingspan"), ("add", "owlet", "--frozen"), ("add", "owlet", "--body"),
    ("add",), ("ready",), ("rules", "explain", "--rh-pct", "50", "--body-mm"),
    ("rules", "explain", "--body-mm", "4", "--rh-pct"), ("rules", "--family"), ("rules", "check"),
    ("load",), ("load", "--column"), ("load", str(FIRST_WEEKEND), "--column"),
    ("--rules",), ("session",), ("move", "B1"), ("thaw",), ("relax",), ("lost",), ("boards",),
    ("plan", "--problem"),
)  # fmt: skip


def mutated(raw: bytes, dice: random.Random) -> bytes:
    """Some bytes with a few changed, cut, doubled or put elsewhere."""
    data = bytearray(raw)
    for _ in range(dice.randint(1, 4)):
        at = dice.randrange(len(data) + 1)
        what = dice.randrange(6)
        if what == 0:
            data[at : at + 1] = bytes([dice.randrange(256)])
        elif what == 1:
            del data[at : at + dice.randrange(1, 40)]
        elif what == 2:
            data[at:at] = data[: dice.randrange(1, 200)]
        elif what == 3:
            data[at:at] = dice.choice(_WORDS).encode("utf-8", "surrogatepass")
        elif what == 4:
            data[at:at] = dice.choice((b",", b";", b'"', b"\n", b"\r", b"\t", b"\0", b"[", b"="))
        else:
            data = data[:at]
    return bytes(data)


def run(count: int, seed: int = 1) -> tuple[Counter[str], list[str]]:
    """Try so many inputs; return how many of each kind, and those that failed or hung."""
    dice, kinds, failed = random.Random(seed), Counter[str](), list[str]()
    kinds_of = (_batch, _settings, _list, _rules, _typed)
    # A typed word may name a file to write: all of them are written into the folder.
    with TemporaryDirectory() as name, chdir(name):
        desk = Desk(Path(name) / "record.sqlite")
        desk.did("load", FIRST_WEEKEND)
        for n in range(count):
            make = kinds_of[n % len(kinds_of)]
            folder = Path(name) / str(n)
            folder.mkdir()
            words = make(folder, dice)
            start = time.process_time()
            try:
                status = desk(*words).status
            except Exception as error:
                status, words = 70, (*words, repr(error))
            kinds[make.__name__] += 1
            if status not in (0, 1, 2, 3, 4) or time.process_time() - start > MOST_SECONDS:
                failed.append(f"{n}: {status}: {' '.join(map(repr, map(str, words)))[:300]}")
    return kinds, failed


def _batch(folder: Path, dice: random.Random) -> tuple[str | Path, ...]:
    for path in FIRST_WEEKEND.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    path = folder / dice.choice([p.name for p in FIRST_WEEKEND.iterdir()])
    path.write_bytes(mutated(path.read_bytes(), dice))
    extra = ("--skip-bad", folder / "bad") if dice.random() < 0.5 else ()
    return "load", folder, "--yes", *extra


def _settings(folder: Path, dice: random.Random) -> tuple[str | Path, ...]:
    for name in ("settings.toml", "columns.toml"):
        text = (FIRST_WEEKEND / "settings.toml").read_bytes() + b'\n[specimens]\n"Art" = "taxon"\n'
        (folder / name).write_bytes(mutated(text, dice))
    (folder / "rooms.csv").write_text("room,rh_pct\nden,50\n", encoding="utf-8")
    return "load", folder, "--preview"


def _list(folder: Path, dice: random.Random) -> tuple[str | Path, ...]:
    path = write(sheet_of(dice.randrange(10_000), dice.choice(list(DIALECTS.values()))), folder)
    path.write_bytes(mutated(path.read_bytes(), dice))
    return "load", path, "--yes", "--take", "file"


def _rules(folder: Path, dice: random.Random) -> tuple[str | Path, ...]:
    mine = folder / "mine"
    mine.mkdir()
    file = dice.choice(RULE_FILES)
    (mine / file).write_bytes(mutated((rules_dir() / file).read_bytes(), dice))
    ask = dice.choice((("rules", "check"), ("ready", "B3"), ("rules", "explain", "--body-mm", "4")))
    return "--rules", mine, *ask


def _typed(_: Path, dice: random.Random) -> tuple[str | Path, ...]:
    # A command line cannot carry a NUL.
    words = [dice.choice(_WORDS).replace("\0", "") for _ in range(dice.randint(1, 3))]
    return *dice.choice(_COMMANDS), *words


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    begin = time.perf_counter()
    counted, bad = run(told.inputs, told.seed)
    print(f"{dict(counted)}: {len(bad)} failed or hung; {time.perf_counter() - begin:.0f} s")
    print("\n".join(bad[:20]))
    assert not bad
