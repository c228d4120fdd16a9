"""From a file's bytes to grids of cells: the one reader of tables, text or workbook.

It knows nothing of specimens or air: it says what stands where, as a person sees it, and which
value a workbook holds behind that. Every bound is a count, so that the same file is refused on
every machine; no file takes more than 500 MB or 10 s before it is refused with a reason.

Why these libraries (measured on 2026-11-27, 2 cores shared by many, Python 3.11):

- Workbooks: openpyxl reads names and formats; a stream of our own reads the cells. 300,000 cells
  with their texts and formats take 3.1 s (openpyxl alone: 4.1 s), and no row of a hostile file is
  kept whole (openpyxl: a tree of a gigabyte). python-calamine takes 0.3 s, but gives no number
  formats (a cell that shows 52% comes as 0.52) and lays a sheet out whole: for a 5 KB workbook
  with a blank in its last cell it asks for 512 GB and ends the program.
- Old workbooks (.xls): xlrd gives formats, merged cells and hidden sheets; 300,000 cells take
  0.5 s. python-calamine takes 0.1 s, but 1.4 GB for a sheet with one cell in its last corner, and
  again gives 0.52 for 52%.
- OpenDocument (.ods): a stream of our own. Each cell holds its value and, beside it, the text that
  is seen, so no format has to be understood. python-calamine gives the values alone.
- Encodings: of six short texts in each of cp1252, Mac Roman and cp850, charset-normalizer
  recognised 6 of 18 (it needs longer ones); a list of the letters that people here write
  recognises all 18 (`tests/test_table.py`), and says when it cannot (`encoding.py`).
- Separators: clevercsv agrees with ours on plain tables, and takes 0.6 s for a file of half a
  megabyte; but whoever reads the table knows its titles, and these decide better (`text.py`).
"""

from __future__ import annotations

from pathlib import Path

from scheduler.table.encoding import decoded
from scheduler.table.grid import CellPlace, CellValue, Grid, Likes, NoValue, TableFault, clean
from scheduler.table.text import SEPARATORS, read_text

__all__ = [
    "SEPARATORS",
    "TEXT_KINDS",
    "WORKBOOK_KINDS",
    "CellPlace",
    "CellValue",
    "Grid",
    "Likes",
    "NoValue",
    "TableFault",
    "clean",
    "decoded",
    "read_bytes",
    "read_grids",
]

TEXT_KINDS = (".csv", ".tsv", ".txt", ".tab")
WORKBOOK_KINDS = (".xlsx", ".xlsm", ".xls", ".ods")
MOST_BYTES = 64_000_000
_TELLS_ITS_KIND = 120
"""Within so many bytes an OpenDocument names its kind: its first entry, which is not compressed
(OpenDocument 1.3, part 2, 3.3)."""
_ZIP = b"PK\x03\x04"
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"


def read_grids(path: Path, likes: Likes | None = None) -> tuple[Grid, ...]:
    """Return the grids of a file: one for a text, one for each sheet of a workbook.

    The content decides which it is, whatever the name says. `likes` rates how well a line looks
    like a header, higher is better; it helps to find the separator. Raises TableFault when the
    file cannot be read as a table at all.
    """
    raw = read_bytes(path)
    if raw.startswith(_ZIP) and b"opendocument.spreadsheet" in raw[:_TELLS_ITS_KIND]:
        from scheduler.table.open_document import read_open_document

        return read_open_document(raw)
    if raw.startswith(_ZIP):
        from scheduler.table.workbook import read_workbook

        return read_workbook(raw)
    if raw.startswith(_OLD_WORKBOOK):
        from scheduler.table.old_workbook import read_old_workbook

        return read_old_workbook(raw)
    return (read_text(raw, likes),)


def read_bytes(path: Path) -> bytes:
    """Return a file's bytes; raise TableFault where it cannot be read or exceeds `MOST_BYTES`."""
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError as error:
        reason = f"cannot be read ({error.strerror})"
        raise TableFault(None, reason, "Check the file and its permissions") from None
    if len(raw) > MOST_BYTES:
        reason = f"is larger than {MOST_BYTES // 1_000_000} MB"
        raise TableFault(None, reason, "Split it into several files")
    return raw
