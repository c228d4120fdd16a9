"""Logger files broken at random: whatever the bytes, a reader says something and ends."""

from __future__ import annotations

import random
import time
from pathlib import Path

from readings_cases.judge import NOW, ZONE, case
from scheduler.intake.readings import LoggerManner, read_readings

MOST_SECONDS = 10.0
TOKENS = (
    *(b"\n", b"\r\n", b",", b";", b"\t", b'"', b"|", b" ", b"\x00", b"\xff", b"\xef\xbb\xbf"),
    *(b"Time", b"RH (%)", b"Temp (F)", b"Date", b"nan", b"inf", b"-999", b"1e999", b"61.5"),
    *(b"2027-07-01 10:00", b"31/12/2026 25:61", b"00.00.00 00:00", b"99999", b"9999999999"),
    *(b"=SUM(A1)", b"%", b"\xc2\xb0F", b"AM", b"9" * 400, b"PK\x03\x04", "²³½".encode()),
)
ANSWERS = {
    "dates": ("day-first", "month-first", "year-first", "never"),
    "unit": ("C", "F", "cell", "K"),
    "decimal": ("comma", "point", "x"),
    "low": ("keep", "leave-out"),
    "humidity": ("fraction", "percent", "2", "99"),
    "left-out": ("accept",),
}


def broken(chance: random.Random, raw: bytes) -> bytes:
    """Return bytes cut, spliced and overwritten."""
    if chance.random() < 0.15:
        return b"".join(chance.choice(TOKENS) for _ in range(chance.randrange(400)))
    data = bytearray(raw[: chance.choice([200, 2_000, 20_000])])
    for _ in range(chance.choice([1, 3, 10, 60])):
        at = chance.randrange(len(data) + 1)
        kind = chance.randrange(4)
        if kind == 0:
            data[at : at + chance.randrange(30)] = b""
        elif kind == 1:
            data[at:at] = chance.choice(TOKENS)
        elif kind == 2:
            data[at : at + 1] = bytes([chance.randrange(256)])
        else:
            begin = chance.randrange(len(data) + 1)
            data[at:at] = data[begin : begin + chance.randrange(200)]
    return bytes(data)


def tried(seed: int, folder: Path) -> float:
    """Read the broken file of one seed; return the seconds it took."""
    chance = random.Random(seed)
    one = case(seed)
    path = folder / "logger.csv"
    path.write_bytes(broken(chance, one.raw))
    answers = {k: chance.choice(v) for k, v in ANSWERS.items() if chance.random() < 0.3}
    offset = chance.choice([None, None, 0, -720, 840])
    begin = time.perf_counter()
    found = read_readings(path, zone=ZONE, now=NOW, manner=LoggerManner(answers, offset))
    for day in found.readings.days.values():
        day.hours()
    assert found.readings.count or found.problems or found.questions
    return time.perf_counter() - begin
