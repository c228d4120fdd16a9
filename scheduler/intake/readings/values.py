"""The text of humidities and temperatures -> hundredths, and what has to be left out."""

from __future__ import annotations

import re
from typing import Literal

import numpy as np
import numpy.typing as npt

from scheduler.air.hours import NO_HUMIDITY, NO_TEMPERATURE
from scheduler.intake.readings.header import Unit, plain, unit_in
from scheduler.intake.readings.moments import Bools, Ints
from scheduler.intake.readings.sheet import Texts

Floats = npt.NDArray[np.float64]
Decimal = Literal[".", ","]

HUMIDITY_SLACK = 1.0
"""Points by which a sensor at its end may overshoot 0 to 100 %; more is an error code."""

TEMPERATURES_C = (-40.0, 80.0)
FAHRENHEIT_FROM = 45.0
"""A column without unit whose median is above this is no room in deg C."""

_NUMBER = re.compile(
    r"([+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+))\s*(?:%\s*(?:r\.?h\.?)?|°?\s*[cf])?", re.I
)


def filled(texts: Texts) -> Bools:
    """Return which cells hold anything; blanks are gone by now."""
    return np.asarray(texts != "", dtype=bool)


def numbers(texts: Texts, decimal: Decimal | None) -> Floats:
    """Return the numbers in many cells, NaN where there is none; a unit behind one is no harm."""
    try:
        plain_bytes = texts.astype("S16")
        other = b"." if decimal == "," else b","
        if decimal is None:
            plain_bytes = np.char.replace(plain_bytes, b",", b".")
        elif not (np.char.find(plain_bytes, other) < 0).all():
            raise ValueError
        elif decimal == ",":
            plain_bytes = np.char.replace(plain_bytes, b",", b".")
        return plain_bytes.astype(np.float64)
    except (UnicodeEncodeError, ValueError):
        return np.fromiter((_number(text, decimal) for text in texts), np.float64, len(texts))


def _number(text: str, decimal: Decimal | None) -> float:
    found = _NUMBER.fullmatch(text.strip())
    if found is None or (decimal is not None and {".": ",", ",": "."}[decimal] in found[1]):
        return float("nan")
    return float(found[1].replace(",", "."))


def humidity(values: Floats, add_rh: float) -> tuple[Ints, Bools, Bools]:
    """Return hundredths with the offset added, where no number stood, and where none can be."""
    nothing = ~np.isfinite(values)
    outside = (values < -HUMIDITY_SLACK) | (values > 100 + HUMIDITY_SLACK)
    shown = np.where(nothing | outside, 0.0, values) + add_rh
    cells = np.rint(np.clip(shown, 0, 100) * 100).astype(np.int64)
    return np.where(nothing | outside, NO_HUMIDITY, cells), nothing, outside & ~nothing


def temperature(values: Floats, unit: Unit) -> tuple[Ints, Bools, Bools]:
    """Return hundredths of deg C, where no number stood, and where none can be."""
    celsius = (values - 32) / 1.8 if unit == "F" else values
    nothing = ~np.isfinite(celsius)
    outside = (celsius < TEMPERATURES_C[0]) | (celsius > TEMPERATURES_C[1])
    cells = np.rint(np.where(nothing | outside, 0.0, celsius) * 100).astype(np.int64)
    return np.where(nothing | outside, NO_TEMPERATURE, cells), nothing, outside & ~nothing


def unit_of(header: Unit | None, texts: Texts, values: Floats) -> Unit | None:
    """Return the unit of the temperatures, None when neither header, cells nor sense tell it."""
    if header is not None:
        return header
    known = values[np.isfinite(values)]
    sample = next((plain(text) for text in texts if text), "")
    told = unit_in(sample)
    if told is not None or not known.size:
        return told or "C"
    return "C" if float(np.median(known)) <= FAHRENHEIT_FROM else None
