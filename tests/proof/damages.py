"""What happens to lists: each damage makes a wrong value, or takes one away."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from proof.dialects import COLUMNS
from proof.lists import Sheet, date_text

BODY, SPAN, DATE, PRIORITY = (
    COLUMNS.index(name) for name in ("body_mm", "wingspan_mm", "frozen_on", "priority")
)
Damage = Callable[[Sheet], bool]
"""Damages a list; False where that cannot happen to such a list."""

DAMAGES: dict[str, Damage] = {}


def damage(name: str) -> Callable[[Damage], Damage]:
    def note(does: Damage) -> Damage:
        DAMAGES[name] = does
        return does

    return note


def set_cell(sheet: Sheet, place: int, value: Any) -> bool:
    sheet.rows[sheet.any_row()][place] = value
    return True


@damage("empty cells beyond the header")
def _overflow(sheet: Sheet) -> bool:
    sheet.rows[sheet.any_row()] += ["", ""]
    return not sheet.dialect.workbook


@damage("a filled cell beyond the header")
def _beyond(sheet: Sheet) -> bool:
    sheet.rows[sheet.any_row()].append("5")
    return True


@damage("a cell left out")
def _short(sheet: Sheet) -> bool:
    del sheet.rows[sheet.any_row()][sheet.dice.choice((1, 3, 4))]
    return True


@damage("a decimal comma among separating commas")
def _comma(sheet: Sheet) -> bool:
    if sheet.dialect.separator != "," or sheet.dialect.workbook:
        return False
    at = sheet.any_row()
    cells = [str(cell) for cell in sheet.rows[at]]
    cells[BODY] = "5,5"
    sheet.raw_rows[at] = ",".join(cells)
    return True


@damage("body and wingspan swapped in one row")
def _swapped_cells(sheet: Sheet) -> bool:
    row = sheet.rows[sheet.any_row()]
    row[BODY], row[SPAN] = row[SPAN], row[BODY]
    return not sheet.dialect.span  # in centimetres the two may make an insect as good


@damage("a body in centimetres without a word")
def _centimetres(sheet: Sheet) -> bool:
    if sheet.dialect.workbook == "typed":
        return set_cell(sheet, BODY, 0.4)
    return set_cell(sheet, BODY, f"0{sheet.dialect.decimal}4")


@damage("nan for a number")
def _nan(sheet: Sheet) -> bool:
    return set_cell(sheet, BODY, "nan")


@damage("an error of the spreadsheet")
def _error(sheet: Sheet) -> bool:
    return set_cell(sheet, SPAN, "#N/A")


@damage("a letter for a digit")
def _letter(sheet: Sheet) -> bool:
    return set_cell(sheet, SPAN, "4O")


@damage("a unit of another quantity")
def _unit(sheet: Sheet) -> bool:
    return set_cell(sheet, BODY, "4 g")


@damage("the other decimal sign in one row")
def _sign(sheet: Sheet) -> bool:
    if sheet.dialect.workbook == "typed":
        return False
    other = "," if sheet.dialect.decimal == "." else "."
    if not any(sheet.dialect.decimal in str(row[BODY]) for row in sheet.rows):
        return False
    return set_cell(sheet, BODY, f"4{other}5")


@damage("thousands")
def _thousands(sheet: Sheet) -> bool:
    return set_cell(sheet, SPAN, "1.055" if sheet.dialect.decimal == "," else "1,055")


@damage("half of the dates turned by a spreadsheet of the other country")
def _turned(sheet: Sheet) -> bool:
    if sheet.dialect.dates not in ("d.m.Y", "d/m/Y") or sheet.dialect.workbook == "typed":
        return False
    turned = False
    for insect, row in zip(sheet.truth, sheet.rows, strict=True):
        day = insect.frozen_on
        if day.day <= 12 and day.day != day.month:
            swapped = dt.date(day.year, day.day, day.month)
            row[DATE] = swapped if sheet.dialect.workbook else swapped.isoformat()
            turned = True
    return turned


@damage("a date in the other order")
def _other_order(sheet: Sheet) -> bool:
    if sheet.dialect.dates not in ("d.m.Y", "d/m/Y", "m/d/Y"):
        return False
    if sheet.dialect.workbook == "typed":
        return False
    sign = "." if "." in sheet.dialect.dates else "/"
    wrong = ["23", "05", "2026"] if sheet.dialect.dates == "m/d/Y" else ["05", "23", "2026"]
    return set_cell(sheet, DATE, sign.join(wrong))


@damage("a date as a number of days")
def _serial(sheet: Sheet) -> bool:
    return set_cell(sheet, DATE, 46513 if sheet.dialect.workbook == "typed" else "46513")


@damage("a year that slipped")
def _slipped(sheet: Sheet) -> bool:
    return set_cell(sheet, DATE, date_text(dt.date(2206, 5, 14), "iso"))


@damage("a day that is not in the calendar")
def _no_day(sheet: Sheet) -> bool:
    return set_cell(sheet, DATE, "2026-02-30")


@damage("a row that stands twice, with another size")
def _twice(sheet: Sheet) -> bool:
    row = list(sheet.rows[sheet.any_row()])
    row[SPAN] = sheet.rows[0][SPAN]
    sheet.rows.append(row)
    return True


@damage("an id left empty")
def _no_id(sheet: Sheet) -> bool:
    return set_cell(sheet, 0, "")


@damage("another list below, its header in the middle")
def _joined(sheet: Sheet) -> bool:
    sheet.rows.insert(len(sheet.rows) // 2, list(sheet.header))
    return True


@damage("another list below, its columns in another order")
def _reordered(sheet: Sheet) -> bool:
    half = len(sheet.rows) // 2
    order = list(range(len(COLUMNS)))
    order[BODY], order[SPAN] = order[SPAN], order[BODY]
    for at in range(half, len(sheet.rows)):
        sheet.rows[at] = [sheet.rows[at][place] for place in order]
    sheet.rows.insert(half, [sheet.header[place] for place in order])
    return True


@damage("a title that stands twice")
def _title_twice(sheet: Sheet) -> bool:
    sheet.header[BODY] = sheet.header[SPAN]
    return True


@damage("a title lost")
def _title_lost(sheet: Sheet) -> bool:
    sheet.header[BODY] = ""
    return True


@damage("a quotation mark that does not close")
def _quote(sheet: Sheet) -> bool:
    if sheet.dialect.workbook:
        return False
    at = sheet.any_row()
    cells = [str(cell) for cell in sheet.rows[at]]
    cells[2] = '"' + cells[2]
    sheet.raw_rows[at] = sheet.dialect.separator.join(cells)
    return True


@damage("the end cut off")
def _cut(sheet: Sheet) -> bool:
    if sheet.dialect.workbook:
        sheet.after_bytes.append(lambda raw: raw[: len(raw) * 2 // 3])
    else:
        sheet.after.append(lambda text: text[: text.rindex(sheet.dialect.separator)])
    return True


@damage("bytes of no text")
def _bytes(sheet: Sheet) -> bool:
    sheet.after_bytes.append(
        lambda raw: raw[: len(raw) // 2] + b"\0\xff\xde\0" + raw[len(raw) // 2 :]
    )
    return True


@damage("another separator in one row")
def _separator(sheet: Sheet) -> bool:
    if sheet.dialect.workbook:
        return False
    other = ";" if sheet.dialect.separator != ";" else "|"
    at = sheet.any_row()
    sheet.raw_rows[at] = other.join(str(cell) for cell in sheet.rows[at])
    return True


@damage("a priority out of its range")
def _priority(sheet: Sheet) -> bool:
    return set_cell(sheet, PRIORITY, 12)
