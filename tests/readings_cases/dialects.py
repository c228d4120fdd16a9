"""Manners in which loggers write: each a small set of choices, put together by chance."""

from __future__ import annotations

import io
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from readings_cases.truth import Moment

MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()


def _twelve(at: datetime) -> str:
    return f"{at.hour % 12 or 12}:{at:%M:%S} {'AM' if at.hour < 12 else 'PM'}"


FORMS: dict[str, Callable[[datetime], str]] = {
    "iso": lambda at: f"{at:%Y-%m-%d %H:%M:%S}",
    "iso T": lambda at: f"{at:%Y-%m-%dT%H:%M:%S}",
    "slashes, year first": lambda at: f"{at:%Y/%m/%d %H:%M:%S}",
    "dots": lambda at: f"{at:%d.%m.%Y %H:%M:%S}",
    "dots, short year": lambda at: f"{at:%d.%m.%y %H:%M:%S}",
    "short year first": lambda at: f"{at:%y-%m-%d %H:%M:%S}",
    "dots, short year first": lambda at: f"{at:%y.%m.%d %H:%M:%S}",
    "day first": lambda at: f"{at:%d/%m/%Y %H:%M:%S}",
    "day first, no zeros": lambda at: f"{at.day}/{at.month}/{at.year} {at:%H:%M:%S}",
    "month first": lambda at: f"{at:%m/%d/%Y %H:%M:%S}",
    "month first, 12 hours": lambda at: f"{at.month}/{at.day}/{at.year} {_twelve(at)}",
    "month first, short year, 12 hours": lambda at: f"{at:%m/%d/%y} {_twelve(at)}",
    "dashes, day first": lambda at: f"{at:%d-%m-%Y %H:%M:%S}",
    "dots, month first": lambda at: f"{at:%m.%d.%Y %H:%M:%S}",
    "month name": lambda at: f"{at.day} {MONTHS[at.month - 1]} {at.year} {at:%H:%M:%S}",
    "month name, dashes": lambda at: f"{at:%d}-{MONTHS[at.month - 1]}-{at:%y} {at:%H:%M:%S}",
    "month name first": lambda at: f"{MONTHS[at.month - 1]} {at.day}, {at.year} {_twelve(at)}",
    "spreadsheet days": lambda at: (
        f"{(at - datetime(1899, 12, 30)).total_seconds() / 86_400:.6f}"  # noqa: DTZ001
    ),
}

TITLES: dict[str, tuple[str, str, str]] = {
    "plain": ("Time", "RH", "Temp"),
    "units": ("Date Time", "RH (%)", "Temp ({u})"),
    "long": ("Timestamp", "Relative Humidity (%)", "Temperature (°{u})"),
    "brackets": ("Date/Time", "Humidity [%RH]", "Temperature [°{u}]"),
    "german": ("Datum/Zeit", "Rel. Feuchte [%]", "Temperatur [°{u}]"),
    "french": ("Date/Heure", "Humidité (%)", "Température (°{u})"),
    "underscores": ("date_time", "humidity", "temperature_{u}"),
    "letters": ("Date Time", "HR %", "T °{u}"),
}

OTHERS: dict[str, Callable[[Moment], str]] = {
    "Dew Point (°C)": lambda m: f"{m.temp_c - (100 - m.rh_pct) / 5:.1f}",
    "Absolute humidity (g/m³)": lambda m: f"{m.rh_pct * 0.17:.2f}",
    "Specific humidity (g/kg)": lambda m: f"{m.rh_pct * 0.14:.2f}",
    "Humidity alarm (0/1)": lambda m: str(int(m.rh_pct > 65)),
    "Battery (V)": lambda m: f"{3 - m.rh_pct / 1_000:.2f}",
}
ROWS_BEFORE = ("#", "Elapsed (hr)", "Record No.")
EVENTS = ("Attached", "Detached", "Event")


@dataclass(frozen=True)
class Dialect:
    """How a file is written. `apart` puts date and time of day into two columns."""

    form: str = "iso"
    separator: str = ","
    decimal: str = "."
    unit: str = "C"
    titles: str = "units"
    order: tuple[str, ...] = ("time", "rh", "temp")
    others: tuple[str, ...] = ()
    number: str | None = None
    events: int = 0
    title_lines: int = 0
    units_below: bool = False
    encoding: str = "utf-8"
    line_end: str = "\n"
    in_cells: bool = False
    quoted: bool = False
    exponent: bool = False
    fractions: bool = False
    backwards: bool = False
    footer: bool = False
    apart: bool = False
    workbook: bool = False

    @property
    def name(self) -> str:
        """Return the choices that are not the usual ones."""
        usual = Dialect()
        mine = [(f, getattr(self, f)) for f in self.__dataclass_fields__]
        return ", ".join(f"{f} {v!r}" for f, v in mine if v != getattr(usual, f)) or "usual"


@dataclass
class Written:
    """A file as lines of cells, before it becomes bytes; `head` is the line of titles."""

    dialect: Dialect
    top: list[list[str]]
    head: list[str]
    rows: list[list[str]]
    moments: list[Moment]
    foot: list[list[str]] = field(default_factory=list)

    def place(self, what: str) -> int:
        """Return the column of "time", "rh" or "temp"."""
        at = self.dialect.order.index(what) + (self.dialect.number is not None)
        return at + (self.dialect.apart and self.dialect.order.index(what) > self.time)

    @property
    def time(self) -> int:
        """Return where the time stands in the order."""
        return self.dialect.order.index("time")


