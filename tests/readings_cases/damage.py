"""What happens to loggers' files on their way: each kind changes a written file or its bytes."""

from __future__ import annotations

import random
from collections.abc import Callable

from readings_cases.dialects import FORMS, Written, as_bytes

Damage = Callable[[random.Random, Written], bytes | None]
"""Gives the damaged bytes, None where a file of this manner cannot be damaged so."""


def _commas_for_both(_: random.Random, f: Written) -> bytes | None:
    return _shifted(f, range(_first(f), len(f.rows)))


def _one_row_shifted(chance: random.Random, f: Written) -> bytes | None:
    return _shifted(f, [chance.randrange(_first(f), len(f.rows))])


def _last_row_shifted(_: random.Random, f: Written) -> bytes | None:
    return _shifted(f, [len(f.rows) - 1])


def _shifted(f: Written, rows: range | list[int]) -> bytes | None:
    if f.dialect.separator != "," or f.dialect.workbook or f.dialect.quoted:
        return None
    text = as_bytes(f).decode(f.dialect.encoding)
    lines = text.split(f.dialect.line_end)
    for row in rows:
        at = len(f.top) + 1 + row
        cells = lines[at].split(",")
        for what in ("rh", "temp"):
            if what in f.dialect.order and len(cells) > f.place(what):
                cells[f.place(what)] = cells[f.place(what)].replace(".", ",")
        lines[at] = ",".join(cells)
    return f.dialect.line_end.join(lines).encode(f.dialect.encoding)


def _shifted_without_event_cells(_: random.Random, f: Written) -> bytes | None:
    """Decimal commas, and the program leaves out the empty cells at the end."""
    if not f.dialect.events:
        return None
    raw = _commas_for_both(_, f)
    if raw is None:
        return None
    d = f.dialect
    lines = raw.decode(d.encoding).split(d.line_end)
    head = len(f.top) + 1
    kept = [line.rstrip(",") if n >= head else line for n, line in enumerate(lines)]
    return d.line_end.join(kept).encode(d.encoding)


def _half_swapped(chance: random.Random, f: Written) -> bytes | None:
    """A spreadsheet took the dates it could for month-first ones, and left the others."""
    return _redated(f, lambda at: at.day <= 12 and at.day != at.month, chance)


def _one_day_swapped(chance: random.Random, f: Written) -> bytes | None:
    days = sorted({m.at.date() for m in f.moments if m.at.day <= 12 and m.at.day != m.at.month})
    if not days:
        return None
    day = chance.choice(days)
    return _redated(f, lambda at: at.date() == day, chance)


def _redated(f: Written, which: Callable[..., bool], _: random.Random) -> bytes | None:
    if f.dialect.apart or f.dialect.form == "spreadsheet days":
        return None
    if not any(which(m.at) for m in f.moments) or all(which(m.at) for m in f.moments):
        return None
    at = f.place("time")
    for row, m in zip(f.rows[_first(f) :], f.moments, strict=True):
        if which(m.at):
            row[at] = FORMS[f.dialect.form](m.at.replace(month=m.at.day, day=m.at.month))
    return as_bytes(f)


def _half_converted(_: random.Random, f: Written) -> bytes | None:
    """As before, but what was converted is written as ISO now."""
    if "first" not in f.dialect.form or f.dialect.apart:
        return None
    if not any(m.at.day <= 12 and m.at.day != m.at.month for m in f.moments):
        return None
    if all(m.at.day <= 12 for m in f.moments):
        return None
    at = f.place("time")
    for row, m in zip(f.rows[_first(f) :], f.moments, strict=True):
        if m.at.day <= 12:
            row[at] = f"{m.at.replace(month=m.at.day, day=m.at.month):%Y-%m-%d %H:%M:%S}"
    return as_bytes(f)


