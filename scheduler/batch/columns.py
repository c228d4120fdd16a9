"""Which columns the files of a batch have, and what each of them may hold."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.batch import cells
from scheduler.batch.cells import Reader
from scheduler.records import REGIMES, SIZE_CLASSES, STATES


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, how a filled cell is read, and whether it must be filled."""

    name: str
    read: Reader
    required: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """One file of a batch; `kind` names what a row describes, `key` the column of its id."""

    file: str
    kind: str
    key: str | None
    columns: tuple[Column, ...]


ROOMS = Table(
    "rooms.csv",
    "room",
    "room",
    (
        Column("room", cells.name, required=True),
        Column("regime", cells.word(*REGIMES)),
        Column("rh_pct", cells.number(0, 100, "%")),
        Column("temp_c", cells.number(-30, 60, "°C")),
    ),
)

BOARDS = Table(
    "boards.csv",
    "board",
    "board",
    (
        Column("board", cells.name, required=True),
        Column("groove_mm", cells.number(0.5, 40, "mm"), required=True),
        Column("span_mm", cells.number(20, 400, "mm"), required=True),
        Column("length_mm", cells.whole(30, 2000, "mm"), required=True),
        Column("room", cells.name),
        Column("count", cells.whole(1, 500, "")),
    ),
)

_LABEL_READERS: dict[str, Reader] = {
    "eventDate": cells.event_date,
    "dateIdentified": cells.event_date,
    "startDayOfYear": cells.whole(1, 366, ""),
    "endDayOfYear": cells.whole(1, 366, ""),
    "decimalLatitude": cells.number(-90, 90, "degrees"),
    "decimalLongitude": cells.number(-180, 180, "degrees"),
    "coordinateUncertaintyInMeters": cells.number(0.1, 1_000_000, "m"),
    "minimumElevationInMeters": cells.number(-500, 9000, "m"),
    "maximumElevationInMeters": cells.number(-500, 9000, "m"),
    "countryCode": cells.country_code,
    "verbatimLabel": cells.words(2000, line_breaks=True),
    "associatedTaxa": cells.words(500),
    "dynamicProperties": cells.words(2000),
    "fieldNotes": cells.words(2000, line_breaks=True),
    "occurrenceRemarks": cells.words(2000, line_breaks=True),
    "materialEntityRemarks": cells.words(2000, line_breaks=True),
}

LABEL_TERMS: tuple[str, ...] = tuple(
    """recordedBy eventDate verbatimEventDate startDayOfYear endDayOfYear samplingProtocol
    habitat country countryCode stateProvince county locality verbatimLocality decimalLatitude
    decimalLongitude geodeticDatum coordinateUncertaintyInMeters minimumElevationInMeters
    maximumElevationInMeters lifeStage associatedTaxa associatedOccurrences preparations
    disposition catalogNumber otherCatalogNumbers recordNumber verbatimLabel treatments
    handlingRequirements hazardType materialEntityRemarks occurrenceRemarks dynamicProperties
    fieldNotes establishmentMeans degreeOfEstablishment parentEventID identifiedBy
    dateIdentified scientificName order""".split()
)
"""The Darwin Core terms a label may carry (TDWG, Darwin Core, occurrence core); `family` and
`sex` are columns of the specimen itself."""

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
        Column("body_mm", cells.number(0.2, 40, "mm")),
        Column("size", cells.word(*SIZE_CLASSES)),
        Column("forewing_mm", cells.number(1, 200, "mm")),
        Column("wingspan_mm", cells.number(2, 400, "mm")),
        Column("state", cells.word(*STATES)),
        Column("frozen_on", cells.day),
        Column("available", cells.day),
        Column("wanted_by", cells.day),
        Column("spoils_by", cells.day),
        Column("priority", cells.whole(1, 10, "")),
        Column("minutes", cells.whole(0, 1440, "min")),
        *(Column(term, _LABEL_READERS.get(term, cells.words())) for term in LABEL_TERMS),
    ),
)

SESSIONS = Table(
    "sessions.csv",
    "session",
    "session",
    (
        Column("session", cells.name, required=True),
        Column("start", cells.moment, required=True),
        Column("minutes", cells.whole(0, 1440, "min"), required=True),
    ),
)

MOUNTED = Table(
    "mounted.csv",
    "placement",
    None,
    (
        Column("specimen", cells.name, required=True),
        Column("board", cells.name, required=True),
        Column("from_mm", cells.whole(0, 2000, "mm")),
        Column("to_mm", cells.whole(1, 2000, "mm")),
        Column("mounted", cells.moment_or_day, required=True),
    ),
)

TABLES: tuple[Table, ...] = (ROOMS, BOARDS, SPECIMENS, SESSIONS, MOUNTED)
SETTINGS_FILE = "settings.toml"
FILES: tuple[str, ...] = (SETTINGS_FILE, *(table.file for table in TABLES))
"""The files of a batch, in the order in which their problems are reported."""
