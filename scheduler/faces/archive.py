"""Released specimens as a Darwin Core Archive, and the same as flat rows.

Terms and files follow TDWG's Darwin Core text guide (rs.tdwg.org/dwc/text/): an occurrence core,
and a MeasurementOrFact extension for what Darwin Core has no term for: when a reared adult emerged,
how its host is known, and sizes. Pure: the same specimens give the same bytes.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Sequence
from datetime import date
from uuid import UUID, uuid5
from xml.sax.saxutils import escape

from scheduler.words.label import data_label
from scheduler.words.records import Specimen
from scheduler.words.tuples import NamedTuple

DWC = "http://rs.tdwg.org/dwc/terms/"
DWC_TEXT = "http://rs.tdwg.org/dwc/text/"

EVENT_TERMS = tuple(
    """eventDate verbatimEventDate startDayOfYear endDayOfYear samplingProtocol habitat fieldNotes
    parentEventID country countryCode stateProvince county locality verbatimLocality
    decimalLatitude decimalLongitude geodeticDatum coordinateUncertaintyInMeters
    minimumElevationInMeters maximumElevationInMeters""".split()
)
SPECIMEN_TERMS = tuple(
    """catalogNumber otherCatalogNumbers recordNumber recordedBy sex lifeStage associatedTaxa
    associatedOccurrences preparations disposition treatments handlingRequirements hazardType
    verbatimLabel materialEntityRemarks occurrenceRemarks dynamicProperties establishmentMeans
    degreeOfEstablishment""".split()
)
NAME_TERMS = ("scientificName", "family", "order", "identifiedBy", "dateIdentified")
OCCURRENCE_TERMS = (
    "occurrenceID", "basisOfRecord", "materialEntityID",
    *SPECIMEN_TERMS, *EVENT_TERMS, *NAME_TERMS,
)  # fmt: skip
FACT_TERMS = tuple(
    """measurementID measurementType measurementValue measurementUnit measurementRemarks""".split()
)
SIZES = ("wingspan_mm", "forewing_mm", "body_mm")
FLAT_COLUMNS = (
    "specimen", "occurrenceID", "basisOfRecord", *SPECIMEN_TERMS, *EVENT_TERMS, *NAME_TERMS,
    "emerged_on", "host_seen", *SIZES,
)  # fmt: skip
"""Our own number first, then the terms of Darwin Core, then what the standard has no term for."""

BASIS_OF_RECORD = "PreservedSpecimen"
HOST_SAID = {"fed": "seen feeding on it", "bred": "bred from it", "found": "found on it only"}
_SIZE_SAID = {
    "wingspan_mm": "wingspan", "forewing_mm": "length of forewing", "body_mm": "width of thorax",
}  # fmt: skip


class Fact(NamedTuple):
    """A row of the extension."""

    occurrence: str
    kind: str
    value: str
    unit: str
    remarks: str


def occurrence_id(namespace: str, specimen: str) -> str:
    """Return the name of a specimen's occurrence, which never changes (RFC 9562, version 5)."""
    return f"urn:uuid:{uuid5(UUID(namespace), f'specimen/{specimen}')}"


def occurrence_row(specimen: Specimen, namespace: str) -> dict[str, str]:
    """Return a specimen by the terms of the core; "" for what is not known."""
    row = {term: specimen.label.get(term, "") for term in OCCURRENCE_TERMS}
    row |= {
        "occurrenceID": occurrence_id(namespace, specimen.specimen),
        "basisOfRecord": BASIS_OF_RECORD,
        "materialEntityID": specimen.specimen,
        "sex": specimen.sex or "",
        "family": specimen.family or "",
        "scientificName": specimen.label.get("scientificName") or specimen.taxon or "",
    }
    return row


def flat_row(specimen: Specimen, namespace: str) -> dict[str, object]:
    """Return a specimen as a row of `FLAT_COLUMNS`, which `wingrest load` reads again."""
    row: dict[str, object] = dict(occurrence_row(specimen, namespace))
    row["specimen"] = specimen.specimen
    row |= {own: specimen.label.get(own, "") for own in ("emerged_on", "host_seen")}
    return row | {size: _short(getattr(specimen, size)) for size in SIZES}


def _short(size_mm: float | None) -> float | None:
    """Return a size as it is written: 35, not 35.0."""
    return int(size_mm) if size_mm is not None and size_mm == int(size_mm) else size_mm


