"""Lists of specimens written from known truth, in many dialects and with many kinds of damage.

Everything is invented and seeded: `written(seed, ...)` makes the same file every time.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

import openpyxl  # type: ignore[import-untyped]

TODAY = dt.datetime(2027, 5, 5, 18, tzinfo=dt.UTC)

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
_TAXA = (
    ("Sphingidae", "Sphinx ligustri", 9.0, 95),
    ("Noctuidae", "Noctua pronuba", 6.5, 55),
    ("Geometridae", "Biston betularia", 5.5, 48),
    ("Nymphalidae", "Aglais io", 4.0, 55),
    ("Lycaenidae", "Polyommatus icarus", 2.0, 31),
)
_ROMAN = "I II III IV V VI VII VIII IX X XI XII".split()


@dataclass(frozen=True)
class Insect:
    """One specimen as it truly is."""

    specimen: str
    family: str
    taxon: str
    body_mm: float
    wingspan_mm: float
    frozen_on: dt.date
    box: str
    priority: int


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
    }


DIALECTS = _dialects()


@dataclass
class Sheet:
    """A list about to be written: the truth, its cells by row, and what a damage may change."""

    truth: list[Insect]
    dialect: Dialect
    dice: random.Random
    header: list[str]
    rows: list[list[Any]]
    after: list[Callable[[str], str]] = field(default_factory=list)
    after_bytes: list[Callable[[bytes], bytes]] = field(default_factory=list)
    raw_rows: dict[int, str] = field(default_factory=dict)

    def any_row(self) -> int:
        """A row that is not the first."""
        return self.dice.randrange(1, len(self.rows))


def insects(dice: random.Random) -> list[Insect]:
    """Some specimens; among their dates one shows which part is the day."""
    count = dice.randint(8, 30)
    found = []
    for n in range(count):
        family, taxon, body, span = dice.choice(_TAXA)
        day = dt.date(2026, 3, 1) + dt.timedelta(days=dice.randrange(400))
        if n == 0:
            day = dt.date(2026, dice.randint(1, 12), dice.randint(13, 28))
        share = dice.uniform(0.9, 1.1)
        found.append(
            Insect(
                f"Q-{n + 1}",
                family,
                taxon,
                round(body * share, 1),
                float(round(span * share)),
                day,
                f"Dose {dice.randint(1, 9)}",
                dice.randint(1, 10),
            )
        )
    return found


def sheet_of(seed: int, dialect: Dialect) -> Sheet:
    """A list, its cells written in the dialect."""
    dice = random.Random(seed)
    truth = insects(dice)
    rows = [[_cell(getattr(i, column), column, dialect) for column in COLUMNS] for i in truth]
    titles = [dice.choice(words) for words in MANY] if dialect.many_titles else dialect.titles
    return Sheet(truth, dialect, dice, list(titles), rows)


def _cell(value: Any, column: str, dialect: Dialect) -> Any:
    if dialect.workbook == "typed":
        return value
    if isinstance(value, dt.date):
        return date_text(value, dialect.dates)
    if not isinstance(value, float):
        return str(value)
    text = f"{value:g}".replace(".", dialect.decimal)
    unit = " mm" if dialect.units else ""
    return f"{'~' if dialect.about and column == 'wingspan_mm' else ''}{text}{unit}"


def date_text(day: dt.date, form: str) -> str:
    """A date as the dialect writes it."""
    if form == "roman":
        return f"{day.day}.{_ROMAN[day.month - 1]}.{day.year}"
    formats = {
        "iso": "%Y-%m-%d",
        "d.m.Y": "%d.%m.%Y",
        "d/m/Y": "%d/%m/%Y",
        "m/d/Y": "%m/%d/%Y",
        "d.m.y": "%d.%m.%y",
    }
    return day.strftime(formats[form])


def write(sheet: Sheet, folder: Path) -> Path:
    """Write the list into a folder; its name tells nothing but its kind."""
    above = [["Freezer list (invented)"], ["kept by nobody"]][: sheet.dialect.title_rows]
    lines: list[list[Any]] = [*above, sheet.header]
    for n, row in enumerate(sheet.rows):
        lines += [[]] if sheet.dialect.empty_lines and n % 7 == 3 else []
        lines.append(row)
    if sheet.dialect.workbook:
        return _write_workbook(lines, folder, sheet)
    text = _text(lines, sheet)
    for change in sheet.after:
        text = change(text)
    raw = text.replace("\n", sheet.dialect.newline).encode(sheet.dialect.encoding)
    for damage in sheet.after_bytes:
        raw = damage(raw)
    path = folder / "specimens.csv"
    path.write_bytes(raw)
    return path


def _text(lines: list[list[Any]], sheet: Sheet) -> str:
    out = io.StringIO()
    quoting: Literal[0, 1] = csv.QUOTE_ALL if sheet.dialect.quote_all else csv.QUOTE_MINIMAL
    writer = csv.writer(
        out, delimiter=sheet.dialect.separator, lineterminator="\n", quoting=quoting
    )
    if sheet.dialect.sep_line:
        out.write(f"sep={sheet.dialect.separator}\n")
    for line in lines:
        at = next((n for n, row in enumerate(sheet.rows) if row is line), -1)
        if at in sheet.raw_rows:
            out.write(sheet.raw_rows[at] + "\n")
        else:
            writer.writerow(line)
    return out.getvalue()


def _write_workbook(lines: list[list[Any]], folder: Path, sheet: Sheet) -> Path:
    book = openpyxl.Workbook()
    page = book.active
    for line in lines:
        page.append(line)
    path = folder / "specimens.xlsx"
    book.save(path)
    if sheet.after_bytes:
        raw = path.read_bytes()
        for damage in sheet.after_bytes:
            raw = damage(raw)
        path.write_bytes(raw)
    return path
