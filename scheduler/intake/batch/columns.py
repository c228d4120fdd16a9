"""The columns that the files of a batch have, and what each of them may hold."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from scheduler.intake.batch import cells
from scheduler.intake.batch.cells import Reader
from scheduler.words.records import HOSTS_SEEN, REFILLS, REGIMES, SIZE_CLASSES, STATES
from scheduler.words.repeats import MOST_MIN

Form = Literal["text", "number", "date"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, how a filled cell is read, and whether it must be filled.

    Numbers and dates may be written in the manner of the file; `read` gets them with a decimal
    point and as ISO 8601.
    """

    name: str
    read: Reader
    required: bool = False
    form: Form = "text"
    unit: str = ""

    @property
    def key(self) -> str:
        """Return the key by which a title is recognised as this column."""
        return title_key(self.name)


# eq=False: each table is a single object, so it need not be compared and hashed by its fifty
# columns each time.
@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """One table of a batch; `kind` is what a row describes, `key` the column of its id."""

    file: str
    kind: str
    key: str | None
    columns: tuple[Column, ...]

    @property
    def name(self) -> str:
        """Return the table's name, which a sheet or a file may have."""
        return self.file.removesuffix(".csv")

    @property
    def keys(self) -> frozenset[str]:
        """Return the keys of its columns."""
        return frozenset(column.key for column in self.columns)


def title_key(title: str) -> str:
    """Return a title's letters and digits, folded: "Body (mm)" and body_mm give bodymm."""
    return _short_key(title) if len(title) <= _LONGEST_KEPT else _letters(title)


_LONGEST_KEPT = 60
"""Longer cells are no titles; the keys of shorter ones are asked for often, and kept."""


@lru_cache(8192)
def _short_key(title: str) -> str:
    return _letters(title)


def _letters(title: str) -> str:
    return "".join(filter(str.isalnum, title.casefold()))


def _number(
    name: str, least: float, most: float, unit: str = "", *, required: bool = False
) -> Column:
    return Column(name, cells.number(least, most, unit), required, "number", unit)


def _whole(name: str, least: int, most: int, unit: str = "", *, required: bool = False) -> Column:
    return Column(name, cells.whole(least, most, unit), required, "number", unit)


def _date(name: str, read: Reader, *, required: bool = False) -> Column:
    return Column(name, read, required, "date")


ROOMS = Table(
    "rooms.csv",
    "room",
    "room",
    (
        Column("room", cells.name, required=True),
        Column("regime", cells.word(*REGIMES)),
        Column("rh_pct", cells.percentage, False, "number", "%"),
        _number("temp_c", -30, 60, "°C"),
    ),
)

BOARDS = Table(
    "boards.csv",
    "board",
    "board",
    (
        Column("board", cells.name, required=True),
        _number("groove_mm", 0.5, 40, "mm", required=True),
        _number("span_mm", 20, 400, "mm", required=True),
        _whole("length_mm", 30, 2000, "mm", required=True),
        Column("room", cells.name),
        _whole("count", 1, 500),
        Column("refill", cells.word(*REFILLS)),
    ),
)

_LABEL_COLUMNS = (
    _date("eventDate", cells.event_date),
    _date("dateIdentified", cells.event_date),
    _whole("startDayOfYear", 1, 366),
    _whole("endDayOfYear", 1, 366),
    _number("decimalLatitude", -90, 90, "degrees"),
    _number("decimalLongitude", -180, 180, "degrees"),
    _number("coordinateUncertaintyInMeters", 0.1, 1_000_000, "m"),
    _number("minimumElevationInMeters", -500, 9000, "m"),
    _number("maximumElevationInMeters", -500, 9000, "m"),
    Column("countryCode", cells.country_code),
    _date("emerged_on", cells.event_date),
    Column("host_seen", cells.word(*HOSTS_SEEN)),
    Column("verbatimLabel", cells.words(2000, line_breaks=True)),
    Column("associatedTaxa", cells.words(500)),
    Column("dynamicProperties", cells.words(2000)),
    Column("fieldNotes", cells.words(2000, line_breaks=True)),
    Column("occurrenceRemarks", cells.words(2000, line_breaks=True)),
    Column("materialEntityRemarks", cells.words(2000, line_breaks=True)),
)
_LABEL_COLUMN = {column.name: column for column in _LABEL_COLUMNS}

