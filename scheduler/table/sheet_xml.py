"""From a sheet's XML to its filled cells, as a stream that keeps nothing else.

The elements' meaning: ECMA-376-1, 18.3.1 (sheetData, row, c, v, f, is, mergeCell).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import IO, NamedTuple
from xml.parsers import expat

from scheduler.table.grid import TableFault

_CHUNK = 1 << 16
_REFERENCE = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})")


class RawCell(NamedTuple):
    """One cell with a value or a formula: place from 0, type, style and text as stored.

    `kind` is the type attribute ("n" where there is none); `text` is None for a formula without
    a value, `formula` is None for a cell without a formula.
    """

    line: int
    column: int
    kind: str
    style: int
    text: str | None
    formula: str | None


_CELL = re.compile(rb"<c[ />]")
_COUNTED_AT_ONCE = 1 << 20


def refuse_too_many(source: IO[bytes], most_cells: int) -> None:
    """Raise TableFault for a sheet with more than `most_cells`, before they are read slowly."""
    cells = 0
    while chunk := source.read(_COUNTED_AT_ONCE):
        cells += len(_CELL.findall(chunk))
        if cells > most_cells:
            raise _too_many(most_cells)


def _too_many(most_cells: int) -> TableFault:
    reason = f"has more than {most_cells:,} cells"
    return TableFault(None, reason, "Save the sheet as CSV, or split it")


class SheetXml:
    """The parser of one sheet; cells go to `take` as they come."""

    def __init__(self, take: Callable[[RawCell], None], most_cells: int, most_chars: int) -> None:
        """Prepare; TableFault refuses more than `most_cells`, or `most_chars` in one cell."""
        self.merged: list[tuple[int, int, int, int]] = []
        self.cells = 0
        self._take, self._most_cells, self._most_chars = take, most_cells, most_chars
        self._line, self._column = -1, -1
        self._kind, self._style = "n", 0
        self._text: list[str] | None = None
        self._chars = 0
        self._filled = False
        self._formula: list[str] | None = None
        self._in_formula = False
        self._depth_phonetic = 0

    def read(self, source: IO[bytes]) -> None:
        """Read the whole sheet; raises expat's error for what is no XML."""
        parse(source, self._start, self._end, self._characters)

    def _start(self, name: str, given: dict[str, str]) -> None:
        tag = name.rpartition(" ")[2]
        if tag == "c":
            self._start_cell(given)
        elif tag in ("v", "t"):
            if not self._depth_phonetic:
                self._text = self._text if self._text is not None and tag == "t" else []
                self._filled = True
        elif tag == "f":
            self._formula, self._in_formula = [], True
        elif tag == "row":
            self._line = int(given["r"]) - 1 if "r" in given else self._line + 1
            self._column = -1
        elif tag == "rPh":
            self._depth_phonetic += 1
        elif tag == "mergeCell":
            self._merge(given.get("ref", ""))

    def _start_cell(self, given: dict[str, str]) -> None:
        self.cells += 1
        if self.cells > self._most_cells:
            raise _too_many(self._most_cells)
        self._column += 1
        if "r" in given:
            self._line, self._column = place_of(given["r"])
        self._kind, self._style = given.get("t", "n"), int(given.get("s", 0))
        self._text, self._chars = None, 0
        self._filled, self._formula, self._in_formula = False, None, False

    def _characters(self, text: str) -> None:
        into = self._formula if self._in_formula else self._text if self._filled else None
        if into is None:
            return
        self._chars += len(text)
        if self._chars > self._most_chars:
            reason = f"has a cell of more than {self._most_chars:,} characters"
            raise TableFault(self._line + 1, reason, "Shorten the text")
        into.append(text)

    def _end(self, name: str) -> None:
        tag = name.rpartition(" ")[2]
        if tag in ("v", "t"):
            self._filled = False
        elif tag == "f":
            self._in_formula = False
        elif tag == "rPh":
            self._depth_phonetic -= 1
        elif tag == "c" and (self._text or self._formula is not None):
            text = "".join(self._text) if self._text is not None else None
            formula = None if self._formula is None else "".join(self._formula)
            self._take(RawCell(self._line, self._column, self._kind, self._style, text, formula))

    def _merge(self, reference: str) -> None:
        first, _, last = reference.partition(":")
        if last and len(self.merged) < self._most_cells:
            self.merged.append((*place_of(first), *place_of(last)))


def shared_strings(source: IO[bytes], most: int) -> list[str]:
    """Return the texts that cells refer to by number; raise TableFault for more than `most`."""
    texts: list[str] = []
    parts: list[str] = []
    inside = {"t": 0, "rPh": 0}

    def start(name: str, _: dict[str, str]) -> None:
        tag = name.rpartition(" ")[2]
        if tag in inside:
            inside[tag] += 1
        elif tag == "si" and len(texts) >= most:
            raise TableFault(None, f"has more than {most:,} texts", "Save the sheet as CSV")

    def end(name: str) -> None:
        tag = name.rpartition(" ")[2]
        if tag in inside:
            inside[tag] -= 1
        elif tag == "si":
            texts.append("".join(parts))
            parts.clear()

    def characters(text: str) -> None:
        # A note on how to pronounce a text (rPh) is not part of it.
        if inside["t"] and not inside["rPh"]:
            parts.append(text)

    parse(source, start, end, characters)
    return texts


def parse(
    source: IO[bytes],
    start: Callable[[str, dict[str, str]], None],
    end: Callable[[str], None],
    characters: Callable[[str], None],
) -> None:
    """Read XML as a stream; names come as namespace, space, name. Raises expat's error."""
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = characters
    while chunk := source.read(_CHUNK):
        parser.Parse(chunk, False)
    parser.Parse(b"", True)


def place_of(reference: str) -> tuple[int, int]:
    """Return line and column, from 0, of a reference such as B7; raise ValueError for others."""
    found = _REFERENCE.fullmatch(reference)
    if found is None:
        raise ValueError(f"no cell {reference!r}")
    column = 0
    for sign in found[1]:
        column = column * 26 + ord(sign) - 64
    return int(found[2]) - 1, column - 1
