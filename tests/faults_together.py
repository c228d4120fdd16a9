"""`python tests/faults_together.py --rounds 100` breaks what two programs do at once.

It does these in turn, each on a fresh copy of one record. Two recording verbs begin together and
one of them is killed; a real `serve` is killed while two phones tap; `publish` into a real calendar
server on this computer is killed, or cannot write files. Afterwards the record must hold together,
and its replayed journal must give its tables. Two verbs must leave the record as after one of them,
after both in some order, or after none. Every tap that was answered must be in the journal. A
calendar that is published to again must be whole, with no event twice.

A `restore` and a verb begin together and one of them is killed: what the verb reported as recorded
must then be in the record, or in the one that was put aside.

The last line is `N faults, 0 lost, 0 half-done`, or the exit status is 1.
"""

from __future__ import annotations

import argparse
import itertools
import os
import random
import shutil
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from functools import partial
from http.client import HTTPException
from pathlib import Path
from urllib.parse import urlencode

from caldav_cases import PASSWORD, USER, Radicale, radicale
from faults import (
    NOW,
    RAW_WORDS,
    VERBS,
    Base,
    Count,
    ended,
    fails,
    image,
    import_verbs,
    in_a_child,
    prepare,
    verb,
)
from page_cases import forms_of
from serve_cases import Served, serving

from scheduler.cli import main
from scheduler.page.tokens import ensure_tokens
from scheduler.record import connecting
from scheduler.record.soundness import journal_faults, page_faults, reference_faults
from scheduler.record.store import Store
from scheduler.words.problems import RecordBusy

PAIRED = [v for v in VERBS if v not in ("plan", "tap", "feed", "backup", "restore")]
PHONES = 2
KINDS = ("two verbs", "serve", "publish", "restore")


@contextmanager
def a_copy(base: Base, place: Path) -> Iterator[Path]:
    """Give a fresh copy of the record."""
    shutil.copytree(base.folder, place)
    try:
        yield place
    finally:
        shutil.rmtree(place)


def unsound(record: Path) -> list[str]:
    """Return where a record does not hold together."""
    try:
        with closing(connecting.to_read(record)[0]) as db:
            return [*page_faults(db), *reference_faults(db), *journal_faults(db)]
    except RecordBusy as error:
        return [str(error)]


# --- two verbs -----------------------------------------------------------------------------


def two_verbs(pair: tuple[str, str], base: Base, folder: Path, chance: random.Random) -> Finding:
    """Begin two verbs together and kill one; judge what is left."""
    outs = folder / "out-1", folder / "out-2"
    with a_copy(base, folder / "round") as place:
        children = [in_a_child(verb(v, place), out) for v, out in zip(pair, outs, strict=True)]
        time.sleep(chance.uniform(0, 1.2 * max(base.seconds[v] for v in pair)))
        victim = chance.choice(children)
        os.kill(victim, signal.SIGKILL)
        ends = [ended(child) for child in children]
        faults, left = unsound(place / "record.sqlite"), image(place / "record.sqlite")
    one, two = pair
    alone = {base.before, base.after[one], base.after[two]}
    both = {_in_turn(base, folder, *order) for order in (pair, (two, one))}
    what = f"{one} with {two} ({ends})"
    if faults or left not in alone | both:
        return Finding(half=f"{what}: {faults[:3] or 'neither of them, nor both'}")
    for mine, other, end in ((one, two, ends[0]), (two, one, ends[1])):
        if end in (0, 1) and left not in both | {base.after[mine]}:
            return Finding(lost=f"{what}: {mine} was said to be recorded, beside {other}")
    return Finding(struck=-signal.SIGKILL in ends, words=_raw(what, *outs))


def _in_turn(base: Base, folder: Path, *verbs: str) -> str:
    with a_copy(base, folder / "turn") as place:
        for one in verbs:
            ended(in_a_child(verb(one, place), folder / "out"))
        return image(place / "record.sqlite")