LABEL_TERMS: tuple[str, ...] = tuple(
    """recordedBy eventDate verbatimEventDate startDayOfYear endDayOfYear samplingProtocol
    habitat country countryCode stateProvince county locality verbatimLocality decimalLatitude
    decimalLongitude geodeticDatum coordinateUncertaintyInMeters minimumElevationInMeters
    maximumElevationInMeters lifeStage associatedTaxa associatedOccurrences preparations
    disposition catalogNumber otherCatalogNumbers recordNumber verbatimLabel treatments
    handlingRequirements hazardType materialEntityRemarks occurrenceRemarks dynamicProperties
    fieldNotes establishmentMeans degreeOfEstablishment parentEventID identifiedBy
    dateIdentified scientificName order emerged_on host_seen""".split()
)
"""The Darwin Core terms that a label may carry (TDWG, Darwin Core, occurrence core).

`family` and `sex` are columns of the specimen itself. The standard has no term for the emergence of
a reared adult, nor for how its host is known: `emerged_on` and `host_seen` are ours.
"""

SPECIMENS = Table(
    "specimens.csv",
    "specimen",
    "specimen",
    (
        Column("specimen", cells.name, required=True),
        Column("family", cells.words(60)),
        Column("group", cells.words(60)),
        Column("taxon", cells.words()),
        Column("sex", cells.words(40)),
        _number("body_mm", 0.2, 40, "mm"),
        Column("size", cells.word(*SIZE_CLASSES, also=cells.BUILDS)),
        _number("forewing_mm", 1, 200, "mm"),
        _number("wingspan_mm", 2, 400, "mm"),
        _number("groove_mm", 0.5, 40, "mm"),
        Column("state", cells.word(*STATES, also=cells.STATES_ALSO)),
        _date("frozen_on", cells.calendar_day),
        _date("available", cells.calendar_day),
        _date("wanted_by", cells.calendar_day),
        _date("spoils_by", cells.calendar_day),
        _whole("priority", 1, 10),
        _whole("minutes", 0, 1440, "min"),
        Column("box", cells.words(60)),
        Column("lot", cells.words(60)),
        _whole("count", 1, 500),
        *(_LABEL_COLUMN.get(term, Column(term, cells.words())) for term in LABEL_TERMS),
    ),
)

SESSIONS = Table(
    "sessions.csv",
    "session",
    "session",
    (
        Column("session", cells.name, required=True),
        _date("start", cells.calendar_moment, required=True),
        _whole("minutes", 0, MOST_MIN, "min", required=True),
        Column("who", cells.words(40)),
    ),
)

MOUNTED = Table(
    "mounted.csv",
    "placement",
    None,
    (
        Column("specimen", cells.name, required=True),
        Column("board", cells.name, required=True),
        _whole("from_mm", 0, 2000, "mm"),
        _whole("to_mm", 1, 2000, "mm"),
        _date("mounted", cells.moment_or_day, required=True),
    ),
)

TABLES: tuple[Table, ...] = (ROOMS, BOARDS, SPECIMENS, SESSIONS, MOUNTED)
SETTINGS_FILE = "settings.toml"
FILES: tuple[str, ...] = (SETTINGS_FILE, *(table.file for table in TABLES))
"""The files of a batch, in the order in which their problems are reported."""

OURS = ("file", "row", "problems")
"""The columns that we add to rows left out of a load."""
READ_WITHOUT = frozenset({*OURS, "occurrenceid", "basisofrecord"})
"""Keys of titles that we write ourselves beside a table's own; such columns are not read."""
