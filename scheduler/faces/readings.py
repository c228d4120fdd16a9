"""A logger's file as it was understood, shown before anything is recorded."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import TYPE_CHECKING

from scheduler.faces.moved import moved_date_lines
from scheduler.intake.readings.merge import differing_said
from scheduler.intake.readings.preview import Preview, Sample, Spread
from scheduler.words import wording

if TYPE_CHECKING:
    from scheduler.looks.logger_file import ReadFile

_UNITS = {"C": " in deg C", "F": " in deg F", "by cell": ", each cell with its own unit"}


def preview_lines(p: Preview) -> Iterator[str]:
    """Yield the lines of a preview, none wider than a terminal."""
    yield from wording.wrapped(f"{p.file}: {wording.counted(p.count, 'reading')}{_span(p)}")
    yield from _item("written", _written(p))
    yield from _item("columns", _columns(p))
    if p.humidity:
        factor = ", read as fractions of 1" if p.fractions else ""
        yield from _item("humidity", _spread(p.humidity, "%") + factor)
    if p.temperature:
        yield from _item("temperature", _spread(p.temperature, "°C"))
    for sample in p.samples:
        yield from _item(f"row {sample.row}", sample.text)
        yield from wording.wrapped(_sample(sample), "      is ", "        ")


def _item(name: str, text: str) -> list[str]:
    return wording.wrapped(f"{name}: {text}", "  ", "    ")


def _span(p: Preview) -> str:
    if p.first is None or p.last is None:
        return ""
    return f", {_moment(p.first)} to {_moment(p.last)}"


def _moment(at: datetime) -> str:
    return f"{at.day} {wording.MONTHS[at.month - 1]} {at.year} {at:%H:%M}"


def _written(p: Preview) -> str:
    said = []
    if p.separator is not None:
        said += [p.encoding or "", f"{p.separator} between the cells"]
    else:
        said.append("a workbook")
    if p.decimal:
        said.append(f"decimal {p.decimal}")
    if p.dates:
        said.append(f"dates {p.dates.replace('-', ' ')}")
    return ", ".join([*said, p.clock])


def _columns(p: Preview) -> str:
    taken = []
    for title, taken_as in p.columns:
        unit = _UNITS.get(p.unit or "", "") if taken_as == "temperature" else ""
        taken.append(f'"{title}" {taken_as}{unit}')
    return "; ".join(taken)


def _spread(spread: Spread, unit: str) -> str:
    return (
        f"{spread.median:.1f} {unit} in the middle, from {spread.least:.1f} to"
        f" {spread.most:.1f} {unit}"
    )


def _sample(sample: Sample) -> str:
    said = [_moment(sample.at)]
    if sample.rh_pct is not None:
        said.append(f"{sample.rh_pct:g} %")
    if sample.temp_c is not None:
        said.append(f"{sample.temp_c:g} °C")
    return ", ".join(said)


def record_lines(shown: ReadFile, today: date) -> Iterator[str]:
    """Yield what a file would change in the record, and how it agrees with what is there."""
    tally = shown.tally
    parts = [wording.counted(tally.new, "new reading")]
    if tally.known:
        parts.append(f"{tally.known} known already")
    if tally.differing:
        parts.append(f"{differing_said(tally)}, and are replaced")
    if tally.gone:
        parts.append(f"{tally.gone} recorded ones are not in the file, and are taken out")
    yield from _item(f"{shown.room.room}, {shown.logger}", "; ".join(parts))
    for text in shown.compared:
        yield from _item("compared", text)
    yield from moved_date_lines(shown.moved, today)
