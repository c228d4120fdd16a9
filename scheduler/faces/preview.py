"""What was understood of a batch, as text for a terminal, before anything is written."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from scheduler.faces.readings import preview_lines
from scheduler.intake.batch import Batch
from scheduler.intake.batch.seen import ColumnSpan, RowSample, TableSeen
from scheduler.table import SEPARATORS
from scheduler.words import wording


def batch_preview_lines(batch: Batch) -> list[str]:
    """Return what was understood of each table, what to agree to and what to answer."""
    lines = [line for table in batch.seen for line in _table_lines(table)]
    for logger in batch.loggers:
        lines += [*preview_lines(logger), ""]
    for note in batch.notes:
        lines += wording.wrapped(note, "", "  ")
    for heading, opened in (("To agree to:", False), ("To be answered:", True)):
        asked = [question for question in batch.questions if question.open is opened]
        lines += [heading] if asked else []
        for one in asked:
            said = one.text if opened else f"{one.key}: {one.text}"
            lines += wording.wrapped(f"{one.file}: {said}", "  ", "    ")
    return lines


def _table_lines(seen: TableSeen) -> Iterator[str]:
    yield from wording.wrapped(f"{seen.called}: {wording.counted(seen.rows, 'row')}", "", "  ")
    yield from wording.wrapped(f"written with {', '.join(_manner(seen))}", "  ", "    ")
    understood = [
        f'"{m.title}" is {m.column}' + (f" (times {m.times:g})" if m.times != 1 else "")
        for m in seen.columns
        if m.column and m.how not in ("named", "asked")
    ]
    named = [m.title for m in seen.columns if m.how == "named"]
    if named:
        yield from wording.wrapped(f"columns {wording.listed(named)}", "  ", "    ")
    if understood:
        yield from wording.wrapped("; ".join(understood), "  ", "    ")
    for span in seen.spans:
        yield from wording.wrapped(_span_line(span), "  ", "    ")
    for sample in seen.samples:
        yield from _sample_lines(sample)
    yield ""


def _manner(seen: TableSeen) -> Iterator[str]:
    if seen.separator is None:
        yield "a workbook's cells"
    else:
        yield f"{SEPARATORS.get(seen.separator, repr(seen.separator))} between the cells"
        yield seen.encoding
    if seen.decimal is not None:
        yield f"a decimal {seen.decimal}"
    if seen.dates is not None:
        yield f"dates {seen.dates.replace('-', ' ')}"


def _span_line(span: ColumnSpan) -> str:
    unit = f" {span.unit}" if span.unit else ""
    least, most = _value(span.least), _value(span.most)
    said = f"{span.column}: {span.count} filled, "
    if least == most:
        return f"{said}{least}{unit}"
    middle = "" if span.median is None else f", median {span.median:g}"
    return f"{said}{least} to {most}{unit}{middle}"


def _sample_lines(sample: RowSample) -> list[str]:
    cells = " | ".join(cell for cell in sample.cells)
    read = ", ".join(f"{column} {_value(value)}" for column, value in sample.read.items())
    return [
        *wording.wrapped(f"row {sample.row}: {cells}", "  ", "    "),
        *wording.wrapped(f"read as {read or 'nothing'}", "    ", "      "),
    ]


def _value(value: Any) -> str:
    if isinstance(value, datetime):
        return value.isoformat(" ", timespec="minutes")
    if isinstance(value, date):
        return value.isoformat()
    return f"{value:g}" if isinstance(value, float) else str(value)
