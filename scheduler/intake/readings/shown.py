"""What a preview shows of a file: sample rows beside their text, and the range of the values."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np

from scheduler.intake.asking import Question
from scheduler.intake.readings import Readings
from scheduler.intake.readings.arrays import Floats, Ints
from scheduler.intake.readings.gates import Values
from scheduler.intake.readings.preview import Preview, Sample, Spread, TakenAs
from scheduler.intake.readings.sheet import LoggerSheet
from scheduler.intake.readings.work import short
from scheduler.table import SEPARATORS

_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - wall clock
_LONGEST_TEXT = 60


class Understood(NamedTuple):
    """What a preview is made of: the file cut into cells, and as it was understood."""

    sheet: LoggerSheet
    signs: frozenset[str]
    dates: str | None
    clock: str
    values: Values
    readings: Readings


def preview_of(
    of: Understood, samples: tuple[Sample, ...], questions: tuple[Question, ...]
) -> Preview:
    """Return the preview of a file."""
    sheet, found, readings = of.sheet, of.values, of.readings
    return Preview(
        file=readings.file,
        encoding=sheet.encoding,
        separator=None if sheet.separator is None else SEPARATORS[sheet.separator],
        decimal=_decimal_said(of.signs),
        dates=of.dates,
        clock=of.clock,
        unit=found.unit or (None if found.temperature is None else "by cell"),
        fractions=found.fractions,
        columns=tuple(
            TakenAs(title, sheet.columns.taken_as(n))
            for n, title in enumerate(sheet.columns.titles)
        ),
        count=readings.count,
        first=readings.first,
        last=readings.last,
        humidity=spread_of(found.humidity),
        temperature=spread_of(found.temperature),
        samples=samples,
        questions=questions,
    )


def _decimal_said(signs: frozenset[str]) -> str | None:
    said = [name for sign, name in ((".", "point"), (",", "comma")) if sign in signs]
    return " and ".join(said) or None


def spread_of(values: Floats | None) -> Spread | None:
    """Return least, median and most; None without any value."""
    known = values[np.isfinite(values)] if values is not None else np.zeros(0)
    if not known.size:
        return None
    return Spread(float(known.min()), float(np.median(known)), float(known.max()))


def samples_of(sheet: LoggerSheet, rows: Ints, wall: Ints, found: Values) -> tuple[Sample, ...]:
    """Return the first row read, the middle one and the last."""
    at = sorted({0, len(rows) // 2, len(rows) - 1}) if len(rows) else []
    return tuple(
        Sample(
            int(rows[n]),
            short(sheet.line(int(rows[n])), _LONGEST_TEXT),
            _EPOCH + timedelta(seconds=int(wall[n])),
            _or_none(found.humidity, n),
            _or_none(found.temperature, n),
        )
        for n in at
    )


def _or_none(values: Floats | None, at: int) -> float | None:
    return None if values is None or np.isnan(values[at]) else float(values[at])
