"""What people write above the columns of a list: from English and German titles to our columns.

A title that is our own needs no guess. Some other titles mean only one thing and are understood;
the rest are guesses, which are shown and asked about once. The words are common practice, no
source.
"""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Literal, NamedTuple

from scheduler.intake.batch.columns import READ_WITHOUT, SPECIMENS, Table, title_key
from scheduler.intake.batch.measure import unit_times

NOTE = "note"
NOT_READ = "-"
NOTES_TERM = "materialEntityRemarks"
"""Where a note on a specimen is kept (Darwin Core: remarks on the material itself)."""

TitleHow = Literal[
    "named", "told", "said", "understood", "guessed", "asked", "note", "left out", "ours"
]

_CERTAIN: Mapping[str, str] = {
    "specimen": "id, no, nr, lfd nr, laufende nummer, specimen id, specimen no, specimen nr, "
    "specimen number, belegnummer, belegnr, tiernummer, tiernr, präparatnummer, "
    "exemplarnummer, etikettnummer, sammlungsnummer",
    "family": "familie, fam",
    "taxon": "art, artname, species, species name, spezies, taxon name, latin name, "
    "lateinischer name, wissenschaftlicher name",
    "sex": "geschlecht, sexus",
    "body_mm": "thoraxbreite, thorax width, körperbreite, body width, brustbreite",
    "size": "size class, größenklasse",
    "forewing_mm": "vorderflügel, vorderflügellänge, forewing, forewing length, fw length",
    "wingspan_mm": "spannweite, flügelspannweite, wingspan, wing span",
    "state": "zustand",
    "frozen_on": "eingefroren am, eingefroren, frozen, frozen on, date frozen, freeze date, "
    "gefroren am, gefroren seit, eingefroren seit, frozen since, in freezer since, "
    "einfrierdatum, in the freezer since, im gefrierfach seit, tk seit",
    "available": "verfügbar ab, ready from, available from",
    "wanted_by": "fertig bis, gebraucht bis, needed by, wanted by",
    "spoils_by": "haltbar bis, verdirbt am, keeps until, hält bis",
    "minutes": "minuten",
    "count": "anzahl, stück, stückzahl, stk, count, qty, quantity, how many, pieces",
    "box": "dose, box no, box nr, box number, gefrierdose, freezer box, boxnummer, "
    "dosennummer, dosennr, schachtel, tray, lade, behälter, container, schublade, drawer, tüte, "
    "bag, tub",
    "eventDate": "gefangen am, fangdatum, funddatum, date collected, collected on, "
    "collection date, gesammelt am, caught on, date caught, sammeldatum",
    "locality": "fundort, fundstelle",
    "recordedBy": "sammler, collector, leg, legit, gesammelt von, collected by",
    "habitat": "biotop, lebensraum",
    "associatedTaxa": "futterpflanze, host plant, hostplant, foodplant, food plant, "
    "raupenfutter, wirtspflanze, larval host, larval foodplant",
    NOTE: "bemerkung, bemerkungen, notiz, notizen, notes, note, remarks, remark, comment, "
    "comments, kommentar, anmerkung, anmerkungen, sonstiges, hinweis, gattung, genus",
}
"""Words that mean only one thing above a list of insects.

They are understood and said without a question, but only while no other title of the list could be
the same column.
"""

_PROBABLE: Mapping[str, str] = {
    "specimen": "num, number, nummer, code, kürzel, beleg, exemplar, tier, präparat, label no, "
    "etikett",
    "group": "gruppe, insect, insekt, what, was, kind of insect",
    "taxon": "name, falter, moth, butterfly, schmetterling",
    "sex": "m/w, m/f, männchen/weibchen",
    "body_mm": "body, thorax, körper, körperdicke, dicke, thickness, breite",
    "size": "größe, groesse, statur, build, wuchs",
    "forewing_mm": "fw, flügellänge, wing length",
    "wingspan_mm": "span, ws, spw, spread",
    "groove_mm": "groove, nut, nutbreite, rinne",
    "state": "condition, how kept, aufbewahrung",
    "frozen_on": "gefroren",
    "available": "verfügbar, ab wann",
    "wanted_by": "bis wann, due, frist, deadline",
    "priority": "priorität, prio, wichtigkeit, urgency, dringlichkeit",
    "minutes": "min, zeitbedarf, dauer",
    "count": "menge, zahl, expl",
    "box": "kasten, fach, where, wo, lagerort, lagerplatz, platz, storage, kiste",
    "eventDate": "collected, gefangen, caught, fang",
    "locality": "ort, place, site, location",
    "recordedBy": "finder, fänger",
    "country": "land, staat",
    "associatedTaxa": "host",
}
EXPLAINED: Mapping[str, str] = {"priority": "10 is mounted first", "body_mm": "the thorax's width"}
"""What a person must know before agreeing that a column is one of ours."""


