"""What a specimen's labels say: where, when, who, in that order, and nothing made up.

Order and content by S1 (USDA, Collecting and Preserving Insects and Mites), pp. 46-48: where
(country, province, locality, coordinates, elevation), when (day, Roman month, year), who, host.
A reared specimen carries both dates. "ex" stands before the host only where feeding was seen or
the specimen was bred from the plant, else "on". A second label bears name and determiner, a third
the collection's number.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scheduler.words.records import Specimen
from scheduler.words.tuples import NamedTuple
from scheduler.words.wording import ROMAN

NEEDED: Mapping[str, tuple[str, ...]] = {
    "locality": ("locality", "verbatimLocality"),
    "date": ("eventDate", "verbatimEventDate"),
    "collector": ("recordedBy",),
}
"""What every label must say (S1 p. 46), each with its Darwin Core terms: one of them is enough."""

MALE, FEMALE = "♂", "♀"
_SEX = {"male": MALE, "m": MALE, "female": FEMALE, "f": FEMALE}


SLIP_CODE = "wingrest:"
"""What stands before the id in the code on a slip; the code holds no web address."""


def missing(label: Mapping[str, str]) -> tuple[str, ...]:
    """Return which of locality, date and collector a label lacks."""
    return tuple(
        what for what, terms in NEEDED.items() if not any(label.get(t, "").strip() for t in terms)
    )


FORENAMES = "forenames as initials"
COORDINATES = "coordinates to three decimals"
COUNTRY = "the country by its code, or without a note in brackets"
PLACE = "the usual words of places shortened, notes in brackets left out"
SHORTENING = (FORENAMES, COORDINATES, COUNTRY, PLACE)
"""The rules by which a label that does not fit is shortened, in this order; there are no others."""


class LabelPart(NamedTuple):
    """A part of a label, with the shorter text that one rule allows where it does not fit."""

    text: str
    shorter: str = ""
    rule: str = ""

    def under(self, rules: Sequence[str]) -> str:
        """Return the part as it reads once these rules are applied."""
        return self.shorter if self.shorter and self.rule in rules else self.text


@dataclass(frozen=True, slots=True)
class DataLabel:
    """The permanent label, in the order in which it is read."""

    where: tuple[LabelPart, ...]
    when: tuple[LabelPart, ...]
    who: tuple[LabelPart, ...]
    host: tuple[LabelPart, ...]

    @property
    def groups(self) -> tuple[tuple[LabelPart, ...], ...]:
        """Return the groups that are not empty; each begins a new line."""
        return tuple(g for g in (self.where, self.when, self.who, self.host) if g)

    @property
    def text(self) -> str:
        """Return the whole label as one line, nothing shortened."""
        return " ".join(part.text for group in self.groups for part in group)


def data_label(specimen: Specimen) -> DataLabel:
    """Return what a specimen's permanent label says."""
    label = specimen.label
    return DataLabel(_where(label), _when(label), _who(label), _host(label))


def _where(label: Mapping[str, str]) -> tuple[LabelPart, ...]:
    parts = []
    if country := label.get("country", "").strip():
        code = label.get("countryCode", "").strip()
        parts.append(LabelPart(f"{country}:", f"{code or _without_notes(country)}:", COUNTRY))
    elif code := label.get("countryCode", "").strip():
        parts.append(LabelPart(code + ":"))
    for term in ("stateProvince", "county"):
        if place := label.get(term, "").strip():
            parts.append(LabelPart(place + ",", abbreviated(place) + ",", PLACE))
    locality = label.get("locality", "").strip() or label.get("verbatimLocality", "").strip()
    if locality:
        parts.append(LabelPart(locality, abbreviated(locality), PLACE))
    latitude, longitude = label.get("decimalLatitude"), label.get("decimalLongitude")
    if latitude and longitude:
        full = f"{_degrees(latitude, 'NS')} {_degrees(longitude, 'EW')}"
        short = f"{_degrees(latitude, 'NS', 3)} {_degrees(longitude, 'EW', 3)}"
        parts.append(LabelPart(full, short, COORDINATES))
    low, high = label.get("minimumElevationInMeters"), label.get("maximumElevationInMeters")
    heights = list(dict.fromkeys(filter(None, (low, high))))
    if heights:
        parts.append(LabelPart(f"{'-'.join(heights)} m"))
    return tuple(parts)


def _degrees(text: str, signs: str, most: int = 99) -> str:
    """Return a coordinate with its direction; decimals as written, but at most `most`."""
    number = text.strip()
    sign = signs[1] if number.startswith("-") else signs[0]
    whole, _, decimals = number.lstrip("+-").partition(".")
    if len(decimals) > most:
        whole, _, decimals = f"{float(number.lstrip('+-')):.{most}f}".partition(".")
    return f"{whole}{'.' + decimals if decimals else ''}°{sign}"


