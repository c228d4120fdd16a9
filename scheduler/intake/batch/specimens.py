"""From rows of specimens.csv to specimens; rows that contradict themselves are reported."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date

from scheduler.drying.fit import size_doubt, size_of
from scheduler.intake.batch.cells import first_day
from scheduler.intake.batch.columns import LABEL_TERMS, SPECIMENS
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.ids import Ids
from scheduler.intake.batch.rows import Row
from scheduler.intake.batch.sheets import Sheet
from scheduler.rulebook import Rulebook
from scheduler.rulebook.kin import ANY, Kin
from scheduler.words import wording
from scheduler.words.records import Specimen

STOUTEST_SHARE = 0.5
"""A thorax wider than this share of the wingspan is a slip of unit or column.

Common practice, no source: the stoutest bees and cicadas reach about a third.
"""

HOWS_NAMED = 3
"""So many names or ids are named in one note."""

THINNEST_SHARE = 0.02
"""A thorax narrower than this share of the wingspan is a slip of unit.

Common practice, no source: the slightest geometers and plume moths have about a thirtieth.
"""

YEARS_IN_FREEZER = 10
"""A person is asked about a specimen frozen longer ago: the year may be a slip (memory)."""

_SIZES = ("body_mm", "size", "forewing_mm", "wingspan_mm", "groove_mm")
_ORDERED = (
    ("available", "spoils_by", "is before it is available"),
    ("available", "wanted_by", "is before it is available"),
)


def read_specimens(
    sheet: Sheet, ids: Ids, rules: Rulebook, findings: Findings, today: date | None
) -> tuple[Specimen, ...]:
    """Return the specimens of the sheet; report rows that contradict themselves or the calendar.

    A specimen that the record knows may leave out what is recorded, such as its size. Without
    `today` no date is checked against the calendar.
    """
    specimens, new = [], []
    if today is not None:
        _check_calendar(sheet.rows, today, findings)
    for row in sheet.rows:
        _check_sizes(row, findings)
        _check_dates(row, findings)
        _check_place(row, findings)
        names = ids.names_of(row, "specimen") if "specimen" in row.values else ()
        for name in filter(None, (ids.resolve("specimen", n) for n in names)):
            specimen = _specimen(name, row)
            specimens.append(specimen)
            if not ids.was_known(name):
                new.append(specimen)
                _check_some_size(specimen, row, rules, findings)
    _note_families(new, rules, findings)
    _note_sizes(new, rules, findings)
    return tuple(specimens)


def _specimen(name: str, row: Row) -> Specimen:
    # A label term is printed as it is written: 55.870 keeps its nought.
    label = {term: _on_paper(term, row) for term in LABEL_TERMS if term in row.values}
    own = {key: value for key, value in row.values.items() if key not in {*label, "count"}}
    if "scientificName" in label:
        own.setdefault("taxon", label["scientificName"])
    if row.values.get("count", 1) > 1:
        own.setdefault("lot", row.values["specimen"])  # one row, one label: a brood
    return Specimen(**{**own, "specimen": name, "label": label})


def _check_some_size(specimen: Specimen, row: Row, rules: Rulebook, findings: Findings) -> None:
    # A size that is given but at fault is reported in its own column.
    if not any(size in row.text for size in _SIZES) and size_of(specimen, rules) is None:
        reason = "there is nothing to judge the size by"
        remedy = "Give body_mm, or wingspan_mm, forewing_mm, or a size such as medium"
        findings.problem(SPECIMENS.file, row.number, "body_mm", None, reason, remedy)


def _on_paper(term: str, row: Row) -> str:
    value = row.values[term]
    return value if isinstance(value, str) else row.plain[term]


def _check_sizes(row: Row, findings: Findings) -> None:
    body, wingspan = row.values.get("body_mm"), row.values.get("wingspan_mm")
    forewing = row.values.get("forewing_mm")
    if wingspan is not None and forewing is not None and forewing >= wingspan:
        _problem(row, "forewing_mm", f"is not shorter than the wingspan, {wingspan:g} mm", findings)
    if wingspan is not None and body is not None and body > STOUTEST_SHARE * wingspan:
        reason = f"is more than half of the wingspan, {wingspan:g} mm"
        _problem(row, "body_mm", reason, findings)
    elif wingspan is not None and body is not None and body < THINNEST_SHARE * wingspan:
        _problem(
            row, "body_mm", f"is less than a fiftieth of the wingspan, {wingspan:g} mm", findings
        )


def _check_dates(row: Row, findings: Findings) -> None:
    for earlier, later, reason in _ORDERED:
        first, second = row.values.get(earlier), row.values.get(later)
        if first is not None and second is not None and second < first:
            _problem(row, later, f"{reason}, {first}", findings)
    frozen_on, event = row.values.get("frozen_on"), row.values.get("eventDate")
    began = first_day(event) if event else None
    if frozen_on is not None and began is not None and frozen_on < began:
        _problem(row, "frozen_on", f"is before it was collected, {began}", findings)
    if frozen_on is not None and row.values.get("state") == "fresh":
        _problem(row, "state", f"is fresh, yet it was frozen on {frozen_on}", findings)


def _check_calendar(rows: Iterable[Row], today: date, findings: Findings) -> None:
    """Report what was frozen or collected on a day still to come; ask about what is very old.

    A specimen that is available only later is planned ahead: its days may lie between now and then.
    """
    old = []
    for row in rows:
        frozen_on, event = row.values.get("frozen_on"), row.values.get("eventDate")
        for column, day in (("frozen_on", frozen_on), ("eventDate", event and first_day(event))):
            if day and day > max(today, row.values.get("available") or today):
                remedy = f"Correct it, or the clock: today is {today}"
                text = row.text.get(column)
                findings.problem(
                    SPECIMENS.file, row.number, column, text, "is still to come", remedy
                )
        if frozen_on and frozen_on.year < today.year - YEARS_IN_FREEZER:
            old.append(f"row {row.number}: frozen {today.year - frozen_on.year} years ago")
    if old:
        findings.ask_once(SPECIMENS.file, "old", old)


def _check_place(row: Row, findings: Findings) -> None:
    for column, other in (
        ("decimalLatitude", "decimalLongitude"),
        ("decimalLongitude", "decimalLatitude"),
    ):
        if column in row.text and other not in row.text:
            remedy = "Give both coordinates, or neither"
            findings.problem(SPECIMENS.file, row.number, other, None, "is empty", remedy)
    low = row.values.get("minimumElevationInMeters")
    high = row.values.get("maximumElevationInMeters")
    if low is not None and high is not None and high < low:
        _problem(row, "maximumElevationInMeters", f"is below the minimum, {low:g} m", findings)


def _problem(row: Row, column: str, reason: str, findings: Findings) -> None:
    text, remedy = row.text.get(column), "Correct whichever of the two is wrong"
    findings.problem(SPECIMENS.file, row.number, column, text, reason, remedy)


def _note_sizes(specimens: Iterable[Specimen], rules: Rulebook, findings: Findings) -> None:
    """Note bodies for which no board has a wide enough groove; the size is still believed."""
    for specimen in specimens:
        size = size_of(specimen, rules)
        question = "" if size is None else size_doubt(size, rules)
        if question:
            findings.note(f"{specimen.specimen}: {question}", SPECIMENS.file)


def _nameless(found: Sequence[tuple[Specimen, Kin]]) -> str:
    """Return in words the specimens without family, group and name, by their ids."""
    ids = [s.specimen for s, _ in found]
    more = f" and {len(ids) - HOWS_NAMED} more" if len(ids) > HOWS_NAMED else ""
    return f"{wording.listed(ids[:HOWS_NAMED])}{more}, without family, group or name"


def _note_families(specimens: Iterable[Specimen], rules: Rulebook, findings: Findings) -> None:
    """Note once by which names families were found, what has none, and what disagrees."""
    kin = [(s, rules.kin(s)) for s in specimens]
    unlisted: dict[tuple[str, ...], list[tuple[Specimen, Kin]]] = {}
    for s, k in kin:
        if k.row.family == ANY:
            told = tuple(filter(None, (s.family, s.group)))
            unlisted.setdefault(told or (s.taxon or "",), []).append((s, k))
    for names, of_name in unlisted.items():
        near = dict.fromkeys(
            name for _, k in of_name for word in k.unknown for name in rules.kinship.nearest(word)
        )
        guess = f". Did you mean {' or '.join([*near][:3])}?" if near else ""
        which = f'"{" ".join(names)}" ({len(of_name)})' if any(names) else _nameless(of_name)
        findings.note(
            f"{which}: no family is known of it, so it counts as any insect{guess}",
            SPECIMENS.file,
        )
    found: dict[str, Counter[str]] = {}
    for _, k in kin:
        if k.how and not k.how.startswith("by the group") and k.row.family != ANY:
            found.setdefault(k.row.family, Counter())[k.how] += 1
    for name, hows in found.items():
        said = wording.listed([how for how, _ in hows.most_common(HOWS_NAMED)])
        more = f" and {len(hows) - HOWS_NAMED} more names" if len(hows) > HOWS_NAMED else ""
        findings.note(f"{hows.total()} counted as {name}: {said}{more}", SPECIMENS.file)
    for s, k in kin:
        other = rules.kinship.by_genus(s.taxon)
        if s.family and not k.how and other is not None and other.row is not k.row:
            findings.note(
                f"{s.specimen}: family {s.family}, but {other.said}: the family counts",
                SPECIMENS.file,
            )