def _by_word(said: Mapping[str, str]) -> Mapping[str, str]:
    return {title_key(word): name for name, words in said.items() for word in words.split(", ")}


GENUS = ("gattung", "genus")
"""Keys of titles that hold the first word of a name, where another column has the second."""

_SURELY = _by_word(_CERTAIN)
_BY_WORD = {**_by_word(_PROBABLE), **_SURELY}
_UNIT = re.compile(
    r"\s*(?:[(\[]\s*(?:in\s+)?([^)\]\d]{1,12}?)\s*[)\]]|\bin\s+([a-zµ%°]{1,10})|,?\s+(mm|cm|min))\s*$",
    re.IGNORECASE,
)


class Meaning(NamedTuple):
    """What one title means: a column of ours, `NOTE`, or None; and how we know.

    `times` turns the unit that the title names into the column's own unit.
    """

    title: str
    column: str | None
    how: TitleHow
    times: float = 1.0


def meanings(titles: Sequence[str], table: Table, told: Mapping[str, str]) -> tuple[Meaning, ...]:
    """Return what each title means; the first of two guesses at one column holds.

    `told` are meanings that a person gave, by `title_key`: a column, `note` or `-`.
    """
    sure = [_sure(title, table, told) for title in titles]
    taken = {found.column for found in sure if found is not None}
    alone = [found or _guessed(t, table, taken) for t, found in zip(titles, sure, strict=True)]
    meant = Counter(meaning.column for meaning in alone)
    result = []
    for title, found, meaning in zip(titles, sure, alone, strict=True):
        if found is None and meaning.column not in (None, NOTE):
            if meaning.column in taken:
                meaning = _guessed(title, table, taken)
            elif meant[meaning.column] > 1:
                meaning = meaning._replace(how="guessed")
        if meaning.column not in (None, NOTE):
            taken.add(meaning.column)
        result.append(meaning)
    return tuple(result)


def rated(line: Sequence[str], table: Table, told: Mapping[str, str]) -> float:
    """Return how much a line looks like a table's header: titles of our own count most."""
    rate = 0.0
    seen: set[str | None] = set()
    for cell in line:
        meaning = _sure(cell, table, told) or _guessed(cell, table, frozenset(), near=False)
        if meaning.how not in ("note", "left out", "ours") and meaning.column not in seen:
            seen.add(meaning.column)
            rate += 1.5 if meaning.how == "guessed" else 2.0
    return rate


def _sure(title: str, table: Table, told: Mapping[str, str]) -> Meaning | None:
    """Return the meaning of a title that needs no guess, None without one."""
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
        times = _without_unit(title, table, column)[1]
        surely = table is SPECIMENS and _surely(title, table, column)
        return Meaning(title, column, "understood" if surely else "guessed", times)
    return Meaning(title, NOTE if table is SPECIMENS else None, "note")


def _surely(title: str, table: Table, column: str) -> bool:
    """Say whether a title means a column beyond doubt: what is in brackets is its unit."""
    if _SURELY.get(title_key(title)) == column:
        return True
    found = _UNIT.search(title)
    unit = next((c.unit for c in table.columns if c.name == column), "")
    if found is None or not unit or _SURELY.get(title_key(title[: found.start()])) != column:
        return False
    return unit_times(next(group for group in found.groups() if group), unit) is not None


@cache
def _names(table: Table) -> Mapping[str, str]:
    return {column.key: column.name for column in table.columns}


@cache
def _known(table: Table) -> Mapping[str, str]:
    """Return every title that is known or guessed, by its key."""
    return {**(_BY_WORD if table is SPECIMENS else {}), **_names(table)}


def _without_unit(title: str, table: Table, column: str) -> tuple[str, float]:
    """Return the title without its unit, and the factor from that unit to the column's."""
    found = _UNIT.search(title)
    unit = next((c.unit for c in table.columns if c.name == column), "")
    if found is None or not unit:
        return title, 1.0
    said = next(group for group in found.groups() if group)
    return title[: found.start()], unit_times(said, unit) or 1.0