def with_restore(one: str, base: Base, folder: Path, chance: random.Random) -> Finding:
    """Begin a verb and a restore together and kill one, or neither; judge what is left."""
    outs = folder / "out-1", folder / "out-2"
    with a_copy(base, folder / "round") as place:
        verbs = (one, "restore")
        children = [in_a_child(verb(v, place), out) for v, out in zip(verbs, outs, strict=True)]
        time.sleep(chance.uniform(0, 1.2 * max(base.seconds[v] for v in verbs)))
        if chance.random() < 0.7:
            os.kill(chance.choice(children), signal.SIGKILL)
        ends = [ended(child) for child in children]
        faults, left = unsound(place / "record.sqlite"), image(place / "record.sqlite")
        aside = [image(path) for path in place.glob("record-put-aside-*.sqlite")]
    after = base.after[one]
    back = {base.after["restore"], _in_turn(base, folder, "restore", one)}
    what = f"restore with {one} ({ends})"
    if faults or left not in {base.before, after} | back:
        return Finding(half=f"{what}: {faults[:3] or 'neither the old record nor the new'}")
    kept = left == after or after in aside or left == _in_turn(base, folder, "restore", one)
    if ends[0] in (0, 1) and not kept:
        return Finding(lost=f"{what}: {one} was said to be recorded")
    if ends[1] == 0 and left not in back:
        return Finding(lost=f"{what}: it was said to be back")
    return Finding(struck=-signal.SIGKILL in ends, words=_raw(what, *outs))


# --- serve ---------------------------------------------------------------------------------


def serve(base: Base, folder: Path, chance: random.Random) -> Finding:
    """Kill a server under the taps of phones; judge the record, and serve it again."""
    with a_copy(base, folder / "round") as place:
        record = place / "record.sqlite"
        with Store(record) as store:
            bench = f"/bench/{ensure_tokens(store).bench}/"
        told: list[str] = []
        with serving(record, now=NOW, quiet=True) as served:
            taps = [
                threading.Thread(target=_taps, args=(served, bench, number, told))
                for number in range(PHONES)
            ]
            for thread in taps:
                thread.start()
            time.sleep(chance.uniform(0.3, 4))
            served.process.kill()
            for thread in taps:
                thread.join()
        faults = unsound(record)
        with Store(record) as store:
            said = [r["text"] for r in store.db.execute("SELECT text FROM journal")]
        lost = [text for text in told if not any(text in line for line in said)]
        with serving(record, now=NOW, quiet=True) as again:
            if again.ask(bench).status != 200:
                lost.append("the address of the bench page")
    what = f"serve, {len(told)} taps"
    if faults:
        return Finding(half=f"{what}: {faults[:3]}")
    return Finding(struck=True, lost=f"{what}: {lost[:3]}" if lost else "", told=len(told))


def _taps(served: Served, bench: str, number: int, told: list[str]) -> None:
    """Read a dial off on the bench page until nobody answers; note what was taken."""
    place, humidity = f"{bench}board?name=B10", 30 + number / 10
    kind = {"Content_Type": "application/x-www-form-urlencoded"}
    with suppress(OSError, HTTPException):
        while True:
            page = served.ask(place).body.decode()
            form = next(f for f in forms_of(page) if f.words.startswith("Read off"))
            humidity += 0.5
            given = [field for field in form.fields if field[0] not in ("rh", "temp")]
            sent = urlencode([*given, ("rh", f"{humidity:g}"), ("temp", "20")])
            if served.ask(form.action, "POST", sent, **kind).status == 303:
                told.append(f": {humidity:g} %")


# --- publish -------------------------------------------------------------------------------