def some_dialect(chance: random.Random) -> Dialect:
    """Return a manner of writing that some logger could have."""
    separator = chance.choice([",", ",", ";", "\t", "|"])
    decimal = "." if separator == "," else chance.choice(".,")
    quoted = separator == "," and chance.random() < 0.15
    if quoted:
        decimal = chance.choice(".,")
    titles = chance.choice(list(TITLES))
    below = titles == "plain" and chance.random() < 0.5
    with_temp = chance.random() < 0.93
    order = ["time", "rh", "temp"] if with_temp else ["time", "rh"]
    if chance.random() < 0.5:
        order = ["time", "temp", "rh"] if with_temp else ["time", "rh"]
    if chance.random() < 0.1:
        order = [*order[1:], "time"]
    no_unit = titles == "plain" and not below
    form = chance.choice(list(FORMS))
    workbook = chance.random() < 0.08
    fractions = titles in ("plain", "underscores") and not below and chance.random() < 0.3
    return Dialect(
        form=form,
        separator=separator,
        decimal=decimal,
        unit="C" if no_unit else chance.choice("CCCF"),
        titles=titles,
        order=tuple(order),
        others=tuple(chance.sample(list(OTHERS), chance.choice([0, 0, 0, 1, 2]))),
        number=chance.choice([None, None, None, *ROWS_BEFORE]),
        events=chance.choice([0, 0, 0, 1, 2]),
        title_lines=chance.choice([0, 0, 0, 1, 4]),
        units_below=below,
        encoding=chance.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252"]),
        line_end=chance.choice(["\n", "\n", "\r\n", "\r"]),
        in_cells=chance.random() < 0.12 and not fractions,
        quoted=quoted,
        exponent=chance.random() < 0.06,
        fractions=fractions,
        backwards=chance.random() < 0.1,
        footer=chance.random() < 0.08,
        apart=form not in ("spreadsheet days", "iso T") and chance.random() < 0.15,
        workbook=workbook,
    )


def written(moments: Sequence[Moment], dialect: Dialect) -> Written:
    """Write readings in a manner."""
    d = dialect
    moments = list(reversed(moments)) if d.backwards else list(moments)
    time, rh, temp = (title.replace("{u}", d.unit) for title in TITLES[d.titles])
    titles = {"time": time, "rh": rh, "temp": temp}
    head = [titles[o] for o in d.order]
    if d.apart:
        at = d.order.index("time")
        head[at : at + 1] = ["Date", "Time"]
    before = [] if d.number is None else [d.number]
    extra = [*d.others, *EVENTS[: d.events]]
    rows = []
    for n, m in enumerate(moments):
        cells = {"time": FORMS[d.form](m.at), "rh": _rh(m, d), "temp": _temp(m, d)}
        row = [cells[o] for o in d.order]
        if d.apart:
            at = d.order.index("time")
            day, clock = cells["time"].rsplit(" ", 1)
            if clock in ("AM", "PM"):
                day, half = day.rsplit(" ", 1)
                clock = f"{half} {clock}"
            row[at : at + 1] = [day, clock]
        count = f"{n + 1}" if d.number != "Elapsed (hr)" else _signed(f"{n / 12:.2f}", d)
        others = [_signed(OTHERS[o](m), d) for o in d.others]
        rows.append([*([count] if before else []), *row, *others, *[""] * d.events])
    top = [[f"Invented logger, room {n}"] for n in range(d.title_lines)]
    if d.units_below:
        below = {"time": "", "rh": "%", "temp": f"°{d.unit}"}
        units = [below[o] for o in d.order]
        if d.apart:
            units[d.order.index("time") : d.order.index("time") + 1] = ["", ""]
        rows.insert(0, [*([""] if before else []), *units, *[""] * len(extra)])
    foot = [["End of data"]] if d.footer else []
    return Written(d, top, [*before, *head, *extra], rows, moments, foot)


def _signed(text: str, d: Dialect) -> str:
    return text.replace(".", d.decimal)


def _rh(m: Moment, d: Dialect) -> str:
    value = m.rh_pct / 100 if d.fractions else m.rh_pct
    text = f"{value:.3f}" if d.fractions else f"{value:.1f}"
    if d.exponent:
        text = f"{value:.18e}"
    return _signed(text, d) + (" %" if d.in_cells else "")


def _temp(m: Moment, d: Dialect) -> str:
    value = m.temp_c * 1.8 + 32 if d.unit == "F" else m.temp_c
    text = f"{value:.18e}" if d.exponent else f"{value:.2f}"
    return _signed(text, d) + (f" °{d.unit}" if d.in_cells else "")


def as_bytes(file: Written) -> bytes:
    """Return the file as the logger's program saves it."""
    d = file.dialect
    if d.workbook:
        return _workbook(file)
    lines = [*file.top, file.head, *file.rows, *file.foot]
    text = d.line_end.join(d.separator.join(_quoted(c, d) for c in line) for line in lines)
    text += d.line_end
    if d.encoding == "cp1252":
        text = text.replace("³", "3")
    return text.encode(d.encoding)


def _quoted(cell: str, d: Dialect) -> str:
    needs = d.separator in cell or '"' in cell
    if needs or (d.quoted and cell):
        return '"' + cell.replace('"', '""') + '"'
    return cell


def _workbook(file: Written) -> bytes:
    import openpyxl  # type: ignore[import-untyped]

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Data")
    for line in [*file.top, file.head, *file.rows, *file.foot]:
        sheet.append([_number(cell, file.dialect) for cell in line])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _number(cell: str, d: Dialect) -> object:
    try:
        return float(cell.replace(d.decimal, ".")) if cell else None
    except ValueError:
        return cell


def another(dialect: Dialect, **changes: object) -> Dialect:
    """Return a manner with some choices changed."""
    return replace(dialect, **changes)  # type: ignore[arg-type]
