"""Whether a generated file was read rightly, asked about, refused, or misread without a warning."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

from readings_cases.damage import DAMAGES
from readings_cases.dialects import Dialect, as_bytes, some_dialect, written
from readings_cases.truth import Moment, truth
from scheduler.intake.readings import LoggerFile, read_readings

ZONE = ZoneInfo("Europe/Berlin")
NOW = datetime(2027, 8, 1, 9, tzinfo=ZONE)
SLACK = 0.06
"""Half a tenth, and the hundredths of a temperature that was rounded in deg F."""

Verdict = Literal["right", "asked", "refused", "named", "wrong", "lost"]


class Case(NamedTuple):
    """One generated file: `damage` None is as the logger wrote it."""

    seed: int
    dialect: Dialect
    damage: str | None
    moments: Sequence[Moment]
    raw: bytes


def cases(count: int, first_seed: int = 0, *, share_damaged: float = 0.5) -> Iterator[Case]:
    """Yield so many files, each from a seed of its own."""
    for seed in range(first_seed, first_seed + count):
        yield case(seed, share_damaged)


def case(seed: int, share_damaged: float = 0.5) -> Case:
    """Return the file of one seed."""
    chance = random.Random(seed)
    damaged = chance.random() < share_damaged
    while True:
        moments = truth(chance, NOW.replace(tzinfo=None))
        dialect = some_dialect(chance)
        if dialect.workbook:
            moments = moments[:400]
        name = chance.choice(list(DAMAGES)) if damaged else None
        file = written(moments, dialect)
        raw = DAMAGES[name](chance, file) if name else as_bytes(file)
        if raw is not None:
            return Case(seed, dialect, name, moments, raw)


def read_case(one: Case, folder: Path) -> LoggerFile:
    """Read a case as the program reads a file."""
    path = folder / ("logger.xlsx" if one.dialect.workbook else "logger.csv")
    path.write_bytes(one.raw)
    return read_readings(path, zone=ZONE, now=NOW)


def verdict(one: Case, found: LoggerFile) -> Verdict:
    """Judge what was read by what was true.

    Whatever is asked or refused is no misreading. Otherwise every reading must be one that was;
    of a file as the logger wrote it none may be missing.
    """
    if found.problems:
        return "refused"
    if found.questions:
        return "asked"
    known = {m.at: m for m in one.moments}
    for day, held in found.readings.days.items():
        for r in held:
            m = known.get(datetime.combine(day, r.at))
            if m is None or _off(r.rh_pct, m.rh_pct) or _off(r.temp_c, m.temp_c):
                return "wrong"
    if found.readings.left_out:
        return "named"
    if one.damage is None and found.readings.count < len(one.moments):
        return "lost"
    return "right"


def _off(read: float | None, was: float) -> bool:
    return read is not None and abs(read - was) > SLACK
