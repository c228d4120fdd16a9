"""The ways in which people write a list: what they put above, between and around its rows."""

from __future__ import annotations

from dataclasses import dataclass, replace

COLUMNS = ("specimen", "family", "taxon", "body_mm", "wingspan_mm", "frozen_on", "box", "priority")
ENGLISH = ("No.", "Family", "Species", "Thorax", "Wingspan", "Frozen on", "Box no", "priority")
GERMAN = ("Nr.", "Familie", "Art", "Körper", "Spannweite", "eingefroren am", "Dose", "priority")
UNCLEAR = ("Code", "Fam.", "Name", "Breite", "Span", "Gefroren", "Fach", "Urgency")
MANY = (
    ("Nr", "Lfd. Nr.", "Specimen no.", "Belegnummer", "ID"),
    ("Familie", "Fam.", "FAMILY"),
    ("Art", "Species", "Artname", "Wissenschaftlicher Name", "Latin name"),
    ("Thorax (mm)", "Körperbreite", "body width", "Dicke", "Thickness (mm)"),
    ("Spannweite (mm)", "Wing span", "Flügelspannweite", "WINGSPAN [mm]"),
    ("eingefroren", "Gefroren am", "Frozen", "date frozen", "in freezer since", "TK seit"),
    ("Dose", "Box", "Gefrierdose", "Tray", "Container", "Dosen-Nr.", "Schachtel"),
    ("priority",),
)
"""Titles of which each list takes one a column."""


@dataclass(frozen=True)
class Dialect:
    """How a list is written."""

    separator: str = ","
    decimal: str = "."
    dates: str = "iso"
    titles: tuple[str, ...] = COLUMNS
    many_titles: bool = False
    encoding: str = "utf-8"
    newline: str = "\n"
    quote_all: bool = False
    title_rows: int = 0
    empty_lines: bool = False
    units: bool = False
    about: bool = False
    sep_line: bool = False
    workbook: str = ""
    """`typed` or `text`: cells of a workbook; empty for a text."""
    shuffled: bool = False
    """Whether the columns stand in an order of the list's own."""
    extra: tuple[str, ...] = ()
    """Titles of columns that have no place here."""
    empty_columns: int = 0
    """Columns that a spreadsheet wrote beyond the last one."""
    blanks: str = ""
    """What stands around each cell."""
    blank_first: bool = False
    capitals: bool = False
    ids: str = "Q-{}"
    span: str = ""
    """`range` or `cm`: how wingspans are written; empty in millimetres."""
    notes_sheet: bool = False
    merged_title: bool = False


def _dialects() -> dict[str, Dialect]:
    semi = Dialect(separator=";", decimal=",", dates="d.m.Y")
    german = replace(semi, titles=GERMAN)
    return {
        "plain": Dialect(),
        "crlf": Dialect(newline="\r\n"),
        "old line ends": Dialect(newline="\r"),
        "byte order mark": Dialect(encoding="utf-8-sig"),
        "utf-16": Dialect(encoding="utf-16"),
        "quoted": Dialect(quote_all=True),
        "comma, decimal comma quoted": Dialect(decimal=",", quote_all=True),
        "tabs": Dialect(separator="\t"),
        "bars": Dialect(separator="|"),
        "tabs, month first": Dialect(separator="\t", dates="m/d/Y"),
        "month first": Dialect(dates="m/d/Y"),
        "day first": Dialect(dates="d/m/Y"),
        "roman months": Dialect(dates="roman"),
        "empty lines": Dialect(empty_lines=True),
        "semicolons": semi,
        "semicolons, point": replace(semi, decimal="."),
        "semicolons, iso": replace(semi, dates="iso"),
        "semicolons, sep line": replace(semi, sep_line=True),
        "semicolons, utf-16": replace(semi, encoding="utf-16"),
        "workbook": Dialect(workbook="typed"),
        "workbook of texts": Dialect(workbook="text"),
        "workbook of German texts": replace(semi, workbook="text"),
        "English titles": Dialect(titles=ENGLISH),
        "English, quoted": Dialect(titles=ENGLISH, quote_all=True, dates="d/m/Y"),
        "English, month first": Dialect(titles=ENGLISH, dates="m/d/Y"),
        "English workbook": Dialect(titles=ENGLISH, workbook="typed"),
        "English workbook, title": Dialect(titles=ENGLISH, workbook="typed", title_rows=2),
        "English, units": Dialect(titles=ENGLISH, units=True),
        "German titles": german,
        "German, cp1252": replace(german, encoding="cp1252"),
        "German, title rows": replace(german, title_rows=2, empty_lines=True),
        "German, units": replace(german, units=True),
        "German, about": replace(german, about=True, units=True),
        "German, two digits of the year": replace(german, dates="d.m.y"),
        "German workbook": replace(german, workbook="typed", title_rows=1, empty_lines=True),
        "German workbook of texts": replace(german, workbook="text", units=True),
        "many titles": Dialect(many_titles=True),
        "many titles, semicolons": replace(semi, many_titles=True),
        "many titles, quoted": Dialect(many_titles=True, quote_all=True, dates="d/m/Y"),
        "many titles, title rows": replace(semi, many_titles=True, title_rows=2),
        "many titles, workbook": Dialect(many_titles=True, workbook="typed", title_rows=1),
        "many titles, workbook of texts": replace(semi, many_titles=True, workbook="text"),
        "unclear titles": Dialect(titles=UNCLEAR),
        "an order of its own": Dialect(shuffled=True),
        "German, an order of its own": replace(german, shuffled=True),
        "workbook, an order of its own": Dialect(workbook="typed", shuffled=True),
        "columns without a place": Dialect(titles=ENGLISH, extra=("Notes", "Locality")),
        "German, columns without a place": replace(german, extra=("Bemerkung", "Fundort")),
        "empty columns": replace(german, empty_columns=3),
        "empty columns, commas": Dialect(empty_columns=2),
        "blanks around": Dialect(blanks=" "),
        "hard blanks around": replace(german, blanks="\u00a0", units=True),
        "an empty line above": replace(german, blank_first=True),
        "capitals": replace(german, capitals=True),
        "utf-16, tabs": replace(semi, separator="\t", encoding="utf-16"),
        "tabs, decimal commas": replace(german, separator="\t"),
        "latin-1, old line ends": replace(german, encoding="latin-1", newline="\r"),
        "numbers for ids": Dialect(ids="{}"),
        "numbers for ids, workbook": Dialect(ids="{}", workbook="typed", titles=GERMAN),
        "ids with leading zeros": replace(german, ids="{:04d}"),
        "day, month in words, year": Dialect(dates="d month Y"),
        "German months in words": replace(german, dates="d. Monat Y"),
        "months shortened": Dialect(dates="d-mon-Y"),
        "year, slashes": Dialect(dates="Y/m/d"),
        "days with a dash": replace(semi, dates="d-m-Y"),
        "days of one digit": replace(german, dates="d.m.Y short"),
        "dates with a time": Dialect(dates="iso time"),
        "wingspans in centimetres": replace(german, span="cm"),
        "English, wingspans in centimetres": Dialect(titles=ENGLISH, span="cm"),
        "wingspans as ranges": Dialect(titles=ENGLISH, span="range"),
        "a sheet with notes": Dialect(titles=ENGLISH, workbook="typed", notes_sheet=True),
        "a merged title": Dialect(workbook="typed", title_rows=1, merged_title=True),
        "workbook, empty columns": Dialect(workbook="typed", empty_columns=4),
    }


DIALECTS = _dialects()
