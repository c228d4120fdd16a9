"""`python tests/faults.py --rounds 600` breaks the record in many ways, again and again.

Every round takes a fresh copy of one record, begins one thing that writes, and breaks it: it is
killed at a random moment, the disk is full or fails in the middle, the file is torn when it is
copied, or a clock is years off. Afterwards the record must hold together, and its replayed journal
must give its tables. It must say either what it said before or all that was to be recorded, and
nothing that was reported as recorded may be missing. With `--writers 8 --seconds 30`, so many
people write at once instead.

The last line is `N faults, 0 lost, 0 half-done`, or the exit status is 1.
"""

from __future__ import annotations

import argparse
import importlib
import os
import pkgutil
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, redirect_stderr, redirect_stdout, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import scheduler.cli
import scheduler.deeds
from scheduler.cli import desk as desk_module
from scheduler.cli import main
from scheduler.record import connecting
from scheduler.record.soundness import journal_faults, page_faults, reference_faults
from scheduler.record.store import Store
from scheduler.words.problems import RecordBusy

ROOT = Path(__file__).resolve().parents[1]
FIRST_WEEKEND = ROOT / "sample_batches" / "first_weekend"
BEFORE, NOW = "2027-05-05T18:00", "2027-05-08T12:00"

VERBS: dict[str, tuple[str, ...]] = {
    "load": ("load", "{folder}/batch"),
    "add": ("add", "owlet", "--count", "2", "--wingspan", "38", "--fresh"),
    "session": ("session", "2027-05-15 09:00", "--minutes", "90"),
    "relax": ("relax", "M-30", "--at", "2027-05-08T10:00"),
    "thaw": ("thaw", "M-31"),
    "putback": ("putback", "M-30", "fridge"),
    "mount": ("mount", "SAT-08"),
    "test": ("test", "B5", "stiff"),
    "release": ("release", "B5"),
    "lost": ("lost", "M-31", "eaten by a mouse"),
    "move": ("move", "B3", "cabinet"),
    "board": ("board", "B9", "out"),
    "room": ("room", "study", "--rh", "55"),
    "air": ("air", "study", "52"),
    "readings": ("readings", "{folder}/study.csv", "--room", "study", "--yes"),
    "amend": ("amend", "M-30", "body_mm=6.2"),
    "plan": ("plan", "--effort", "quick"),
    "undo": ("undo",),
    "feed": ("feed", "-o", "{folder}/boards.ics"),
    "backup": ("backup", "{folder}/kept.sqlite.gz"),
    "restore": ("restore", "{folder}/older.sqlite", "--over"),
    "tap": (),
}
"""What is begun and broken. `tap` is a dryness test on the bench page; `feed` writes into the
record what publishing writes."""

MOUNTS = sys.platform.startswith("linux") and os.geteuid() == 0
"""A full disk is a small one that was mounted; elsewhere SQLite is told that it is full."""

KILLED_WITHIN_S = 2.0

RAW_WORDS = ("database is locked", "disk I/O error", "Traceback", "malformed", "Please report")
"""What no person should have to read."""

FAULTS = ("killed", "disk full", "I/O error", "torn copy", "clock")


@dataclass
class Count:
    """What came of so many rounds."""

    faults: int = 0
    struck: Counter[str] = field(default_factory=Counter)
    lost: list[str] = field(default_factory=list)
    half: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Base:
    """A record to begin from, and what each verb makes of it when nothing breaks."""

    folder: Path
    before: str
    after: dict[str, str]
    seconds: dict[str, float]


def image(record: Path) -> str:
    """Everything a record says, journal and all."""
    with Store(record) as store:
        lines = [tuple(r) for r in store.db.execute("SELECT line, command, text FROM journal")]
        return f"{lines}\n{store.image()}"


