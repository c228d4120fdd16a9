"""Slips of a hand or a spreadsheet in a list: each damage makes a wrong value or loses one."""

from __future__ import annotations

import datetime as dt

from proof.damages import BODY, DAMAGES, DATE, PRIORITY, SPAN, damage, set_cell
from proof.lists import Sheet

__all__ = ["DAMAGES"]


@damage("two rows run into one")
def _run_together(sheet: Sheet) -> bool:
    at = sheet.any_row()
    sheet.rows[at - 1 : at + 1] = [[*sheet.rows[at - 1], *sheet.rows[at]]]
    return not (sheet.dialect.workbook or sheet.dialect.shuffled)


@damage("a cell pushed in, the last one lost")
def _pushed(sheet: Sheet) -> bool:
    row = sheet.rows[sheet.any_row()]
    row.insert(BODY, "")
    del row[-1]
    return True


@damage("titles of body and wingspan exchanged")
def _titles_exchanged(sheet: Sheet) -> bool:
    if sheet.dialect.span:
        return False
    sheet.header[BODY], sheet.header[SPAN] = sheet.header[SPAN], sheet.header[BODY]
    return True


@damage("a body without its decimal sign")
def _no_sign(sheet: Sheet) -> bool:
    return set_cell(sheet, BODY, 65 if sheet.dialect.workbook == "typed" else "65")


@damage("a size turned into a date")
def _size_as_date(sheet: Sheet) -> bool:
    if sheet.dialect.workbook:
        return set_cell(sheet, BODY, dt.date(2026, 5, 5))
    return set_cell(sheet, BODY, "05. Mai")


@damage("two sizes in one cell")
def _two_sizes(sheet: Sheet) -> bool:
    return set_cell(sheet, SPAN, "45 55")


@damage("a minus")
def _minus(sheet: Sheet) -> bool:
    return set_cell(sheet, SPAN, -45 if sheet.dialect.workbook == "typed" else "-45")


@damage("a date to come")
def _to_come(sheet: Sheet) -> bool:
    return set_cell(sheet, DATE, "2031-05-14")


@damage("a season for a date")
def _season(sheet: Sheet) -> bool:
    return set_cell(sheet, DATE, "spring 2026")


@damage("a date of two digits in any order")
def _digits(sheet: Sheet) -> bool:
    return set_cell(sheet, DATE, "05.06.07")


@damage("a month misspelt")
def _misspelt(sheet: Sheet) -> bool:
    return set_cell(sheet, DATE, "14 Mya 2026")


@damage("a formula that was never reckoned")
def _formula(sheet: Sheet) -> bool:
    return bool(sheet.dialect.workbook) and set_cell(sheet, BODY, "=5+1")


@damage("a total below")
def _total(sheet: Sheet) -> bool:
    sheet.rows.append(["Total", "", "", "", str(len(sheet.rows)), "", "", ""])
    return True


@damage("a remark below")
def _remark(sheet: Sheet) -> bool:
    sheet.rows.append(["* measured by eye", "", "", "", "", "", "", ""])
    return True


@damage("an id in other letters, twice")
def _id_twice(sheet: Sheet) -> bool:
    sheet.rows.append([str(sheet.rows[0][0]).lower(), *sheet.rows[sheet.any_row()][1:]])
    return True


@damage("tabs turned into blanks")
def _tabs(sheet: Sheet) -> bool:
    if sheet.dialect.separator != "\t" or sheet.dialect.workbook:
        return False
    at = sheet.any_row()
    sheet.raw_rows[at] = "    ".join(str(cell) for cell in sheet.rows[at])
    return True


@damage("half a priority")
def _half(sheet: Sheet) -> bool:
    typed = sheet.dialect.workbook == "typed"
    return set_cell(sheet, PRIORITY, 4.5 if typed else f"4{sheet.dialect.decimal}5")


@damage("letters of another script for digits")
def _fullwidth(sheet: Sheet) -> bool:
    return set_cell(sheet, SPAN, "\u0664\u0665\u066b\u0665") and "utf" in sheet.dialect.encoding


@damage("the header lost")
def _no_header(sheet: Sheet) -> bool:
    if sheet.dialect.title_rows:
        return False
    sheet.header[:] = sheet.rows[0]
    del sheet.rows[0]
    return True
