"""An invented crowded season for sample_batches/crowded_season, the same on every machine.

The taxa are real. Wingspans, and the body as a share of them, are round figures from memory that
are varied at random; no specimens were measured. Places, people and dates are those of the
invented island. `python tests/crowded_season.py` writes the committed files again.
"""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TypeVar

FOLDER = Path(__file__).resolve().parents[1] / "sample_batches" / "crowded_season"
SEED = 20270503
MONDAY = date(2027, 5, 3)
"""The day on whose evening the season is planned."""

LAST_DAY = date(2027, 7, 31)
STANDING, WAITING = 60, 340

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Kind:
    """A species with its flight time in months; the basis of every size is memory."""

    family: str
    group: str
    taxon: str
    wingspan_mm: tuple[int, int]
    body_share: float
    months: tuple[int, int]
    by: str = "light trap"


KINDS = (
    Kind("Tortricidae", "tortrix", "Tortrix viridana", (18, 24), 0.1, (6, 7), "beating"),
    Kind("Crambidae", "grass moth", "Anania hortulata", (24, 28), 0.08, (6, 7)),
    Kind("Geometridae", "pug", "Eupithecia vulgata", (18, 21), 0.08, (5, 6)),
    Kind("Geometridae", "carpet moth", "Xanthorhoe fluctuata", (25, 29), 0.07, (5, 8)),
    Kind("Geometridae", "geometer", "Opisthograptis luteolata", (33, 40), 0.075, (5, 7)),
    Kind("Geometridae", "geometer", "Selenia dentaria", (36, 44), 0.075, (4, 5)),
    Kind("Geometridae", "geometer", "Ourapteryx sambucaria", (48, 56), 0.065, (6, 7)),
    Kind("Geometridae", "geometer", "Biston betularia", (44, 54), 0.105, (5, 7)),
    Kind("Noctuidae", "owlet moth", "Orthosia gothica", (32, 37), 0.13, (4, 5)),
    Kind("Noctuidae", "owlet moth", "Diachrysia chrysitis", (33, 38), 0.12, (6, 8)),
    Kind("Noctuidae", "owlet moth", "Agrotis exclamationis", (35, 41), 0.125, (5, 7)),
    Kind("Noctuidae", "owlet moth", "Apamea monoglypha", (45, 54), 0.11, (6, 8)),
    Kind("Noctuidae", "owlet moth", "Noctua pronuba", (50, 60), 0.115, (6, 9)),
    Kind("Erebidae", "tiger moth", "Tyria jacobaeae", (35, 41), 0.075, (5, 7), "net, by day"),
    Kind("Erebidae", "tiger moth", "Spilosoma lubricipeda", (38, 46), 0.11, (5, 7)),
    Kind("Erebidae", "tiger moth", "Arctia caja", (58, 72), 0.105, (7, 8)),
    Kind("Erebidae", "underwing", "Catocala nupta", (70, 80), 0.095, (8, 10), "sugar"),
    Kind("Notodontidae", "prominent", "Phalera bucephala", (52, 62), 0.115, (5, 7)),
    Kind("Notodontidae", "puss moth", "Cerura vinula", (62, 76), 0.12, (5, 7)),
    Kind("Lasiocampidae", "eggar", "Euthrix potatoria", (50, 64), 0.12, (6, 8)),
    Kind("Lasiocampidae", "eggar", "Lasiocampa quercus", (62, 76), 0.115, (6, 8)),
    Kind("Drepanidae", "hook-tip", "Drepana falcataria", (32, 38), 0.075, (5, 6)),
    Kind("Saturniidae", "emperor moth", "Saturnia pavonia", (56, 76), 0.108, (4, 5), "reared"),
    Kind("Sphingidae", "hawkmoth", "Deilephila porcellus", (42, 48), 0.13, (5, 7)),
    Kind("Sphingidae", "hawkmoth", "Deilephila elpenor", (56, 64), 0.122, (5, 7)),
    Kind("Sphingidae", "hawkmoth", "Mimas tiliae", (62, 72), 0.108, (5, 6)),
    Kind("Sphingidae", "hawkmoth", "Laothoe populi", (70, 84), 0.108, (5, 7)),
    Kind("Sphingidae", "hawkmoth", "Sphinx ligustri", (96, 110), 0.103, (6, 7)),
    Kind("Pieridae", "white", "Pieris napi", (38, 46), 0.07, (4, 8), "net"),
    Kind("Pieridae", "brimstone", "Gonepteryx rhamni", (52, 60), 0.075, (4, 8), "net"),
    Kind("Lycaenidae", "blue", "Polyommatus icarus", (28, 34), 0.07, (5, 8), "net"),
    Kind("Lycaenidae", "blue", "Celastrina argiolus", (27, 33), 0.073, (4, 8), "net"),
    Kind("Nymphalidae", "admiral", "Vanessa atalanta", (56, 64), 0.077, (5, 9), "net"),
    Kind("Nymphalidae", "brush-footed butterfly", "Aglais io", (53, 60), 0.075, (4, 9), "net"),
    Kind("Nymphalidae", "fritillary", "Argynnis paphia", (58, 70), 0.076, (6, 8), "net"),
    Kind("Nymphalidae", "brown", "Maniola jurtina", (42, 50), 0.057, (6, 8), "net"),
    Kind("Hesperiidae", "skipper", "Ochlodes sylvanus", (27, 33), 0.11, (6, 8), "net"),
    Kind("Zygaenidae", "burnet", "Zygaena filipendulae", (31, 38), 0.1, (6, 8), "net"),
    Kind("Libellulidae", "chaser", "Libellula depressa", (70, 78), 0.1, (5, 7), "net"),
    Kind("Chrysopidae", "lacewing", "Chrysopa perla", (26, 30), 0.06, (5, 8), "sweep net"),
)

