"""Records for the tests of the bench: small ones, the sample weekend, commands in-process."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

from scheduler.cli import main
from scheduler.drying.on_board import OnBoard
from scheduler.planner.problem import Planned
from scheduler.record.kept import Kept, kept_plan
from scheduler.record.snapshot import ALWAYS, Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook, load_rulebook
from scheduler.view import View
from scheduler.words.records import (
    Board,
    BoardStay,
    DrynessTest,
    Placement,
    Room,
    Settings,
    Specimen,
)

BERLIN = ZoneInfo("Europe/Berlin")
FIRST_WEEKEND = Path(__file__).parent.parent / "sample_batches" / "first_weekend"
WEDNESDAY = "2027-05-05T18:00"
"""The evening on which the first weekend is planned."""


@cache
def rules() -> Rulebook:
    """The shipped rules, read once."""
    return load_rulebook()


def local(text: str) -> datetime:
    """A moment in Berlin."""
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN)


def one_board(
    *specimens: Specimen,
    mounted: str = "2027-05-08T10:00",
    rooms: Sequence[Room] = (Room("study", "room", 50.0),),
    moves: Mapping[str, str] | None = None,
    tests: Sequence[tuple[str, str, str]] = (),
    groove_mm: float = 6.0,
) -> Snapshot:
    """Specimens mounted side by side on board B1, which stood in the first room and moved.

    `moves` is local moment -> room; `tests` is (specimen, local moment, verdict).
    """
    at = local(mounted)
    placements = tuple(
        Placement(n, s.specimen, "B1", 50 * (n - 1), 50 * n, at, at.date())
        for n, s in enumerate(specimens, 1)
    )
    number = {p.specimen: p.id for p in placements}
    stays = [BoardStay("B1", rooms[0].room, ALWAYS)]
    stays += [BoardStay("B1", room, local(since)) for since, room in (moves or {}).items()]
    return Snapshot(
        settings=Settings(timezone="Europe/Berlin"),
        rooms={r.room: r for r in rooms},
        boards={"B1": Board("B1", groove_mm, 120.0, 400)},
        stays=tuple(stays),
        specimens={s.specimen: s for s in specimens},
        placements=placements,
        tests=tuple(
            DrynessTest(number[name], local(when), "stiff" if verdict == "stiff" else "soft")
            for name, when, verdict in tests
        ),
    )


def seen(snap: Snapshot, at: datetime | None = None, kept: Kept | None = None) -> View:
    """The record under the shipped rules at a moment, the evening of the first plan when None."""
    return View(snap, rules(), at or local(WEDNESDAY), lambda: kept)


def on_board(snap: Snapshot, at: datetime | None = None) -> OnBoard:
    """The first specimen that was mounted, and what follows from it."""
    return seen(snap, at).of(snap.placements[0])


@dataclass(frozen=True)
class Run:
    """What a command left with and said."""

    status: int
    out: str
    err: str

    @property
    def problems(self) -> str:
        """What was said of problems, wherever its lines break."""
        return " ".join(self.err.split())


@dataclass(frozen=True)
class Desk:
    """A record and a person who types commands."""

    store: Path

    def __call__(self, *words: str | Path, now: str = WEDNESDAY) -> Run:
        """Run a command in this process, as the console would."""
        out, err = StringIO(), StringIO()
        status: object = None
        with redirect_stdout(out), redirect_stderr(err):
            try:
                main(["--store", str(self.store), "--now", now, *(str(w) for w in words)])
            except SystemExit as left:
                status = left.code
        assert isinstance(status, int), f"left with {status!r}"
        return Run(status, out.getvalue(), err.getvalue())

    def did(self, *words: str | Path, now: str = WEDNESDAY) -> str:
        """Run a command that must succeed and return what it said."""
        run = self(*words, now=now)
        assert run.status == 0, run.err
        return run.out


@cache
def _loaded() -> bytes:
    """The record of the first weekend, loaded and planned once for all tests."""
    with TemporaryDirectory(prefix="wingrest-tests-") as name:
        desk = Desk(Path(name) / "record.sqlite")
        desk.did("load", FIRST_WEEKEND)
        desk.did("plan")
        assert [p.name for p in desk.store.parent.iterdir() if p.is_file()] == [desk.store.name]
        return desk.store.read_bytes()


def weekend(folder: Path) -> Desk:
    """The sample batch of the first weekend, loaded and planned, in a record of one's own."""
    path = folder / "record.sqlite"
    path.write_bytes(_loaded())
    return Desk(path)


def read_weekend(folder: Path) -> Desk:
    """The sample weekend with its plan, on a Saturday on which the dials were read."""
    desk = weekend(folder)
    desk.did("air", "study", "52", now="2027-05-08T08:00")
    desk.did("air", "north", "58", now="2027-05-08T08:00")
    return desk


def narrow_weekend(folder: Path) -> tuple[Desk, Planned]:
    """The first weekend with B3, B5 and B10 alone, planned, and one that waits for a slot.

    With so few boards the plan uses again on Saturday what is due on them.
    """
    desk = weekend(folder)
    for number in (1, 2, 4, 6, 7, 8, 9, 11, 12):
        desk.did("board", f"B{number}", "out")
    desk.did("plan", "--anew", "--effort", "quick")
    return desk, next(p for p in planned(desk, "SAT-08") if p.after)


def written(folder: Path, files: Mapping[str, str]) -> Path:
    """A batch of those tables, kept by UTC; returns its folder."""
    batch = folder / "batch"
    batch.mkdir()
    (batch / "settings.toml").write_text('timezone = "UTC"\n', encoding="utf-8")
    for name, text in files.items():
        (batch / f"{name}.csv").write_text(text, encoding="utf-8")
    return batch


def planned(desk: Desk, session: str) -> tuple[Planned, ...]:
    """What the kept plan mounts in a session, in the order of mounting."""
    with Store(desk.store) as store:
        kept = kept_plan(store)
    assert kept is not None
    there = tuple(p for p in kept.placements if p.session == session)
    assert there, f"the plan mounts nothing at {session}"
    return there