def _unit_changes(chance: random.Random, f: Written) -> bytes | None:
    if "temp" not in f.dialect.order or f.dialect.exponent:
        return None
    at, half = f.place("temp"), chance.randrange(len(f.moments) // 4, len(f.moments))
    fahrenheit = f.dialect.unit == "C"
    for row, m in list(zip(f.rows[_first(f) :], f.moments, strict=True))[half:]:
        value = m.temp_c * 1.8 + 32 if fahrenheit else m.temp_c
        behind = f" °{'F' if fahrenheit else 'C'}" if f.dialect.in_cells else ""
        row[at] = f"{value:.2f}".replace(".", f.dialect.decimal) + behind
    return as_bytes(f)


def _header_unit_wrong(_: random.Random, f: Written) -> bytes | None:
    if "temp" not in f.dialect.order or f.dialect.titles == "plain":
        return None
    at = f.head.index(next(t for t in f.head if t.startswith(("Temp", "temp", "T "))))
    was, now = ("C", "F") if f.dialect.unit == "C" else ("F", "C")
    title = f.head[at]
    place = title.rindex(was)
    f.head[at] = title[:place] + now + title[place + 1 :]
    return as_bytes(f)


def _joined_other_order(chance: random.Random, f: Written) -> bytes | None:
    """Two exports in one file, the second with its columns in another order, with its header."""
    return _crossed(chance, f, with_header=True)


def _joined_without_header(chance: random.Random, f: Written) -> bytes | None:
    return _crossed(chance, f, with_header=False)


def _crossed(chance: random.Random, f: Written, *, with_header: bool) -> bytes | None:
    if "temp" not in f.dialect.order or f.dialect.in_cells or f.dialect.fractions:
        return None
    rh, temp = f.place("rh"), f.place("temp")
    begin = _first(f) + chance.randrange(2, len(f.moments) - 2)
    m = f.moments[begin - _first(f)]
    shown = m.temp_c * 1.8 + 32 if f.dialect.unit == "F" else m.temp_c
    if abs(shown - m.rh_pct) < 6:
        return None  # nobody can tell them apart, and it hardly matters
    for row in f.rows[begin:]:
        row[rh], row[temp] = row[temp], row[rh]
    if with_header:
        head = list(f.head)
        head[rh], head[temp] = head[temp], head[rh]
        f.rows.insert(begin, head)
    return as_bytes(f)


def _cell_lost(chance: random.Random, f: Written) -> bytes | None:
    row = f.rows[chance.randrange(_first(f), len(f.rows))]
    del row[f.place("rh")]
    return as_bytes(f)


def _no_am_pm(_: random.Random, f: Written) -> bytes | None:
    if "12 hours" not in f.dialect.form or f.dialect.apart:
        return None
    at = f.place("time")
    for row in f.rows[_first(f) :]:
        row[at] = row[at].removesuffix(" AM").removesuffix(" PM")
    return as_bytes(f)


def _error_codes(chance: random.Random, f: Written) -> bytes | None:
    for _ in range(chance.choice([1, 3, 40])):
        row = f.rows[chance.randrange(_first(f), len(f.rows))]
        row[f.place("rh")] = chance.choice(["-999", "9999", "NaN", "---", "655.35", "ERR"])
    return as_bytes(f)


def _blanks(chance: random.Random, f: Written) -> bytes | None:
    for _ in range(chance.choice([1, 30])):
        row = f.rows[chance.randrange(_first(f), len(f.rows))]
        row[f.place(chance.choice([o for o in f.dialect.order if o != "time"]))] = ""
    return as_bytes(f)


def _all_blank(_: random.Random, f: Written) -> bytes | None:
    for row in f.rows[_first(f) :]:
        for what in f.dialect.order[:]:
            if what != "time":
                row[f.place(what)] = ""
    return as_bytes(f)


def _dead_sensor(chance: random.Random, f: Written) -> bytes | None:
    begin = chance.randrange(_first(f), len(f.rows))
    for row in f.rows[begin:]:
        row[f.place("rh")] = "0.0".replace(".", f.dialect.decimal)
    return as_bytes(f)


def _cut_short(chance: random.Random, f: Written) -> bytes | None:
    if f.dialect.workbook:
        return None
    raw = as_bytes(f)
    return raw[: len(raw) * 3 // 4 + chance.randrange(60)]


def _two_loggers(chance: random.Random, f: Written) -> bytes | None:
    rows = [list(row) for row in f.rows[_first(f) :]]
    points = chance.choice([4, 9, 15])
    for row, m in zip(rows, f.moments, strict=True):
        other = m.rh_pct - points
        text = f"{other / 100:.3f}" if f.dialect.fractions else f"{other:.1f}"
        row[f.place("rh")] = text.replace(".", f.dialect.decimal)
    f.rows += rows
    return as_bytes(f)


def _partly_fractions(chance: random.Random, f: Written) -> bytes | None:
    if f.dialect.fractions:
        return None
    begin = chance.randrange(len(f.moments) // 2)
    for row, m in list(zip(f.rows[_first(f) :], f.moments, strict=True))[begin:]:
        row[f.place("rh")] = f"{m.rh_pct / 100:.3f}".replace(".", f.dialect.decimal)
    return as_bytes(f)


def _clock_reset(chance: random.Random, f: Written) -> bytes | None:
    return _other_year(chance, f, chance.choice([2000, 2012, 2018]))


def _clock_ahead(chance: random.Random, f: Written) -> bytes | None:
    return _other_year(chance, f, 2031)


def _other_year(chance: random.Random, f: Written, year: int) -> bytes | None:
    if f.dialect.apart:
        return None
    begin = chance.randrange(1, len(f.moments) - 1)
    for row, m in list(zip(f.rows[_first(f) :], f.moments, strict=True))[begin:]:
        row[f.place("time")] = FORMS[f.dialect.form](m.at.replace(year=year))
    return as_bytes(f)


def _junk_lines(chance: random.Random, f: Written) -> bytes | None:
    for _ in range(3):
        at = chance.randrange(_first(f), len(f.rows))
        f.rows.insert(at, [chance.choice(["*** low battery", "memory 80 %", "?????", "\x07\x07"])])
    return None if f.dialect.workbook else as_bytes(f)


def _open_quote(chance: random.Random, f: Written) -> bytes | None:
    if f.dialect.workbook:
        return None
    raw = as_bytes(f).decode(f.dialect.encoding)
    at = chance.randrange(len(raw) // 2, len(raw))
    return (raw[:at] + '"' + raw[at:]).encode(f.dialect.encoding)


def _broken_bytes(chance: random.Random, f: Written) -> bytes | None:
    if f.dialect.encoding == "utf-16" or f.dialect.workbook:
        return None
    raw = bytearray(as_bytes(f))
    for _ in range(3):
        raw[chance.randrange(len(raw))] = chance.choice(b"\x00\x81\xff\xfe")
    return bytes(raw)


def _other_humidity(chance: random.Random, f: Written) -> bytes | None:
    at = f.place("rh")
    f.head[at] = chance.choice(
        ["Specific humidity (g/kg)", "Absolute humidity (g/m3)", "Humidity alarm (0/1)", "VPD"]
    )
    return as_bytes(f)


DAMAGES: dict[str, Damage] = {
    "commas for both": _commas_for_both,
    "one row with decimal commas": _one_row_shifted,
    "the last row with decimal commas": _last_row_shifted,
    "decimal commas, empty cells left out": _shifted_without_event_cells,
    "half of the dates swapped": _half_swapped,
    "one day swapped": _one_day_swapped,
    "half of the dates converted": _half_converted,
    "the unit changes": _unit_changes,
    "the header has the wrong unit": _header_unit_wrong,
    "joined, columns in another order": _joined_other_order,
    "joined so without a header": _joined_without_header,
    "a cell lost": _cell_lost,
    "no AM and PM": _no_am_pm,
    "error codes": _error_codes,
    "blanks": _blanks,
    "all values blank": _all_blank,
    "a dead sensor": _dead_sensor,
    "cut short": _cut_short,
    "two loggers in one file": _two_loggers,
    "partly fractions": _partly_fractions,
    "the clock was reset": _clock_reset,
    "the clock is ahead": _clock_ahead,
    "junk lines": _junk_lines,
    "an open quotation mark": _open_quote,
    "broken bytes": _broken_bytes,
    "another humidity": _other_humidity,
}


def _first(f: Written) -> int:
    return int(f.dialect.units_below)
