"""Give every parser what nobody should write: tables, options, own rules, settings, logger files,
the planner's problem, the forms of the page.

    python tests/proof/fuzz.py --inputs 5000

A parser may refuse anything, in its own words; it must not fail (exit status 70) and not hang. Most
inputs are given to the function that the command calls, and a tenth to the command itself, since
reading the shipped rules and opening the record each time would take most of the time.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import sys
import time
from collections import Counter
from contextlib import chdir, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import quote

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench_cases import FIRST_WEEKEND, WEDNESDAY, Desk, local, weekend
from page_cases import Form, Phone, phones
from readings_cases.broken import tried
from werkzeug.test import TestResponse

from proof.dialects import DIALECTS
from proof.lists import sheet_of, write
from scheduler.deeds.load import Unsure, Wish, load
from scheduler.faces.preview import batch_preview_lines
from scheduler.planner.problem_json import problem_from_json
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import RULE_FILES, load_rulebook, rules_dir, sooner_rows
from scheduler.words.problems import WingrestError

MOST_SECONDS = 10.0
"""Of the processor: what others do on the machine is no fault of a parser."""
_BY_COMMAND = 0.1
_AT = local(WEDNESDAY)
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
    # A typed word may name a file to write: all of them are written into the folder.
    with TemporaryDirectory() as name, chdir(name):
        bench = _Bench(Path(name))
        for n in range(count):
            kind = _KINDS[n % len(_KINDS)]
            folder = Path(name) / str(n)
            folder.mkdir()
            start = time.process_time()
            try:
                said = kind(bench, folder, dice)
            except Exception as error:
                said = repr(error)
            kinds[kind.__name__.strip("_")] += 1
            if said is None and time.process_time() - start > MOST_SECONDS:
                said = "hung"
            if said is not None:
                failed.append(f"{n}: {kind.__name__}: {said[:300]}")
            shutil.rmtree(folder)
    return kinds, failed


class _Bench:
    """What the inputs are tried on: a record, a planner's problem, and a phone on the page."""

    def __init__(self, folder: Path) -> None:
        self.desk = Desk(folder / "record.sqlite")
        self.desk.did("load", FIRST_WEEKEND)
        (folder / "planned").mkdir()
        planned = weekend(folder / "planned")
        planned.did("plan", "--problem", folder / "problem.json")
        self.problem = (folder / "problem.json").read_bytes()
        self.phone: Phone = phones(planned)[0]

        self.rules = load_rulebook()

    def loaded(self, folder: Path, wish: Wish, dice: random.Random) -> str | None:
        """Load a folder: by the command's own deed, and every tenth by the command."""
        if dice.random() < _BY_COMMAND:
            return self.typed("load", folder, *_as_options(wish))
        try:
            # A store keeps what it read with until it is closed: one for all would hold thousands.
            with Store(self.desk.store) as store:
                when = When(_AT, _AT, None, store.latest_line())
                load(store, self.rules, folder, when, wish)
        except Unsure as unsure:
            batch_preview_lines(unsure.batch)
        except WingrestError as error:
            str(error)
        return None

    def typed(self, *words: str | Path) -> str | None:
        """Type a command; say what is wrong with how it ended, None for nothing."""
        status = self.desk(*words).status
        said = " ".join(map(repr, map(str, words)))
        return None if status in (0, 1, 2, 3, 4) else f"exit status {status}: {said}"


def _as_options(wish: Wish) -> list[str | Path]:
    options: list[str | Path] = ["--preview"] if wish.only_look else []
    options += ["--yes"] if wish.sure else []
    options += ["--take", wish.take] if wish.take else []
    return options + (["--skip-bad", wish.bad_rows_to] if wish.bad_rows_to else [])


def _batch(bench: _Bench, folder: Path, dice: random.Random) -> str | None:
    for path in FIRST_WEEKEND.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    path = folder / dice.choice([p.name for p in FIRST_WEEKEND.iterdir()])
    path.write_bytes(mutated(path.read_bytes(), dice))
    bad = folder / "bad" if dice.random() < 0.5 else None
    return bench.loaded(folder, Wish(bad_rows_to=bad, sure=True), dice)


