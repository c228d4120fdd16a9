"""What people write above the columns of a list: English and German titles -> our columns.

A title that is our own needs no guess; one of these is a guess, shown and asked about once.
The words are common practice, no source.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Literal, NamedTuple

from scheduler.intake.batch.columns import READ_WITHOUT, SPECIMENS, Table, title_key
from scheduler.intake.batch.measure import unit_times

NOTE = "note"
NOT_READ = "-"
NOTES_TERM = "materialEntityRemarks"
"""Where a note on a specimen is kept (Darwin Core: remarks on the material itself)."""

TitleHow = Literal["named", "told", "guessed", "note", "left out", "ours"]

_WORDS: Mapping[str, str] = {
    "specimen": "id, no, nr, num, number, nummer, lfd nr, laufende nummer, code, kürzel, beleg, "
    "belegnummer, belegnr, exemplar, specimen id, specimen no, specimen number, tier, tiernummer, "
    "präparat, präparatnummer, label no, etikett, etikettnummer, sammlungsnummer",
    "family": "familie, fam",
    "group": "gruppe, insect, insekt, what, was, kind of insect",
    "taxon": "art, species, artname, name, taxon name, latin name, lateinischer name, "
    "wissenschaftlicher name, falter, moth, butterfly, schmetterling, spezies",
    "sex": "geschlecht, m/w, m/f, sexus, männchen/weibchen",
    "body_mm": "body, thorax, körper, thoraxbreite, körperbreite, körperdicke, body width, "
    "thorax width, brustbreite, dicke, thickness, breite",
    "size": "größe, groesse, statur, build, wuchs, size class, größenklasse",
    "forewing_mm": "vorderflügel, vorderflügellänge, forewing, forewing length, fw, fw length, "
    "flügellänge, wing length",
    "wingspan_mm": "spannweite, flügelspannweite, wingspan, wing span, span, ws, spw, spread",
    "groove_mm": "groove, nut, nutbreite, rinne",
    "state": "zustand, condition, how kept, aufbewahrung",
    "frozen_on": "eingefroren am, eingefroren, frozen, frozen on, date frozen, freeze date, "
    "gefroren am, gefroren, gefroren seit, eingefroren seit, frozen since, in freezer since, "
    "tk seit, einfrierdatum, in the freezer since, im gefrierfach seit",
    "available": "verfügbar ab, verfügbar, ab wann, ready from, available from",
    "wanted_by": "fertig bis, gebraucht bis, needed by, wanted by, bis wann, due, frist, deadline",
    "spoils_by": "haltbar bis, verdirbt am, keeps until, hält bis",
    "priority": "priorität, prio, wichtigkeit, urgency, dringlichkeit",
    "minutes": "minuten, min, zeitbedarf, dauer",
    "count": "anzahl, stück, stk, count, qty, quantity, how many, menge, zahl, pieces, expl",
    "box": "dose, box no, box nr, schachtel, kasten, tray, lade, behälter, container, tüte, fach, "
    "schublade, drawer, bag, tub, where, wo, lagerort, lagerplatz, platz, storage, gefrierdose, "
    "freezer box, boxnummer, dosennummer, kiste",
    "eventDate": "gefangen am, fangdatum, funddatum, date collected, collected, collected on, "
    "collection date, gesammelt am, gefangen, caught, caught on, date caught, fang, sammeldatum",
    "locality": "fundort, ort, locality, place, site, fundstelle, location",
    "recordedBy": "sammler, collector, leg, legit, gesammelt von, collected by, finder, fänger",
    "country": "land, staat",
    "habitat": "biotop, lebensraum",
    "associatedTaxa": "futterpflanze, host plant, foodplant, food plant, raupenfutter, host, "
    "wirtspflanze, larval host",
    NOTE: "bemerkung, bemerkungen, notiz, notizen, notes, note, remarks, remark, comment, "
    "comments, kommentar, anmerkung, anmerkungen, sonstiges, hinweis",
}
_BY_WORD = {
    title_key(word): column for column, words in _WORDS.items() for word in words.split(", ")
}
_UNIT = re.compile(
    r"\s*(?:[(\[]\s*(?:in\s+)?([^)\]\d]{1,12}?)\s*[)\]]|\bin\s+([a-zµ%°]{1,10})|,?\s+(mm|cm|min))\s*$",
    re.IGNORECASE,
)


class Meaning(NamedTuple):
    """What one title means: a column of ours, `NOTE`, or None; and how we know.

    `times` turns the unit that the title names into the column's own.
    """

    title: str
    column: str | None
    how: TitleHow
    times: float = 1.0


def meanings(titles: Sequence[str], table: Table, told: Mapping[str, str]) -> tuple[Meaning, ...]:
    """Return what each title means; of two guesses at one column the first holds.

    `told` are meanings that a person gave, by `title_key`: a column, `note` or `-`.
    """
    sure = [_sure(title, table, told) for title in titles]
    taken = {found.column for found in sure if found is not None}
    result = []
    for title, found in zip(titles, sure, strict=True):
        meaning = found or _guessed(title, table, taken)
        if meaning.column not in (None, NOTE):
            taken.add(meaning.column)
        result.append(meaning)
    return tuple(result)


def rated(line: Sequence[str], table: Table, told: Mapping[str, str]) -> float:
    """Return how much a line looks like a table's header: own titles count most."""
    rate = 0.0
    seen: set[str | None] = set()
    for cell in line:
        meaning = _sure(cell, table, told) or _guessed(cell, table, frozenset(), near=False)
        if meaning.how in ("named", "told", "guessed") and meaning.column not in seen:
            seen.add(meaning.column)
            rate += 1.5 if meaning.how == "guessed" else 2.0
    return rate


def _sure(title: str, table: Table, told: Mapping[str, str]) -> Meaning | None:
    """Return the meaning of a title that needs no guess."""
    key = title_key(title)
    if not key or key in READ_WITHOUT:
        return Meaning(title, None, "ours")
    if key in told:
        column, (_, times) = told[key], _without_unit(title, table, told[key])
        if column == NOT_READ:
            return Meaning(title, None, "left out")
        return Meaning(title, column, "told", times)
    own = _names(table).get(key)
    return None if own is None else Meaning(title, own, "named")


def _guessed(
    title: str, table: Table, taken: frozenset[str | None] | set[str | None], *, near: bool = True
) -> Meaning:
    known = _known(table)
    bare = title_key(_UNIT.sub("", title)) or title_key(title)
    column = known.get(title_key(title)) or known.get(bare)
    if column is None and near and len(bare) > 3:
        close = difflib.get_close_matches(bare, known, n=1, cutoff=0.85)
        column = known[close[0]] if close else None
    if column is not None and (column not in taken or column == NOTE):
        _, times = _without_unit(title, table, column)
        if times is not None:
            return Meaning(title, column, "guessed", times)
    return Meaning(title, NOTE if table is SPECIMENS else None, "note")


@cache
def _names(table: Table) -> Mapping[str, str]:
    return {column.key: column.name for column in table.columns}


@cache
def _known(table: Table) -> Mapping[str, str]:
    """Return every title that is known or guessed, by its key."""
    return {**(_BY_WORD if table is SPECIMENS else {}), **_names(table)}


def _without_unit(title: str, table: Table, column: str) -> tuple[str, float]:
    """Return the title without its unit, and what the unit's numbers are multiplied by."""
    found = _UNIT.search(title)
    unit = next((c.unit for c in table.columns if c.name == column), "")
    if found is None or not unit:
        return title, 1.0
    said = next(group for group in found.groups() if group)
    return title[: found.start()], unit_times(said, unit) or 1.0