ROOMS = """\
room,regime,rh_pct,temp_c
study,room,50,21
workshop,room,56,20
north,room,62,18
box,desiccant,,20
cabinet,warm,,35
"""

BOARDS = """\
board,groove_mm,span_mm,length_mm,room,count
A,2,50,300,study,3
B,3,65,300,study,4
C,4,80,350,study,4
D,5,90,360,workshop,4
E,6,100,360,workshop,4
F,8,120,380,workshop,3
G,8,120,380,north,3
H,10,140,400,study,2
K,12,150,400,box,1
L,12,150,300,north,1
M,9,120,250,cabinet,1
"""
"""Thirty boards: the slender ones are many, the stout ones short of room."""

SESSIONS = """\
session,start,minutes
WED-05,2027-05-05T19:00,150
THU-20,2027-05-20T19:00,120
WED-02,2027-06-02T19:00,150
WED-16,2027-06-16T19:00,150
WED-30,2027-06-30T19:00,150
WED-14,2027-07-14T19:00,120
WED-28,2027-07-28T19:00,150
"""

SETTINGS = """\
timezone = "Europe/Berlin"
chamber_places = 36
chamber_time = "20:00"
now = "2027-05-03T18:00"
sessions = ["Saturdays 09:00, 300 min until 2027-07-31"]
"""

PLACES = (
    ("Alder Carr, Saltmere (invented)", "55.842", "3.431", "250", "3"),
    ("Hagg Heath, east slope (invented)", "55.913", "3.508", "250", "86"),
    ("Dunnock Hollow, 2 km N of Saltmere (invented)", "55.871", "3.412", "250", "14"),
    ("Lantern Quarry, Upper Thrale (invented)", "55.936", "3.467", "250", "121"),
)
PEOPLE = ("Wren Tallow (invented)", "Ivo Marrack (invented)", "Hessa Loam (invented)")

COLUMNS = (
    "specimen family group taxon sex body_mm size forewing_mm wingspan_mm state frozen_on"
    " available wanted_by spoils_by priority country stateProvince locality decimalLatitude"
    " decimalLongitude geodeticDatum coordinateUncertaintyInMeters minimumElevationInMeters"
    " eventDate samplingProtocol recordedBy lifeStage"
).split(" ")

Row = dict[str, str]


@dataclass(frozen=True, slots=True)
class _Chance:
    """Chance that the language promises to repeat: of `random`, only `random()` is."""

    source: random.Random

    def share(self) -> float:
        """Return a number from 0 to below 1."""
        return self.source.random()

    def whole(self, least: int, most: int) -> int:
        """Return a whole number, both bounds included."""
        return least + int(self.share() * (most - least + 1))

    def one_of(self, things: Sequence[_T]) -> _T:
        """Return one of some things."""
        return things[int(self.share() * len(things))]


def season() -> dict[str, str]:
    """Return every file of the batch by name."""
    chance = _Chance(random.Random(SEED))
    specimens: list[Row] = []
    bench = _Bench()
    while len(specimens) < STANDING:
        row, kind = _insect(chance, len(specimens) + 1)
        day = MONDAY - timedelta(days=chance.whole(3, 24))
        if bench.mount(row, day):
            specimens.append(row | _caught(chance, kind, day))
    while len(specimens) < STANDING + WAITING:
        row, kind = _insect(chance, len(specimens) + 1)
        specimens.append(row | _waiting(chance, row, kind) | _sizes_known(chance, row))
    return {
        "boards.csv": BOARDS,
        "mounted.csv": _table(("specimen", "board", "from_mm", "to_mm", "mounted"), bench.mounted),
        "rooms.csv": ROOMS,
        "sessions.csv": SESSIONS,
        "settings.toml": SETTINGS,
        "specimens.csv": _table(COLUMNS, specimens),
    }


