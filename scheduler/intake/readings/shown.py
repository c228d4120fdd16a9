"""What a preview shows of a file: sample rows beside their text, and where the values lie."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from scheduler.intake.readings.gates import Values
from scheduler.intake.readings.moments import Ints
from scheduler.intake.readings.preview import Sample, Spread
from scheduler.intake.readings.sheet import Sheet
from scheduler.intake.readings.values import Floats
from scheduler.intake.readings.work import short

_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - wall clock
_LONGEST_TEXT = 60


def spread_of(values: Floats | None) -> Spread | None:
    """Return least, median and most; None without any value."""
    known = values[np.isfinite(values)] if values is not None else np.zeros(0)
    if not known.size:
        return None
    return Spread(float(known.min()), float(np.median(known)), float(known.max()))


def samples_of(sheet: Sheet, rows: Ints, wall: Ints, found: Values) -> tuple[Sample, ...]:
    """Return the first row read, one in the middle and the last."""
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