def facts_of(specimen: Specimen, namespace: str) -> Iterator[Fact]:
    """Yield what the core has no term for."""
    of, label = occurrence_id(namespace, specimen.specimen), specimen.label
    if emerged := label.get("emerged_on"):
        said = (
            f"reared; eventDate is when the immature stage was found. {data_label(specimen).text}"
        )
        yield Fact(of, "date of emergence of the adult", emerged, "ISO 8601 date", said)
    if host := label.get("host_seen"):
        yield Fact(
            of, "how the host is known", HOST_SAID[host], "", label.get("associatedTaxa", "")
        )
    for column, kind in _SIZE_SAID.items():
        size = getattr(specimen, column)
        if size is not None:
            yield Fact(of, kind, f"{size:g}", "mm", "")


def archive(specimens: Sequence[Specimen], namespace: str, about: About) -> bytes:
    """Return a Darwin Core Archive: occurrence.txt, facts.txt, meta.xml and eml.xml, zipped."""
    cores = [occurrence_row(s, namespace) for s in specimens]
    facts = [fact for s in specimens for fact in facts_of(s, namespace)]
    rows = [[f.occurrence, f"{f.occurrence}#{'-'.join(f.kind.split())}", *f[1:]] for f in facts]
    files = {
        "occurrence.txt": _text(
            OCCURRENCE_TERMS, [[c[t] for t in OCCURRENCE_TERMS] for c in cores]
        ),
        "facts.txt": _text(("occurrenceID", *FACT_TERMS), rows),
        "meta.xml": _meta(),
        "eml.xml": _eml(namespace, about),
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, text in files.items():
            zipped.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), text.encode())
    return out.getvalue()


def _text(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return rows with tabs between, nothing quoted; a line break in a value becomes " | "."""
    lines = [head, *rows]
    return "".join("\t".join(map(_plain, line)) + "\n" for line in lines)


def _plain(value: str) -> str:
    return " | ".join(part.strip() for part in value.replace("\t", " ").splitlines()) or value


def _meta() -> str:
    core = "".join(_field(n, term) for n, term in enumerate(OCCURRENCE_TERMS))
    facts = "".join(_field(n, term) for n, term in enumerate(FACT_TERMS, 1))
    how = (
        'encoding="UTF-8" fieldsTerminatedBy="\\t" linesTerminatedBy="\\n" fieldsEnclosedBy=""'
        ' ignoreHeaderLines="1"'
    )
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<archive xmlns="{DWC_TEXT}" metadata="eml.xml">
  <core {how} rowType="{DWC}Occurrence">
    <files><location>occurrence.txt</location></files>
    <id index="0"/>
{core}  </core>
  <extension {how} rowType="{DWC}MeasurementOrFact">
    <files><location>facts.txt</location></files>
    <coreid index="0"/>
{facts}  </extension>
</archive>
"""


def _field(index: int, term: str) -> str:
    return f'    <field index="{index}" term="{DWC}{term}"/>\n'


class About(NamedTuple):
    """What the metadata says: who gives, to whom (None: nobody yet), when, how many."""

    giver: str
    whom: str | None
    on: date
    number: int


def _eml(namespace: str, about: About) -> str:
    giver = f"<individualName><surName>{escape(about.giver)}</surName></individualName>"
    to = f" to {escape(about.whom)}" if about.whom else ""
    said = f"{about.number} pinned insects with spread wings, handed over{to} on {about.on}."
    package = uuid5(UUID(namespace), f"handover/{about.on}/{about.whom}/{about.number}")
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<eml:eml xmlns:eml="https://eml.ecoinformatics.org/eml-2.2.0"
  packageId="urn:uuid:{package}" system="wingrest" scope="system" xml:lang="en">
  <dataset>
    <title xml:lang="en">Pinned insects, handed over on {about.on}</title>
    <creator>{giver}</creator>
    <metadataProvider>{giver}</metadataProvider>
    <pubDate>{about.on}</pubDate>
    <language>en</language>
    <abstract><para>{said} Emergence of reared adults is in facts.txt.</para></abstract>
    <intellectualRights><para>Ask the giver.</para></intellectualRights>
    <contact>{giver}</contact>
  </dataset>
</eml:eml>
"""