def in_a_child(work: Callable[[], object], out: Path) -> int:
    """Fork a process that does some work with its words in a file; return its number."""
    child = os.fork()
    if child:
        return child
    status: object = 70
    try:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        words = os.open(out, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
        os.dup2(words, 1)
        os.dup2(words, 2)
        sys.stdout, sys.stderr = open(1, "w", closefd=False), open(2, "w", closefd=False)  # noqa: SIM115
        work()
        status = 0
    except SystemExit as left:
        status = left.code
    except BaseException:
        traceback.print_exc()
    finally:
        with suppress(OSError, ValueError):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(status if isinstance(status, int) else 70)


def ended(child: int) -> int:
    """Wait for a process; return its exit status, negative for the signal that killed it."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def verb(name: str, folder: Path, *, told: bool = True) -> Callable[[], object]:
    """Return what a verb does in a folder."""
    if name == "tap":
        return lambda: tapped(folder / "record.sqlite")
    words = [word.replace("{folder}", str(folder)) for word in VERBS[name]]
    when = ["--now", NOW] if told else []
    return lambda: main(["--store", str(folder / "record.sqlite"), *when, *words])


def tapped(record: Path) -> None:
    """Say on the bench page that a board is stiff, as a phone does."""
    from bench_cases import Desk
    from page_cases import phones

    try:
        (phone,) = phones(Desk(record), now=NOW)
    except RecordBusy as error:  # where nothing can be written no page is begun: `serve` says it
        print(error)
        sys.exit(4)
    phone.look()
    answer = phone.send(phone.form("Stiff"))
    sys.exit(0 if answer.status_code == 303 else 4)


def prepare(folder: Path, verbs: list[str]) -> Base:
    """Make the record, and see what each verb makes of it."""
    base = folder / "base"
    base.mkdir()
    record = base / "record.sqlite"
    for words in (
        ["load", str(FIRST_WEEKEND)],
        ["plan", "--effort", "quick"],
        ["backup", str(base / "older.sqlite")],
        ["air", "north", "60"],
    ):
        _must(["--store", str(record), "--now", BEFORE, *words], folder / "out")
    (base / "batch").mkdir()
    (base / "batch" / "boards.csv").write_text(
        "board,groove_mm,span_mm,length_mm,room\nB77,6,110,300,study\n", encoding="utf-8"
    )
    hours = (f"2027-05-07 {hour:02}:00,5{hour % 5}.0,20.5" for hour in range(24))
    (base / "study.csv").write_text("time,rh,temp\n" + "\n".join(hours) + "\n", encoding="utf-8")
    after, seconds = {}, {}
    for name in verbs:
        place = folder / f"after-{name}"
        shutil.copytree(base, place)
        begun = time.monotonic()
        status = ended(in_a_child(verb(name, place), folder / "out"))
        seconds[name] = time.monotonic() - begun
        if status not in (0, 1):
            raise RuntimeError(f"{name} fails by itself ({status}): {(folder / 'out').read_text()}")
        after[name] = image(place / "record.sqlite")
        shutil.rmtree(place)
    return Base(base, image(record), after, seconds)


def _must(words: list[str], out: Path) -> None:
    if ended(in_a_child(lambda: main(words), out)):
        raise RuntimeError(out.read_text(encoding="utf-8"))


class Odd(datetime):
    """A clock that is years off."""

    years = 0

    @classmethod
    def now(cls, tz: object = None) -> datetime:  # type: ignore[override]  # noqa: ARG003
        return datetime(2027, 5, 8, 10, tzinfo=UTC) + timedelta(days=365 * cls.years)


def strike(fault: str, name: str, folder: Path, chance: random.Random, seconds: float) -> int:
    """Begin a verb and break it; return how it ended."""
    out, record = folder.with_name("out"), folder / "record.sqlite"
    if fault == "killed":
        child = in_a_child(verb(name, folder), out)
        # The first of a kind may have waited for machine code to be made.
        end = time.monotonic() + chance.uniform(0, min(1.1 * seconds, KILLED_WITHIN_S))
        while time.monotonic() < end:
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                return os.waitstatus_to_exitcode(status)
            time.sleep(0.002)
        os.kill(child, signal.SIGKILL)
        return ended(child)
    if fault == "disk full" and MOUNTS:
        return ended(in_a_child(verb(name, folder), out))
    if fault == "disk full":
        pages = record.stat().st_size // 4096 + chance.randrange(0, 12)
        return ended(in_a_child(lambda: _full(pages, verb(name, folder)), out))
    if fault == "I/O error":
        most = chance.randrange(0, 96 * 1024)
        return ended(in_a_child(lambda: fails(most, verb(name, folder)), out))
    if fault == "clock":
        years = chance.choice([-30, -1, 2, 50])
        return ended(in_a_child(lambda: _at_odds(years, verb(name, folder, told=False)), out))
    status = ended(in_a_child(verb(name, folder), out))
    _tear(record, chance)
    return status


def _full(pages: int, work: Callable[[], object]) -> None:
    """Work on a disk with room for so many pages of the record: SQLite says SQLITE_FULL."""
    set_up = connecting.set_up

    def narrow(db: sqlite3.Connection, *, looking: bool) -> sqlite3.Connection:
        db.execute(f"PRAGMA max_page_count = {pages}")
        return set_up(db, looking=looking)

    connecting.set_up = narrow
    work()


def fails(most: int, work: Callable[[], object]) -> None:
    """Work where no file can grow beyond so many bytes: writing fails."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    work()


def _at_odds(years: int, work: Callable[[], object]) -> None:
    Odd.years = years
    desk_module.datetime = Odd  # type: ignore[attr-defined]
    work()


def _tear(record: Path, chance: random.Random) -> None:
    """Leave of a record what a copy that was cut off leaves."""
    data = record.read_bytes()
    cut = data[: chance.randrange(1, len(data))]
    record.unlink()
    for ending in ("-wal", "-shm"):
        Path(f"{record}{ending}").unlink(missing_ok=True)
    record.write_bytes(cut + (bytes(len(data) - len(cut)) if chance.random() < 0.5 else b""))


@contextmanager
def a_place(place: Path, base: Base, fault: str, chance: random.Random) -> Iterator[Path]:
    """Give a fresh copy of the record, on a small disk of its own where one can be mounted."""
    place.mkdir()
    small = fault == "disk full" and MOUNTS
    if small:
        need = sum(p.stat().st_size + 4096 for p in base.folder.rglob("*")) // 1024
        size = f"size={need + chance.randrange(0, 120)}k"
        subprocess.run(["mount", "-t", "tmpfs", "-o", size, "tmpfs", str(place)], check=True)
    try:
        shutil.copytree(base.folder, place, dirs_exist_ok=True)
        yield place
    finally:
        if small:
            subprocess.run(["umount", str(place)], check=True)
        shutil.rmtree(place)


def judge(fault: str, name: str, status: int, folder: Path, base: Base, count: Count) -> None:
    """Look at what is left, and note what should not be."""
    what = f"{name}, {fault}"
    words = folder.with_name("out").read_text(encoding="utf-8", errors="replace")
    for raw in RAW_WORDS:
        if raw in words:
            count.words.append(f"{what}: {words.strip()[-200:]}")
    record = folder / "record.sqlite"
    if fault == "torn copy":
        _judge_torn(what, record, base.after[name], count)
        return
    try:
        found = image(record)
        with closing(connecting.to_read(record)[0]) as db:
            faults = [*page_faults(db), *reference_faults(db), *journal_faults(db)]
    except RecordBusy as error:
        count.lost.append(f"{what}: {error}")
        return
    if faults or found not in (base.before, base.after[name]):
        if not (fault == "clock" and status in (0, 1) and not faults):
            count.half.append(f"{what}: {faults[:3] or 'neither before nor after'}")
    elif status in (0, 1) and fault != "clock" and found != base.after[name]:
        count.lost.append(f"{what}: said to be recorded, and is not")
    count.struck[fault] += status not in (0, 1)


def _judge_torn(what: str, record: Path, after: str, count: Count) -> None:
    """A torn copy must be refused, with a way back that gives all of it."""
    count.struck["torn copy"] += 1
    try:
        if image(record) != after:
            count.half.append(f"{what}: believed, and it is not what was recorded")
    except RecordBusy:
        return


def import_verbs() -> None:
    """Import every command and deed, so that a child is killed at its work and not before."""
    for package in (scheduler.cli, scheduler.deeds):
        for module in pkgutil.iter_modules(package.__path__, f"{package.__name__}."):
            importlib.import_module(module.name)


def rounds(many: int, seed: int, verbs: list[str], folder: Path, *, say: bool = False) -> Count:
    """Break something so many times."""
    import_verbs()
    base, chance, count = prepare(folder, verbs), random.Random(seed), Count()
    for number in range(many):
        name = verbs[number % len(verbs)]
        fault = FAULTS[number // len(verbs) % len(FAULTS)]
        with a_place(folder / "round", base, fault, chance) as place:
            status = strike(fault, name, place, chance, base.seconds[name])
            judge(fault, name, status, place, base, count)
        count.faults += 1
        if say and number % 50 == 49:
            print(f"{number + 1} ...", file=sys.stderr, flush=True)
    return count


def writers(many: int, seconds: float, folder: Path) -> tuple[int, list[str]]:
    """Let so many write at once; return how many lines they were told, and what is wrong."""
    record = folder / "record.sqlite"
    _must(["--store", str(record), "--now", BEFORE, "load", str(FIRST_WEEKEND)], folder / "out")
    end = time.monotonic() + seconds
    children = []
    for number in range(many):
        work = partial(_write, record, number, end, folder / f"told-{number}")
        children.append(in_a_child(work, folder / f"out-{number}"))
    wrong = []
    for number, child in enumerate(children):
        if status := ended(child):
            wrong.append(f"writer {number} ended with {status}:")
            wrong += (folder / f"out-{number}").read_text(encoding="utf-8").splitlines()[-3:]
    told: set[str] = set()
    for number in range(many):
        told.update((folder / f"told-{number}").read_text(encoding="utf-8").split("\n")[:-1])
    with Store(record) as store:
        every = store.db.execute("SELECT line, text FROM journal")
        lines = {f"{r['line']} {r['text']}" for r in every}
        wrong += [*page_faults(store.db), *reference_faults(store.db), *journal_faults(store.db)]
    wrong += [f"lost: {text}" for text in told - lines]
    extra = lines - told
    wrong += [f"nobody was told: {text}" for text in extra if not text.startswith("1 loaded")]
    return len(told), wrong


def _write(record: Path, number: int, end: float, told: Path) -> None:
    from io import StringIO

    chance = random.Random(number)
    before = ["--store", str(record), "--now", NOW, "--who", f"writer {number}"]
    with told.open("w", encoding="utf-8") as notes:
        while time.monotonic() < end:
            words = chance.choice(_shared(number, chance))
            said = StringIO()
            status: object = 0
            try:
                with redirect_stdout(said), redirect_stderr(said):
                    main([*before, *words])
            except SystemExit as left:
                status = left.code
            if status not in (0, 3, 4) or "database" in said.getvalue():
                raise RuntimeError(f"{words}: {status}: {said.getvalue()}")
            if status == 0 and words[0] != "boards":
                with Store(record) as store:
                    mine = store.db.execute(
                        "SELECT line, text FROM journal WHERE who = ? ORDER BY line DESC LIMIT 1",
                        (f"writer {number}",),
                    ).fetchone()
                if mine is not None:  # a board that is in already makes no line
                    notes.write(f"{mine['line']} {mine['text']}\n")
                    notes.flush()


def _shared(number: int, chance: random.Random) -> list[list[str]]:
    day, hour, past = chance.randrange(1, 8), chance.randrange(24), chance.randrange(60)
    minute = f"2027-05-0{day}T{hour:02}:{past:02}"
    size = f"body_mm={chance.randrange(3000, 9000) / 1000}"
    return [
        ["air", "study", str(chance.randrange(40, 70)), "--at", minute],
        ["amend", f"M-{chance.randrange(10, 33)}", size],
        ["add", "owlet", "--count", "1", "--wingspan", str(30 + number), "--fresh"],
        ["board", f"B{chance.randrange(1, 13)}", chance.choice(["out", "in"])],
        ["boards"],
    ]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=220)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--verbs", nargs="*", default=list(VERBS))
    parser.add_argument("--writers", type=int)
    parser.add_argument("--seconds", type=float, default=30)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="wingrest-faults-") as name:
        if chosen.writers:
            lines, wrong = writers(chosen.writers, chosen.seconds, Path(name))
            print("\n".join(wrong[:20]))
            print(f"{chosen.writers} writers, {lines} lines, {len(wrong)} lost or wrong")
            sys.exit(bool(wrong))
        done = rounds(chosen.rounds, chosen.seed, chosen.verbs, Path(name), say=True)
    for found in (*done.lost, *done.half, *done.words):
        print(found)
    print(", ".join(f"{fault} {many}" for fault, many in sorted(done.struck.items())), "struck")
    print(f"{done.faults} faults, {len(done.lost)} lost, {len(done.half)} half-done")
    sys.exit(bool(done.lost or done.half or done.words))
