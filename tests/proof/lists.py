"""Lists of specimens written from known truth, in many dialects and with many kinds of damage.

Everything is invented and seeded: `written(seed, ...)` makes the same file every time.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import openpyxl  # type: ignore[import-untyped]

from proof.dialects import COLUMNS, MANY, Dialect

TODAY = dt.datetime(2027, 5, 5, 18, tzinfo=dt.UTC)

_TAXA = (
    ("Sphingidae", "Sphinx ligustri", 9.0, 95),
    ("Noctuidae", "Noctua pronuba", 6.5, 55),
    ("Geometridae", "Biston betularia", 5.5, 48),
    ("Nymphalidae", "Aglais io", 4.0, 55),
    ("Lycaenidae", "Polyommatus icarus", 2.0, 31),
)
_EXTRA = {
    "Notes": "wings torn, kept anyway",
    "Bemerkung": "Flügel verletzt",
    "Locality": "Lower meadow (invented)",
    "Fundort": "Obere Wiese (erfunden)",
}
_MONTHS = (
    "January February March April May June July August September October November December"
).split()
_MONATE = (
    "Januar Februar März April Mai Juni Juli August September Oktober November Dezember"
).split()
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


def insects(dice: random.Random, ids: str) -> list[Insect]:
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
                ids.format(n + 1),
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
    truth = insects(dice, dialect.ids)
    rows = [[_cell(getattr(i, column), column, dialect) for column in COLUMNS] for i in truth]
    titles = [dice.choice(words) for words in MANY] if dialect.many_titles else dialect.titles
    if dialect.span == "cm":
        titles = [
            t if c != "wingspan_mm" else f"{t} (cm)" for t, c in zip(titles, COLUMNS, strict=True)
        ]
    titles = [title.upper() if dialect.capitals else title for title in titles]
    return Sheet(truth, dialect, dice, titles, rows)


def _laid(sheet: Sheet, row: list[Any]) -> list[Any]:
    """A row as it stands in the file: its columns in the list's order, others beside them."""
    dialect, cells = sheet.dialect, list(row)
    if row is not sheet.header and not any(row is other for other in sheet.rows):
        return cells
    if dialect.shuffled:
        order = list(range(len(COLUMNS)))
        random.Random(sheet.truth[0].taxon).shuffle(order)
        cells = [cells[at] for at in order if at < len(cells)] + cells[len(COLUMNS) :]
    header = row is sheet.header
    for title in dialect.extra if len(cells) >= len(COLUMNS) else ():
        cells.append(title if header else _EXTRA[title])
    if dialect.blanks and not header:
        cells = [f"{dialect.blanks}{cell}{dialect.blanks}" for cell in cells]
    return cells + [""] * dialect.empty_columns


def _cell(value: Any, column: str, dialect: Dialect) -> Any:
    if dialect.workbook == "typed":
        return value
    if isinstance(value, dt.date):
        return date_text(value, dialect.dates)
    if not isinstance(value, float):
        return str(value)
    if column == "wingspan_mm" and dialect.span == "range":
        return f"{value - 4:g}-{value:g}"
    times = 0.1 if column == "wingspan_mm" and dialect.span == "cm" else 1
    text = f"{value * times:g}".replace(".", dialect.decimal)
    unit = " mm" if dialect.units else ""
    return f"{'~' if dialect.about and column == 'wingspan_mm' else ''}{text}{unit}"


def date_text(day: dt.date, form: str) -> str:
    """A date as the dialect writes it."""
    if form == "roman":
        return f"{day.day}.{_ROMAN[day.month - 1]}.{day.year}"
    if form == "d month Y":
        return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"
    if form == "d. Monat Y":
        return f"{day.day}. {_MONATE[day.month - 1]} {day.year}"
    if form == "d-mon-Y":
        return f"{day.day:02d}-{_MONTHS[day.month - 1][:3]}-{day.year}"
    if form == "d.m.Y short":
        return f"{day.day}.{day.month}.{day.year}"
    formats = {
        "iso": "%Y-%m-%d",
        "d.m.Y": "%d.%m.%Y",
        "d/m/Y": "%d/%m/%Y",
        "m/d/Y": "%m/%d/%Y",
        "d.m.y": "%d.%m.%y",
        "Y/m/d": "%Y/%m/%d",
        "d-m-Y": "%d-%m-%Y",
        "iso time": "%Y-%m-%d 00:00:00",
    }
    return day.strftime(formats[form])


def write(sheet: Sheet, folder: Path) -> Path:
    """Write the list into a folder; its name tells nothing but its kind."""
    above = [["Freezer list (invented)"], ["kept by nobody"]][: sheet.dialect.title_rows]
    blank: list[list[Any]] = [[]] if sheet.dialect.blank_first else []
    lines: list[list[Any]] = [*blank, *above, sheet.header]
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
            writer.writerow(_laid(sheet, line))
    return out.getvalue()


def _write_workbook(lines: list[list[Any]], folder: Path, sheet: Sheet) -> Path:
    book = openpyxl.Workbook()
    page = book.active
    for line in lines:
        page.append(_laid(sheet, line))
    if sheet.dialect.merged_title:
        page.merge_cells("A1:D1")
    if sheet.dialect.notes_sheet:
        book.create_sheet("Remarks").append(["Ask for more pins (invented)"])
    path = folder / "specimens.xlsx"
    book.save(path)
    if sheet.after_bytes:
        raw = path.read_bytes()
        for damage in sheet.after_bytes:
            raw = damage(raw)
        path.write_bytes(raw)
    return path