def _insect(chance: _Chance, number: int) -> tuple[Row, Kind]:
    """Return an insect with its measures and where it is from; nothing yet of its state."""
    kind = chance.one_of(KINDS)
    wingspan = chance.whole(*kind.wingspan_mm)
    body = wingspan * kind.body_share * (0.94 + 0.12 * chance.share())
    locality, latitude, longitude, within, height = chance.one_of(PLACES)
    row = {
        "specimen": f"S-{number:03}",
        "family": kind.family,
        "group": kind.group,
        "taxon": kind.taxon,
        "sex": chance.one_of(("female", "male")),
        "body_mm": f"{body:.1f}",
        "wingspan_mm": str(wingspan),
        "priority": str(chance.one_of((1,) * 13 + (2, 2, 3, 3, 5, 8))),
        "country": "Saltmere Island (invented)",
        "stateProvince": "North Sea (invented)",
        "locality": locality,
        "decimalLatitude": latitude,
        "decimalLongitude": longitude,
        "geodeticDatum": "WGS84",
        "coordinateUncertaintyInMeters": within,
        "minimumElevationInMeters": height,
        "samplingProtocol": kind.by,
        "recordedBy": chance.one_of(PEOPLE),
        "lifeStage": "adult",
    }
    return row, kind


def _caught(chance: _Chance, kind: Kind, day: date) -> Row:
    """Return the state of what was mounted on a day: fresh in its months, else frozen."""
    first, last = kind.months
    if first <= day.month <= last:
        return {"state": "fresh", "eventDate": str(day - timedelta(days=1))}
    return _frozen_last_year(chance, kind)


def _frozen_last_year(chance: _Chance, kind: Kind) -> Row:
    day = date(2026, chance.whole(*kind.months), chance.whole(2, 28))
    return {
        "state": "frozen",
        "frozen_on": str(day),
        "eventDate": str(day - timedelta(days=1)),
    }


def _waiting(chance: _Chance, row: Row, kind: Kind) -> Row:
    """Return how one waits: half of them in the freezer since last year, some papered."""
    drawn = chance.share()
    wanted: Row = {}
    if chance.share() < 0.1:
        wanted = {"wanted_by": str(LAST_DAY + timedelta(days=chance.whole(0, 60)))}
    if drawn < 0.15:
        day = date(chance.whole(2023, 2025), chance.whole(*kind.months), chance.whole(2, 28))
        return wanted | {"state": "dried", "eventDate": str(day)}
    days = _flight_days(kind)
    if drawn < 0.5 or not days:
        return wanted | _frozen_last_year(chance, kind)
    # The trap burns before the Saturdays: stout ones come a day earlier, they soften longer.
    early = timedelta(days=float(row["body_mm"]) >= 6)
    day = chance.one_of(days) - early
    caught = {"available": str(day), "eventDate": str(day - timedelta(days=1))}
    if drawn < 0.75:
        return wanted | caught | {"state": "fresh"}
    return wanted | caught | {"state": "frozen", "frozen_on": str(day)}


def _flight_days(kind: Kind) -> list[date]:
    """Return the Fridays of the season on which a species flies."""
    fridays = [MONDAY + timedelta(days=4 + 7 * week) for week in range(13)]
    first, last = kind.months
    return [day for day in fridays if first <= day.month <= last]


def _sizes_known(chance: _Chance, row: Row) -> Row:
    """Return what was not measured of one that waits, blank or as somebody would say it."""
    drawn = chance.share()
    if drawn < 0.7:
        return {}
    body, wingspan = float(row["body_mm"]), int(row["wingspan_mm"])
    if drawn < 0.8:
        return {"body_mm": ""}
    if drawn < 0.9:
        return {"body_mm": "", "wingspan_mm": "", "forewing_mm": str(round(wingspan / 2.1))}
    word = "slender" if body <= 3 else "medium" if body <= 6 else "stout"
    return {"body_mm": "", "size": word}


class _Bench:
    """The boards before the season, filled from the left with room to spare."""

    def __init__(self) -> None:
        self.mounted: list[Row] = []
        self._reach: dict[str, int] = {}
        self._boards = [
            (f"{row['board']}-{number}" if int(row["count"]) > 1 else row["board"], row)
            for row in csv.DictReader(io.StringIO(BOARDS))
            for number in range(1, int(row["count"]) + 1)
        ]

    def mount(self, insect: Row, day: date) -> bool:
        """Mount an insect on the emptiest board that suits it; return whether there is one.

        A millimetre and a half of clearance, a centimetre of edge, a third of each board left
        free: on the safe side of any rule.
        """
        body, wingspan = float(insect["body_mm"]), int(insect["wingspan_mm"])
        length = round(0.85 * wingspan) + 8
        fits = [
            (self._reach.get(name, 0), name)
            for name, board in self._boards
            if 1 <= float(board["groove_mm"]) - body <= 1.5
            and int(board["span_mm"]) >= wingspan + 10
            and self._reach.get(name, 0) + length <= int(board["length_mm"]) * 2 / 3
        ]
        if not fits:
            return False
        begin, name = min(fits)
        end = begin + length
        self._reach[name] = end
        hour, quarter = divmod(len(self.mounted) % 8, 4)
        self.mounted.append(
            {
                "specimen": insect["specimen"],
                "board": name,
                "from_mm": str(begin),
                "to_mm": str(end),
                "mounted": f"{day}T{19 + hour}:{15 * quarter:02}",
            }
        )
        return True


def _table(columns: Sequence[str], rows: Sequence[Row]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, text in season().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