def publish(
    server: Radicale, number: int, base: Base, folder: Path, chance: random.Random
) -> Finding:
    """Break a publishing; judge record and calendar, and whether the next one mends it."""
    name = f"bench{number}"
    server.make(name, name)
    outs = folder / "out-1", folder / "out-2"
    with a_copy(base, folder / "round") as place:
        record = place / "record.sqlite"
        words = ["--store", str(record), "--now", NOW, "publish", f"{server.home}{name}/"]
        work: Callable[[], object] = partial(main, [*words, "--user", USER])
        began = time.monotonic()
        if number % 4 == 3:
            end = ended(in_a_child(partial(fails, chance.randrange(0, 8192), work), outs[0]))
        else:
            child = in_a_child(work, outs[0])
            time.sleep(chance.uniform(0, base.seconds.get("publish", 3.0)))
            os.kill(child, signal.SIGKILL)
            end = ended(child)
        half = server.events(name)  # asserts that none is there twice
        after = ended(in_a_child(work, outs[1]))
        base.seconds.setdefault("publish", time.monotonic() - began)
        faults, same = unsound(record), image(record) == base.before
    whole = server.events(name)
    server.ask("DELETE", f"{name}/")
    expected = _expected(base, folder)
    what = f"publish ({end}, {len(half)} of {expected} events, then {after})"
    if faults or not same or after != 0:
        return Finding(half=f"{what}: {faults[:3]} {outs[1].read_text()[-200:]}")
    if len(whole) != expected:
        return Finding(lost=f"{what}: {len(whole)} events after publishing again")
    return Finding(struck=end != 0, words=_raw(what, *outs))


def _expected(base: Base, folder: Path) -> int:
    """Return how many events the record has, by its calendar file."""
    if "events" not in base.after:
        with a_copy(base, folder / "feed") as place:
            ended(in_a_child(verb("feed", place), folder / "out"))
            text = (place / "boards.ics").read_text(encoding="utf-8")
            base.after["events"] = str(text.count("BEGIN:VEVENT"))
    return int(base.after["events"])


# --- all of it -----------------------------------------------------------------------------


class Finding:
    """What came of one round; empty where it is as it should be."""

    def __init__(
        self,
        half: str = "",
        lost: str = "",
        words: str = "",
        *,
        struck: bool = False,
        told: int = 0,
    ) -> None:
        self.half, self.lost, self.words = half, lost, words
        self.struck, self.told = struck, told


def _raw(what: str, *outs: Path) -> str:
    for out in outs:
        said = out.read_text(encoding="utf-8", errors="replace")
        if any(raw in said for raw in RAW_WORDS):
            return f"{what}: {said.strip()[-200:]}"
    return ""


def together(
    many: int, seed: int, folder: Path, kinds: tuple[str, ...] = KINDS, *, say: bool = False
) -> Count:
    """Break something so many times, one kind after the other."""
    os.environ["WINGREST_CALDAV_PASSWORD"] = PASSWORD
    import_verbs()
    base, chance, count = prepare(folder, [*PAIRED, "restore"]), random.Random(seed), Count()
    pairs = list(itertools.permutations(PAIRED, 2))
    chance.shuffle(pairs)
    with ExitStack() as stack:
        server = stack.enter_context(radicale(folder / "radicale")) if "publish" in kinds else None
        for number in range(many):
            kind, turn = kinds[number % len(kinds)], number // len(kinds)
            if kind == "two verbs":
                found = two_verbs(pairs[turn % len(pairs)], base, folder, chance)
            elif kind == "restore":
                found = with_restore(PAIRED[turn % len(PAIRED)], base, folder, chance)
            elif kind == "serve" or server is None:
                found = serve(base, folder, chance)
            else:
                found = publish(server, turn, base, folder, chance)
            count.faults += 1
            count.struck[kind] += found.struck
            count.struck["taps answered"] += found.told
            for noted, text in (
                (count.half, found.half),
                (count.lost, found.lost),
                (count.words, found.words),
            ):
                noted += [text] if text else []
            if say and number % 25 == 24:
                print(f"{number + 1} ...", file=sys.stderr, flush=True)
    return count


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=99)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", nargs="*", choices=KINDS, default=list(KINDS))
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="wingrest-faults-") as name:
        done = together(chosen.rounds, chosen.seed, Path(name), tuple(chosen.kinds), say=True)
    for line in (*done.lost, *done.half, *done.words):
        print(line)
    print(", ".join(f"{kind} {many}" for kind, many in sorted(done.struck.items())), "struck")
    print(f"{done.faults} faults, {len(done.lost)} lost, {len(done.half)} half-done")
    sys.exit(bool(done.lost or done.half or done.words))