def _when(label: Mapping[str, str]) -> tuple[LabelPart, ...]:
    found = label.get("eventDate", "").strip()
    date = roman(found) if found else label.get("verbatimEventDate", "").strip()
    emerged = label.get("emerged_on", "").strip()
    if not emerged:
        return (LabelPart(date),) if date else ()
    stage = label.get("lifeStage", "").strip()
    if stage in ("", "adult"):
        stage = "coll."
    said = (f"{stage} {date}," if date else "", f"em. {roman(emerged)}")
    return tuple(LabelPart(part) for part in said if part)


def _who(label: Mapping[str, str]) -> tuple[LabelPart, ...]:
    people = [p.strip() for p in re.split(r"\s*[|;]\s*", label.get("recordedBy", "")) if p.strip()]
    if not people:
        return ()
    full, short = " & ".join(people), " & ".join(map(initialled, people))
    return (LabelPart(f"leg. {full}", f"leg. {short}", FORENAMES),)


def _host(label: Mapping[str, str]) -> tuple[LabelPart, ...]:
    host = host_of(label)
    if not host:
        return ()
    known = label.get("host_seen", "")
    return (LabelPart(f"{'ex' if known in ('fed', 'bred') else 'on'} {host}"),)


def host_of(label: Mapping[str, str]) -> str:
    """Return the host plant without the word "host:" that Darwin Core puts before it."""
    for part in label.get("associatedTaxa", "").split("|"):
        name = re.sub(r'^\s*(?:host(?:\s*plant)?\s*:)\s*|["]', "", part, flags=re.IGNORECASE)
        if name.strip():
            return name.strip().strip('"')
    return ""


def roman(event: str) -> str:
    """Return an ISO 8601 date or interval as a label writes it: "12.VI.2027".

    The text must be a date that was checked before; ValueError and IndexError are for others.
    """
    start, _, end = event.partition("/")
    if not end:
        return _roman_day(start)
    if len(end) < len(start):
        end = start[: len(start) - len(end)] + end
    first, last = start[:10].split("-"), end[:10].split("-")
    if len(first) == len(last) == 3 and first[0] == last[0]:
        if first == last:
            return _roman_day(start)
        if first[1] == last[1]:
            return f"{int(first[2])}.-{_roman_day(end)}"
        return f"{_roman_day(start).removesuffix(first[0])}-{_roman_day(end)}".replace("--", "-")
    return f"{_roman_day(start)}-{_roman_day(end)}"


def _roman_day(iso: str) -> str:
    parts = iso[:10].split("-")
    numbers = [int(p) for p in parts]
    year = parts[0]
    if len(numbers) == 1:
        return year
    month = ROMAN[numbers[1] - 1]
    return f"{month}.{year}" if len(numbers) == 2 else f"{numbers[2]}.{month}.{year}"


def _without_notes(text: str) -> str:
    return re.sub(r"\s*\([^)]*\)", "", text).strip() or text


def initialled(person: str) -> str:
    """Return a collector with initials for forenames: "W. Tallow"; bracketed notes are left out."""
    words = _without_notes(person).split()
    if len(words) < 2:
        return " ".join(words)
    return " ".join([*(w if w.endswith(".") else f"{w[0]}." for w in words[:-1]), words[-1]])


# Common practice, no source.
SHORTER: Mapping[str, str] = {
    "Island": "I.", "Islands": "Is.", "Mountain": "Mt.", "Mountains": "Mts.", "River": "R.",
    "Lake": "L.", "National Park": "N.P.", "Nature Reserve": "N.R.", "Saint": "St.",
    "near": "nr", "north": "N", "south": "S", "east": "E", "west": "W", "North": "N.",
    "South": "S.", "East": "E.", "West": "W.", "Province": "Prov.", "District": "Distr.",
}  # fmt: skip
"""Words in the names of places that a label may shorten where nothing else makes it fit."""


def abbreviated(place: str) -> str:
    """Return a place with the usual words shortened, without notes in brackets."""
    place = _without_notes(place)
    for word in sorted(SHORTER, key=len, reverse=True):
        place = re.sub(rf"\b{word}\b", SHORTER[word], place)
    return place.replace("..", ".")


def name_label(specimen: Specimen) -> tuple[LabelPart, ...]:
    """Return the second label: name and sex, then who determined it, and the year."""
    label = specimen.label
    name = (label.get("scientificName") or specimen.taxon or "").strip()
    parts = []
    if name:
        parts.append(LabelPart(name))
    if sign := sex_sign(specimen.sex):
        parts.append(LabelPart(sign))
    if by := label.get("identifiedBy", "").strip():
        year = label.get("dateIdentified", "")[:4]
        full, short = (f"det. {who} {year}".strip() for who in (by, initialled(by)))
        parts.append(LabelPart(full, short, FORENAMES))
    return tuple(parts) if name else ()


def sex_sign(sex: str | None) -> str:
    """Return the sign for a sex, or the word itself where it is neither."""
    text = (sex or "").strip()
    return _SEX.get(text.casefold(), text)


def number_label(specimen: Specimen) -> tuple[LabelPart, ...]:
    """Return the third label: the collection and its number."""
    label = specimen.label
    number = label.get("catalogNumber", "").strip()
    return (LabelPart(number),) if number else ()
