"""Every command that records something, on one small record, and how two of them cross.

The record is invented: two boards in use, two rooms, a Saturday's session that is planned.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from functools import cache
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from bench_cases import Desk, local, rules

from scheduler.deeds.add import Typed, add
from scheduler.deeds.amend import amend
from scheduler.deeds.away import set_away, set_there
from scheduler.deeds.bag import bag
from scheduler.deeds.chamber import lose, put_back, relax, thaw
from scheduler.deeds.droop import drooped
from scheduler.deeds.dry_share import set_dry_share
from scheduler.deeds.handover import Gift, hand_over
from scheduler.deeds.load import load
from scheduler.deeds.lot import amend_lot
from scheduler.deeds.mount import mount_one, mount_session
from scheduler.deeds.mount_list import Item, mount_after, mount_list
from scheduler.deeds.outcome import Outcome
from scheduler.deeds.photo import keep_photo
from scheduler.deeds.places import put_boards, put_room
from scheduler.deeds.plan import PlanWish, plan
from scheduler.deeds.print_labels import print_labels
from scheduler.deeds.reading_file import read_file
from scheduler.deeds.readings import record_file
from scheduler.deeds.release import release
from scheduler.deeds.replan import with_plan_mended
from scheduler.deeds.rooms import move, read_dial, set_board
from scheduler.deeds.sensors import correct_sensor, count_logger, salt_test
from scheduler.deeds.sessions import Asked, set_session
from scheduler.deeds.settings import set_settings
from scheduler.deeds.testing import record_test
from scheduler.deeds.undo import undo
from scheduler.intake.readings import LoggerManner
from scheduler.looks.logger_file import ReadFile
from scheduler.record.deed import When
from scheduler.record.journal import read_journal
from scheduler.record.kept import kept_plan
from scheduler.record.store import Store
from scheduler.words.problems import BadInput, Refused

NOW = local("2027-05-05T18:00")

TABLES = {
    "settings.toml": 'timezone = "Europe/Berlin"\n',
    "rooms.csv": "room,regime,rh_pct,temp_c\nstudy,room,50,20\nattic,room,60,20\n",
    "boards.csv": (
        "board,groove_mm,span_mm,length_mm,room,refill\n"
        "B1,6,90,300,study,whole\nB2,6,90,300,study,\nB3,6.5,90,300,study,\n"
    ),
    "specimens.csv": (
        "specimen,family,body_mm,wingspan_mm,state,frozen_on,locality,lot\n"
        + "".join(f"M-0{n},Noctuidae,4.5,36,fresh,,Hagg Heath (invented),\n" for n in (1, 2, 6))
        + "".join(
            f"M-0{n},Noctuidae,4.5,36,frozen,2027-04-20,Hagg Heath (invented),L1\n"
            for n in (3, 4, 5, 7)
        )
    ),
    "mounted.csv": (
        "specimen,board,from_mm,to_mm,mounted\n"
        "M-01,B1,0,40,2027-04-10T10:00\nM-02,B1,40,80,2027-05-01T10:00\n"
        "M-06,B3,0,40,2027-04-10T11:00\n"
    ),
    "sessions.csv": "session,start,minutes\nSAT,2027-05-08T09:00,120\n",
}

MORE = "specimen,wingspan_mm,state,family\nM-03,39,,\nM-09,40,fresh,Noctuidae\n"

LOGGED = "Time,Temperature (C),RH (%)\n" + "".join(
    f"{local('2027-04-24T00:00') + timedelta(hours=hour):%Y-%m-%d %H:%M},20.0,71\n"
    for hour in range(120)
)

Deeds = Mapping[str, Callable[[Store, When], object]]

PICTURE = b"\x89PNG\r\n\x1a\n, as it begins"

NEW_BOARD = {"groove_mm": "4", "span_mm": "80", "length_mm": "300", "room": "study"}


def deeds(folder: Path) -> Deeds:
    """Every command that records, by a name; files it reads are in `folder`."""
    book = rules()
    gifts = count(1)
    typed = Typed("owlet moth", "2", ("fresh",), texts={"wingspan_mm": "38"})

    def look(store: Store, when: When) -> ReadFile:
        return read_file(store, book, folder / "log.csv", "study", LoggerManner(), when.now)

    return {
        "load": lambda s, w: load(s, book, folder / "specimens.csv", w),
        "add": lambda s, w: add(s, book, typed, w),
        "session": lambda s, w: set_session(s, book, Asked(("SAT",), "90", None), w),
        "session new": lambda s, w: set_session(s, book, Asked(("2027-05-09",), "60", None), w),
        "relax": lambda s, w: relax(s, book, ["M-03"], w),
        "thaw": lambda s, w: thaw(s, book, ["M-03"], w),
        "putback": lambda s, w: put_back(s, book, ["M-03"], "fridge", w),
        "mount session": lambda s, w: mount_session(s, book, "SAT", (), w),
        "mount list": lambda s, w: mount_list(s, book, "B2", [Item("M-03"), Item("M-04")], w),
        "mount one": lambda s, w: mount_one(s, book, "M-03", "B1", (None, None), w),
        "mount after": lambda s, w: mount_after(s, book, "M-04", "B1", "M-02", w),
        "test stiff": lambda s, w: record_test(s, book, ["M-01"], "stiff", (), w),
        "test soft": lambda s, w: record_test(s, book, ["M-01"], "soft", (), w),
        "release": lambda s, w: release(s, book, ["M-01"], None, w),
        "release board": lambda s, w: release(s, book, ["B1"], "wanted at once", w),
        "drooped": lambda s, w: drooped(s, "M-06", "left hindwing", w),
        "lost waiting": lambda s, w: lose(s, book, "M-03", "dropped", w),
        "lost on board": lambda s, w: lose(s, book, "M-01", "eaten by a mite", w),
        "move": lambda s, w: move(s, book, "B1", "attic", w),
        "board": lambda s, w: set_board(s, book, "B2", out=True, refill=None, when=w),
        "board new": lambda s, w: put_boards(s, book, "B7", NEW_BOARD, w),
        "room": lambda s, w: put_room(s, book, "attic", {"rh_pct": "61"}, w),
        "air": lambda s, w: read_dial(s, book, "study", "63", None, w),
        "readings": lambda s, w: record_file(s, book, look(s, w), w),
        "amend locality": lambda s, w: amend(s, book, "M-03", ["locality=Alder Carr"], w),
        "amend country": lambda s, w: amend(s, book, "M-03", ["country=Saltmere"], w),
        "amend locality again": lambda s, w: amend(s, book, "M-03", ["locality=Fen Edge"], w),
        "amend size": lambda s, w: amend(s, book, "M-03", ["wingspan_mm=44"], w),
        "amend slot": lambda s, w: amend(s, book, "M-01", ["from_mm=100"], w),
        "lot": lambda s, w: amend_lot(s, "L1", ["locality=Reed Cut"], w),
        "away": lambda s, w: set_away(s, book, "2027-05-08", "2027-05-09", None, w),
        "away one": lambda s, w: set_away(s, book, "2027-05-08", "2027-05-08", None, w),
        "away back": lambda s, w: set_there(s, book, "2027-05-08", "2027-05-08", None, w),
        "bag": lambda s, w: bag(s, book, ["M-06"], w),
        "photo": lambda s, w: keep_photo(s, "M-03", PICTURE, w),
        "photo too": lambda s, w: keep_photo(s, "M-03", PICTURE + b"of another day", w),
        "print labels": lambda s, w: print_labels(
            s, book, ["M-06"], lambda _: None, w, incomplete=True
        ),
        "handover": lambda s, w: hand_over(
            s, book, Gift("The museum (invented)"), folder / f"gift-{next(gifts)}", w
        ),
        "air offset": lambda s, w: correct_sensor(s, book, "study", "2", w, "dial"),
        "air salt": lambda s, w: salt_test(s, book, "study", "72", w, "dial"),
        "air logger": lambda s, w: count_logger(s, book, "study", "damper", w),
        "rooms share": lambda s, w: set_dry_share(s, book, 85, w),
        "settings": lambda s, w: set_settings(s, {"chamber_places": "4"}, w),
        "undo": lambda s, w: undo(s, book, None, w),
        "undo amend": lambda s, w: undo(s, book, 3, w),
        "undo release": lambda s, w: undo(s, book, 2, w),
        "undo load": lambda s, w: undo(s, book, 1, w, sure=True),
        "plan": lambda s, w: plan(s, book, w.now),
        "plan kept": lambda s, w: plan(s, book, w.now, PlanWish(keep=("M-03",))),
        "plan kept too": lambda s, w: plan(s, book, w.now, PlanWish(keep=("M-04",))),
        "plan anew": lambda s, w: plan(s, book, w.now, PlanWish(anew=True, effort="quick")),
    }


@cache
def prepared() -> bytes:
    """The record before anything crosses: loaded, M-06 off, M-03 amended, M-05 in the chamber."""
    with TemporaryDirectory(prefix="wingrest-tests-") as name:
        folder = Path(name) / "batch"
        folder.mkdir()
        for table, text in TABLES.items():
            (folder / table).write_text(text, encoding="utf-8")
        desk = Desk(Path(name) / "record.sqlite")
        desk.did("load", folder)
        desk.did("release", "M-06")
        desk.did("amend", "M-03", "wanted_by=2027-08-01")
        desk.did("relax", "M-05")
        desk.did("plan")
        return desk.store.read_bytes()


class Ended(NamedTuple):
    """How a command ended: what it did, or why it was refused."""

    outcome: object = None
    refused: str | None = None


class Left(NamedTuple):
    """What two commands left behind in the record and its journal."""

    image: str
    lines: tuple[tuple[str, str], ...]
    kept: KeptSaid


class KeptSaid(NamedTuple):
    """The plan that is kept, and whose place somebody decided."""

    placements: tuple[tuple[str, str, str, int], ...]
    pinned: frozenset[str]


@dataclass
class House:
    """One record in a folder, put back to its beginning before each crossing."""

    folder: Path
    deeds: Deeds = field(init=False)
    _turns: dict[tuple[str, ...], Left] = field(default_factory=dict)
    _points: dict[str, tuple[Point, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Write the files that commands read."""
        (self.folder / "specimens.csv").write_text(MORE, encoding="utf-8")
        (self.folder / "log.csv").write_text(LOGGED, encoding="utf-8")
        self.deeds = deeds(self.folder)

    @property
    def path(self) -> Path:
        """Where the record is."""
        return self.folder / "record.sqlite"

    def desk(self) -> Desk:
        """Put the record back to its beginning, for commands that are typed."""
        self.begin()
        return Desk(self.path)

    def begin(self) -> None:
        """Put the record back to its beginning."""
        for old in self.folder.glob("record.sqlite*"):
            old.unlink()
        self.path.write_bytes(prepared())

    def run(self, name: str, store: Store | None = None) -> Ended:
        """Run a command as the console does: what it has seen is what is there when it starts."""
        if store is None:
            with Store(self.path) as store:
                return self.run(name, store)
        when = When(NOW, NOW, None, store.latest_line())
        try:
            done = self.deeds[name](store, when)
        except (Refused, BadInput) as error:
            return Ended(refused=str(error))
        if isinstance(done, Outcome):
            assert not [w for w in done.warnings if "could not be worked out" in w], done.warnings
        return Ended(done)

    def left(self) -> Left:
        """What the record says now, and what was written into its journal since the beginning."""
        with Store(self.path) as store:
            lines = tuple((e.command, e.text) for e in read_journal(store)[4:])
            kept = kept_plan(store)
            assert kept is not None
            where = tuple((p.specimen, p.session, p.board, p.from_mm) for p in kept.placements)
            return Left(store.image(), lines, KeptSaid(where, kept.pinned))

    def mended(self) -> KeptSaid:
        """The kept plan after it was brought up to the record once more."""
        with Store(self.path) as store:
            with_plan_mended(Outcome(()), store, rules(), NOW)
        return self.left().kept

    def in_turn(self, *names: str) -> Left:
        """What is left when commands run one after the other."""
        if names not in self._turns:
            self.begin()
            for name in names:
                self.run(name)
            self._turns[names] = self.left()
        return self._turns[names]

    def points(self, name: str) -> tuple[Point, ...]:
        """Where another command can come in between: around and within each transaction."""
        if name not in self._points:
            self.begin()
            with Crossed(self.path) as store:
                self.run(name, store)
            self._points[name] = tuple(store.passed)
        return self._points[name]

    def crossed(self, first: str, point: Point, second: str) -> tuple[Ended, Ended]:
        """Run the first; at that point of it the second begins, on a connection of its own.

        Where the first holds the record the second comes to its own transaction and waits.
        """
        self.begin()
        ended: list[Ended] = []
        waits = threading.Event()

        def other() -> None:
            try:
                with Crossed(self.path, before=lambda _: waits.set()) as store:
                    ended.append(self.run(second, store))
            finally:
                waits.set()

        thread = threading.Thread(target=other)

        def at(here: Point) -> None:
            if here != point:
                return
            thread.start()
            if point.where == "deciding":
                assert waits.wait(30)
            else:
                thread.join(30)

        with Crossed(self.path, at) as store:
            mine = self.run(first, store)
        thread.join(30)
        (hers,) = ended
        return mine, hers


class Point(NamedTuple):
    """A place in a command: before, while deciding in, or after its nth transaction."""

    where: str
    transaction: int


class Crossed(Store):
    """A record that says where in a command it is."""

    def __init__(
        self,
        path: Path,
        at: Callable[[Point], None] = lambda _: None,
        before: Callable[[Point], None] = lambda _: None,
    ) -> None:
        """Open the record; `at` is called at every point, `before` ahead of a transaction."""
        super().__init__(path)
        self._at, self._before = at, before
        self._count = 0
        self.passed: list[Point] = []

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Hold the record as ever, and say when it is held and not yet written."""
        self._count += 1
        number = self._count
        self._pass(Point("before", number))
        self._before(Point("before", number))
        deciding = [Point("deciding", number)]

        def note(statement: str) -> None:
            if deciding and statement.split(" ", 1)[0] in ("INSERT", "UPDATE", "DELETE"):
                self._pass(deciding.pop())

        with super().transaction():
            self.db.set_trace_callback(note)
            yield
            self.db.set_trace_callback(None)
            if deciding:
                self._pass(deciding.pop())
        self._pass(Point("after", number))

    def _pass(self, point: Point) -> None:
        self.passed.append(point)
        self._at(point)
