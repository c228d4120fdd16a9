"""An invented season and the hidden truth about it, which players learn only by hand and eye.

Everything here is made up (basis: memory), on purpose not in the program's own words: how fast a
body dries, when it is soft, what rots, and the weather indoors. A player sees wingspans, families
and dates, reads a dial, and learns the rest by touching: `stiff` when tested, `limp` when looked
at. The truth, in short:

- a body of b mm needs 4.4 b^0.68 days at 20 C and 50 %, times a factor of the person's hands and
  rooms (one a season, 0.85 to 1.2) and of its own (lognormal, 0.18);
- an hour dries by the vapour-pressure deficit to the power 0.9, at most 2.2 times the ordinary
  pace; above 80 % a body of 6 mm or more does not dry at all, a slender one at a sixth;
- taken off before 95 % of its days it droops; in air above 80 % one in four droops even dry;
- fresh ones rot after 72 h in a room, thawed ones too; 80 h in the chamber rot anything; the
  fridge keeps two weeks.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import accumulate
from random import Random

DAYS = 84
WARM_UP = 40
"""Days of weather before the season begins, for what was mounted then."""
START = datetime(2027, 5, 1)  # noqa: DTZ001 - the season's own wall clock, UTC throughout
HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Shape:
    """A family as it really is: body and slot as parts of the wingspan."""

    family: str
    share: int
    wingspan_mm: float
    body: float
    depth: float


SHAPES = (
    Shape("Geometridae", 20, 34, 0.065, 0.62),
    Shape("Noctuidae", 28, 40, 0.125, 0.58),
    Shape("Erebidae", 10, 55, 0.110, 0.60),
    Shape("Nymphalidae", 12, 58, 0.070, 0.66),
    Shape("Notodontidae", 8, 50, 0.130, 0.56),
    Shape("Sphingidae", 12, 85, 0.115, 0.55),
    Shape("Saturniidae", 6, 105, 0.085, 0.70),
    Shape("Lasiocampidae", 4, 58, 0.140, 0.60),
)
GIANT_BODY_MM = 8.0
"""A giant needs one of the wide boards."""


@dataclass
class Insect:
    """One specimen: what is known of it, what is true of it, and where it is."""

    name: str
    shape: Shape
    wingspan_mm: int
    body_mm: float
    state: str
    came: datetime
    frozen: datetime | None
    priority: int
    wanted_by: datetime | None
    needs_days: float
    measured: bool
    place: str = "freezer"
    since: datetime = START
    softened_h: float = 0.0
    board: str | None = None
    from_mm: int = 0
    mounted: datetime | None = None
    released: datetime | None = None
    spoiled: datetime | None = None
    drooped: bool = False
    soft_tests: int = 0
    blind_tests: int = 0

    @property
    def giant(self) -> bool:
        """Whether only the wide boards take it."""
        return self.body_mm >= GIANT_BODY_MM

    @property
    def slot_mm(self) -> int:
        """The groove it takes when spread."""
        return math.ceil(self.wingspan_mm * self.shape.depth) + 5

    @property
    def minutes(self) -> int:
        """How long spreading it takes."""
        return 15 if self.body_mm < 6 else 20 if self.body_mm < 10 else 25

    @property
    def waits(self) -> bool:
        """Whether it is neither mounted nor rotten."""
        return self.mounted is None and self.spoiled is None

    @property
    def stands(self) -> bool:
        """Whether it is on a board."""
        return self.mounted is not None and self.released is None


@dataclass(frozen=True)
class Plank:
    """A board."""

    name: str
    groove_mm: float
    span_mm: int
    length_mm: int
    room: str


@dataclass
class Weather:
    """The hourly air of one room, and the hours at the ordinary pace that it was worth."""

    rh: list[float]
    temp: list[float]
    sums: dict[bool, list[float]] = field(default_factory=dict)

    def hour(self, at: datetime) -> int:
        """Which hour a moment lies in."""
        return int((at - START) / HOUR) + WARM_UP * 24

    def now(self, at: datetime) -> tuple[float, float]:
        """Humidity and temperature at a moment."""
        hour = min(self.hour(at), len(self.rh) - 1)
        return self.rh[hour], self.temp[hour]

    def pace_sums(self, slender: bool) -> list[float]:
        """Running sums of the true pace."""
        if slender not in self.sums:
            pace = (true_pace(r, t, slender) for r, t in zip(self.rh, self.temp, strict=True))
            self.sums[slender] = list(accumulate(pace, initial=0.0))
        return self.sums[slender]

    def worth_days(self, slender: bool, begin: datetime, end: datetime) -> float:
        """Days at the ordinary pace between two moments."""
        sums = self.pace_sums(slender)
        last = len(sums) - 1
        return (sums[min(self.hour(end), last)] - sums[min(self.hour(begin), last)]) / 24

    def dry_at(self, slender: bool, begin: datetime, days: float) -> datetime | None:
        """When a body has had its days, None if not within the known weather."""
        sums = self.pace_sums(slender)
        hour = bisect_left(sums, sums[self.hour(begin)] + days * 24)
        return None if hour >= len(sums) else START + (hour - WARM_UP * 24) * HOUR


def true_pace(rh: float, temp: float, slender: bool) -> float:
    """The true pace of drying in an hour, 1 at 20 C and 50 %."""
    deficit = _saturation(temp) * (1 - rh / 100) / (_saturation(20.0) * 0.5)
    pace = min(2.2, max(0.0, deficit) ** 0.9)
    if rh > 80:
        return float(pace / 6) if slender else 0.0
    return float(pace)


def _saturation(temp: float) -> float:
    return math.exp(17.5 * temp / (241 + temp))


class World:
    """One season: boards, rooms, insects, bench time; the same for the same number."""

    def __init__(self, number: int) -> None:
        """Make the season of a number."""
        self.rng = Random(f"season/{number}")
        self.number = number
        self.hands = self.rng.choice((0.85, 0.95, 1.0, 1.1, 1.2))
        self.rooms = {
            "study": _weather(self.rng, 57 + self.rng.uniform(-4, 6), 20, 3.0),
            "loft": _weather(self.rng, 49 + self.rng.uniform(-4, 8), 23, 5.0),
        }
        self.assumed = {"study": 55.0, "loft": 52.0}
        self.boards = self._boards()
        self.insects: dict[str, Insect] = {}
        self._standing()
        self._backlog()
        self._arrivals()
        self.sessions = self._sessions()
        self.broken = (self.rng.choice([b.name for b in self.boards]), START + timedelta(days=37))

    def board(self, name: str) -> Plank:
        """The board of a name."""
        return next(b for b in self.boards if b.name == name)

    def _boards(self) -> list[Plank]:
        grooves = ((2, 60), (3, 75), (4, 90), (5, 95), (6, 110), (8, 130), (10, 150), (13, 170))
        found = []
        for n, (groove, span) in enumerate(grooves, 1):
            length = self.rng.choice((170, 200, 240))
            room = "loft" if self.rng.random() < 0.35 else "study"
            found.append(Plank(f"B{n}", groove, span, length, room))
        return found

    def _insect(self, name: str, came: datetime, state: str) -> Insect:
        rng = self.rng
        shape = rng.choices(SHAPES, [s.share for s in SHAPES])[0]
        wingspan = max(18, round(shape.wingspan_mm * rng.lognormvariate(0, 0.16)))
        body = min(12.0, max(1.4, wingspan * shape.body * rng.lognormvariate(0, 0.10)))
        needs = 4.4 * body**0.68 * self.hands * rng.lognormvariate(0, 0.18)
        if state == "dried":
            needs *= 0.4
        draw = rng.random()
        priority = 8 if draw < 0.05 else 3 if draw < 0.2 else 1
        wanted = came + timedelta(days=rng.randint(40, 60)) if rng.random() < 0.05 else None
        return Insect(
            name,
            shape,
            wingspan,
            round(body, 1),
            state,
            came,
            None,
            priority,
            wanted,
            needs,
            measured=rng.random() < 0.3,
        )

    def _standing(self) -> None:
        for n, board in enumerate(self.boards):
            at, where = START - timedelta(days=self.rng.randint(3, 14), hours=-10), 0
            for k in range(3):
                one = self._insect(f"S-{n}{k}", at - timedelta(days=20), "frozen")
                fits = 0.8 <= board.groove_mm - one.body_mm <= 3
                if fits and where + one.slot_mm <= board.length_mm * 0.7:
                    one.board, one.from_mm, one.mounted, one.place = board.name, where, at, "board"
                    one.frozen = one.came
                    where += one.slot_mm
                    self.insects[one.name] = one

    def _backlog(self) -> None:
        for n in range(1, self.rng.randint(38, 52)):
            state = "dried" if self.rng.random() < 0.15 else "frozen"
            one = self._insect(f"K-{n:02}", START - timedelta(days=self.rng.randint(3, 75)), state)
            one.frozen = one.came if state == "frozen" else None
            one.place = "freezer" if state == "frozen" else "papers"
            self.insects[one.name] = one

    def _arrivals(self) -> None:
        for n in range(1, self.rng.randint(52, 72)):
            day = self.rng.randint(1, DAYS - 12)
            fresh = self.rng.random() < 0.6
            at = START + timedelta(days=day, hours=19, minutes=self.rng.choice((0, 15, 30)))
            one = self._insect(
                f"{'F' if fresh else 'N'}-{n:02}", at, "fresh" if fresh else "frozen"
            )
            one.place, one.since = ("room" if fresh else "freezer"), at
            one.frozen = None if fresh else at - timedelta(days=self.rng.randint(0, 20))
            self.insects[one.name] = one

    def _sessions(self) -> dict[str, tuple[datetime, int]]:
        found = {}
        for day in range(DAYS):
            at = START + timedelta(days=day)
            if at.weekday() == 5:
                found[f"SA-{at:%m%d}"] = (at.replace(hour=9), self.rng.choice((120, 150, 150, 180)))
            elif at.weekday() == 2 and self.rng.random() < 0.4:
                found[f"WE-{at:%m%d}"] = (at.replace(hour=19), self.rng.choice((60, 60, 90)))
        return found


def _weather(rng: Random, mean: float, warmth: float, swing: float) -> Weather:
    spells = []
    for _ in range(rng.randint(2, 3)):
        begin = rng.randint(-10, DAYS - 10)
        spells.append((begin, begin + rng.randint(6, 16), rng.uniform(12, 24)))
    rh, temp, drift = [], [], 0.0
    for day in range(-WARM_UP, DAYS + 30):
        drift = 0.75 * drift + rng.gauss(0, swing)
        damp = max((rise for b, e, rise in spells if b <= day < e), default=0.0)
        mild = warmth + 2.5 * math.sin(day / 30) - damp * 0.12
        for hour in range(24):
            wave = math.cos((hour - 15) / 24 * 2 * math.pi)
            humidity = mean + drift + damp - 3.5 * wave + rng.gauss(0, 0.8)
            rh.append(round(min(97.0, max(22.0, humidity)), 1))
            temp.append(round(mild + 1.6 * wave + rng.gauss(0, 0.2), 1))
    return Weather(rh, temp)