def _settings(bench: _Bench, folder: Path, dice: random.Random) -> str | None:
    for name in ("settings.toml", "columns.toml"):
        text = (FIRST_WEEKEND / "settings.toml").read_bytes() + b'\n[specimens]\n"Art" = "taxon"\n'
        (folder / name).write_bytes(mutated(text, dice))
    (folder / "rooms.csv").write_text("room,rh_pct\nden,50\n", encoding="utf-8")
    return bench.loaded(folder, Wish(only_look=True), dice)


def _list(bench: _Bench, folder: Path, dice: random.Random) -> str | None:
    path = write(sheet_of(dice.randrange(10_000), dice.choice(list(DIALECTS.values()))), folder)
    path.write_bytes(mutated(path.read_bytes(), dice))
    return bench.loaded(path, Wish(sure=True, take="file"), dice)


def _rules(bench: _Bench, folder: Path, dice: random.Random) -> str | None:
    mine = folder / "mine"
    mine.mkdir()
    file = dice.choice(RULE_FILES)
    (mine / file).write_bytes(mutated((rules_dir() / file).read_bytes(), dice))
    if dice.random() >= _BY_COMMAND:
        with suppress(WingrestError):
            sooner_rows(load_rulebook(mine), mine)
        return None
    ask = dice.choice((("rules", "check"), ("ready", "B3"), ("rules", "explain", "--body-mm", "4")))
    return bench.typed("--rules", mine, *ask)


def _typed(bench: _Bench, _: Path, dice: random.Random) -> str | None:
    # A command line cannot carry a NUL.
    words = [dice.choice(_WORDS).replace("\0", "") for _ in range(dice.randint(1, 3))]
    return bench.typed(*dice.choice(_COMMANDS), *words)


def _logger(_: _Bench, folder: Path, dice: random.Random) -> str | None:
    tried(dice.randrange(1_000_000), folder)
    return None


def _problem(bench: _Bench, _: Path, dice: random.Random) -> str | None:
    """Read a planner's problem with bytes or values changed; its faults are ValueErrors."""
    try:
        if dice.random() < 0.3:
            data = json.loads(mutated(bench.problem, dice))
        else:
            data = json.loads(bench.problem)
            for _again in range(dice.randint(1, 3)):
                _change(data, dice)
        problem_from_json(data)
    except (ValueError, RecursionError):
        pass
    return None


def _change(data: object, dice: random.Random) -> None:
    """Put something else at one place of a tree of JSON, or take it away."""
    while isinstance(data, dict | list) and data:
        key = dice.choice(list(data)) if isinstance(data, dict) else dice.randrange(len(data))
        inner = data[key]
        if isinstance(inner, dict | list) and inner and dice.random() < 0.8:
            data = inner
            continue
        if dice.random() < 0.2:
            del data[key]
        else:
            data[key] = dice.choice((*_WORDS, None, -1, 1e308, True, [], {}, [[]]))
        return


def _page(bench: _Bench, _: Path, dice: random.Random) -> str | None:
    """Send a form of the page with fields changed, doubled, left out; any answer but a fault."""
    bench.phone.look(dice.choice(("", "boards", "board?name=B5", "weeks", "journal")))
    if dice.random() < 0.2:
        word = dice.choice(_WORDS)
        asked = dice.choice(("board?name=", "specimen?name=", "find?q=", "photo?file=", "?line="))
        return _fault(bench.phone.get(asked + quote(word)), asked + word)
    forms = bench.phone.forms()
    if not forms:
        return None
    form = dice.choice(forms)
    fields = [(name, _typed_in(name, value, dice)) for name, value in form.fields]
    fields = [field for field in fields if dice.random() > 0.05]
    fields += [(dice.choice([name for name, _ in form.fields]), dice.choice(_WORDS))]
    answer = bench.phone.send(Form(form.action, fields))
    return _fault(answer, f"{form.action} {fields}")


def _typed_in(name: str, value: str, dice: random.Random) -> str:
    chance = 0.05 if name == "slip" else 0.4
    return dice.choice(_WORDS) if dice.random() < chance else value


def _fault(answer: TestResponse, said: str) -> str | None:
    return f"{answer.status}: {said}" if answer.status_code >= 500 else None


_KINDS = (_batch, _settings, _list, _rules, _typed, _logger, _problem, _page)


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
