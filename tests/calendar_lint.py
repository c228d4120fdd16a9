"""A lint for published calendars, written from RFC 5545 and RFC 7986.

`lint` returns every fault as (line, rule, message); a rule is the section it rests on, or
"reader" where the standard allows what some widespread reader cannot take: METHOD, a
calendar UID, an alarm UID, floating times, U+0085, U+2028 and U+2029, a byte order mark.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import NamedTuple


class Fault(NamedTuple):
    """One fault: the physical line it begins on, the section broken, what is wrong."""

    line: int
    rule: str
    message: str


@dataclass(frozen=True)
class Line:
    """One unfolded content line."""

    at: int
    name: str
    params: dict[str, str]
    value: str


@dataclass
class Component:
    """A component with its lines and its own components."""

    at: int
    name: str
    lines: list[Line] = field(default_factory=list)
    inner: list[Component] = field(default_factory=list)

    def all(self, name: str) -> list[Line]:
        """Return its lines of one name."""
        return [line for line in self.lines if line.name == name]

    def walk(self) -> Iterator[Component]:
        """Yield it and all within it."""
        yield self
        for inner in self.inner:
            yield from inner.walk()


_CONTENT = re.compile(
    r'(?P<name>[A-Za-z0-9-]+)(?P<params>(?:;[A-Za-z0-9-]+=(?:"[^"]*"|[^";:,]*)'
    r'(?:,(?:"[^"]*"|[^";:,]*))*)*):(?P<value>.*)',
    re.DOTALL,
)
_PARAM = re.compile(r';([A-Za-z0-9-]+)=((?:"[^"]*"|[^";:,]*)(?:,(?:"[^"]*"|[^";:,]*))*)')
_CONTROL = re.compile("[\x00-\x08\x0a-\x1f\x7f]")
_SPLITTING = re.compile("[\x85\u2028\u2029]")
_DATE = re.compile(r"\d{8}")
_MOMENT = re.compile(r"\d{8}T\d{6}Z?")
_DURATION = re.compile(r"[+-]?P(\d+W|\d+D(T(\d+H(\d+M(\d+S)?)?|\d+M(\d+S)?|\d+S))?"
                       r"|T(\d+H(\d+M(\d+S)?)?|\d+M(\d+S)?|\d+S))")  # fmt: skip
_OFFSET = re.compile(r"(?!-0000(00)?$)[+-](0\d|1\d|2[0-3])[0-5]\d([0-5]\d)?")
_ESCAPED = re.compile(r"(?:[^\\;,]|\\[\\;,nN])*")
_ESCAPED_LIST = re.compile(r"(?:[^\\;]|\\[\\;,nN])*")

_TEXTS = {"SUMMARY", "DESCRIPTION", "LOCATION", "COMMENT", "CONTACT", "UID", "TZID", "TZNAME",
          "NAME", "PRODID", "X-WR-CALNAME", "X-WR-CALDESC", "RELATED-TO"}  # fmt: skip
_TEXT_LISTS = {"CATEGORIES", "RESOURCES"}
_MOMENTS = {"DTSTART", "DTEND", "DUE", "RECURRENCE-ID"}
_STAMPS = {"DTSTAMP": "3.8.7.2", "LAST-MODIFIED": "3.8.7.3", "CREATED": "3.8.7.1"}
_EVENT_ONCE = ("UID", "DTSTAMP", "DTSTART", "DTEND", "DURATION", "CLASS", "CREATED",
               "DESCRIPTION", "GEO", "LAST-MODIFIED", "LOCATION", "ORGANIZER", "PRIORITY",
               "SEQUENCE", "STATUS", "SUMMARY", "TRANSP", "URL", "RECURRENCE-ID",
               "COLOR")  # fmt: skip
_WORDS = {
    "STATUS": ("3.8.1.11", {"TENTATIVE", "CONFIRMED", "CANCELLED"}),
    "TRANSP": ("3.8.2.7", {"OPAQUE", "TRANSPARENT"}),
}
_VALUE_NEEDED = {
    "REFRESH-INTERVAL": ("RFC 7986 5.7", {"DURATION"}),
    "SOURCE": ("RFC 7986 5.8", {"URI"}),
    "IMAGE": ("RFC 7986 5.10", {"URI", "BINARY"}),
}
# RFC 7986 5.9: the names of CSS Color Module Level 3, section 4.3, and no others. Written from
# memory and found equal to the list "css3" of the PyPI package webcolors 25.10.0.
_COLOURS = """
aliceblue antiquewhite aqua aquamarine azure beige bisque black blanchedalmond blue
blueviolet brown burlywood cadetblue chartreuse chocolate coral cornflowerblue cornsilk
crimson cyan darkblue darkcyan darkgoldenrod darkgray darkgreen darkgrey darkkhaki
darkmagenta darkolivegreen darkorange darkorchid darkred darksalmon darkseagreen
darkslateblue darkslategray darkslategrey darkturquoise darkviolet deeppink deepskyblue
dimgray dimgrey dodgerblue firebrick floralwhite forestgreen fuchsia gainsboro ghostwhite
gold goldenrod gray green greenyellow grey honeydew hotpink indianred indigo ivory khaki
lavender lavenderblush lawngreen lemonchiffon lightblue lightcoral lightcyan
lightgoldenrodyellow lightgray lightgreen lightgrey lightpink lightsalmon lightseagreen
lightskyblue lightslategray lightslategrey lightsteelblue lightyellow lime limegreen linen
magenta maroon mediumaquamarine mediumblue mediumorchid mediumpurple mediumseagreen
mediumslateblue mediumspringgreen mediumturquoise mediumvioletred midnightblue mintcream
mistyrose moccasin navajowhite navy oldlace olive olivedrab orange orangered orchid
palegoldenrod palegreen paleturquoise palevioletred papayawhip peachpuff peru pink plum
powderblue purple red rosybrown royalblue saddlebrown salmon sandybrown seagreen seashell
sienna silver skyblue slateblue slategray slategrey snow springgreen steelblue tan teal
thistle tomato turquoise violet wheat white whitesmoke yellow yellowgreen
"""
CSS3_NAMES = frozenset(_COLOURS.split())


def lint(data: bytes) -> list[Fault]:
    """Return every fault of a calendar, in line order."""
    faults = list(_wire_faults(data))
    lines, malformed = _content_lines(data)
    faults += malformed
    root, broken = _tree(lines)
    faults += broken
    faults += _calendar_faults(root)
    declared = {line.value for c in root.walk() if c.name == "VTIMEZONE" for line in c.all("TZID")}
    for component in root.walk():
        for line in component.lines:
            faults += _line_faults(line, component, declared)
        check = {"VEVENT": _event_faults, "VALARM": _alarm_faults, "VTIMEZONE": _zone_faults}
        faults += check.get(component.name, _no_faults)(component)
    faults += _nesting_faults(root)
    return sorted(faults)


def _wire_faults(data: bytes) -> Iterator[Fault]:
    if data.startswith(b"\xef\xbb\xbf"):
        yield Fault(1, "reader", "a byte order mark")
    if not data.endswith(b"\r\n"):
        yield Fault(data.count(b"\n") + 1, "3.1", "the last line has no CRLF")
    for at, raw in enumerate(data.split(b"\n")[:-1], start=1):
        if not raw.endswith(b"\r"):
            yield Fault(at, "3.1", "LF without CR")
        bare = raw.removesuffix(b"\r")
        if len(bare) > 75:
            yield Fault(at, "3.1", f"{len(bare)} octets, at most 75")
        try:
            text = bare.decode("utf-8")
        except UnicodeDecodeError:
            yield Fault(at, "3.1", "not UTF-8, or a character cut by a fold")
            continue
        if _CONTROL.search(text):
            yield Fault(at, "3.1", "a control character")
        if _SPLITTING.search(text):
            yield Fault(at, "reader", "U+0085, U+2028 or U+2029 splits the line in some readers")


def _content_lines(data: bytes) -> tuple[list[Line], list[Fault]]:
    lines, faults = [], []
    unfolded: list[tuple[int, str]] = []
    physical = data.decode("utf-8", errors="replace").split("\n")
    for at, raw in enumerate(physical[:-1] if physical[-1] == "" else physical, start=1):
        text = raw.removesuffix("\r")
        if text[:1] in (" ", "\t") and unfolded:
            unfolded[-1] = (unfolded[-1][0], unfolded[-1][1] + text[1:])
        else:
            unfolded.append((at, text))
    for at, text in unfolded:
        match = _CONTENT.fullmatch(text)
        if match is None:
            faults.append(Fault(at, "3.1", f"not a content line: {text[:40]!r}"))
            continue
        params = {k.upper(): v.strip('"') for k, v in _PARAM.findall(match["params"])}
        lines.append(Line(at, match["name"].upper(), params, match["value"]))
    return lines, faults


def _tree(lines: Sequence[Line]) -> tuple[Component, list[Fault]]:
    root = Component(0, "")
    open_ones, faults = [root], []
    for line in lines:
        inside = open_ones[-1]
        if line.name == "BEGIN":
            begun = Component(line.at, line.value.upper())
            inside.inner.append(begun)
            open_ones.append(begun)
        elif line.name == "END":
            if len(open_ones) == 1 or inside.name != line.value.upper():
                faults.append(Fault(line.at, "3.6", f"END:{line.value} closes nothing"))
            else:
                open_ones.pop()
        else:
            inside.lines.append(line)
    faults += [Fault(c.at, "3.6", f"{c.name} is never closed") for c in open_ones[1:]]
    return root, faults


def _calendar_faults(root: Component) -> Iterator[Fault]:
    if [c.name for c in root.inner] != ["VCALENDAR"] or root.lines:
        yield Fault(1, "3.4", "not exactly one VCALENDAR")
    for calendar in root.inner:
        yield from _once(calendar, ("PRODID", "VERSION"), "3.6", needed=True)
        yield from _once(calendar, ("CALSCALE", "METHOD", "COLOR", "REFRESH-INTERVAL"), "3.6")
        for line in calendar.all("VERSION"):
            if line.value != "2.0":
                yield Fault(line.at, "3.7.4", f"version {line.value}")
        for name in ("METHOD", "UID"):
            for line in calendar.all(name):
                yield Fault(line.at, "reader", f"{name} on the calendar")
        if not calendar.inner:
            yield Fault(calendar.at, "3.6", "a calendar without a component")
        yield from _uid_faults(calendar)


def _uid_faults(calendar: Component) -> Iterator[Fault]:
    seen: dict[str, int] = {}
    for event in calendar.inner:
        for line in event.all("UID") if not event.all("RECURRENCE-ID") else ():
            if line.value in seen:
                yield Fault(line.at, "3.8.4.7", f"the UID of line {seen[line.value]}")
            seen.setdefault(line.value, line.at)


def _nesting_faults(root: Component) -> Iterator[Fault]:
    for component in root.walk():
        for inner in component.inner:
            if inner.name == "VALARM" and component.name not in ("VEVENT", "VTODO"):
                yield Fault(inner.at, "3.6.6", "an alarm outside an event")
            if inner.name in ("VEVENT", "VTIMEZONE") and component.name != "VCALENDAR":
                yield Fault(inner.at, "3.6", f"{inner.name} inside {component.name or 'nothing'}")


def _line_faults(line: Line, inside: Component, declared: set[str]) -> Iterator[Fault]:
    if line.name in _MOMENTS:
        yield from _moment_faults(line, inside, declared)
    if line.name in _STAMPS and not _in_utc(line.value):
        yield Fault(line.at, _STAMPS[line.name], f"{line.name} is not a moment in UTC")
    if (line.name in _TEXTS and not _ESCAPED.fullmatch(line.value)) or (
        line.name in _TEXT_LISTS and not _ESCAPED_LIST.fullmatch(line.value)
    ):
        yield Fault(line.at, "3.3.11", f"{line.name} is not escaped")
    if line.name == "SEQUENCE" and not line.value.isdecimal():
        yield Fault(line.at, "3.8.7.4", f"sequence {line.value!r}")
    if line.name == "COLOR" and line.value.lower() not in CSS3_NAMES:
        yield Fault(line.at, "RFC 7986 5.9", f"{line.value!r} is no CSS3 colour name")
    if line.name in _VALUE_NEEDED:
        rule, kinds = _VALUE_NEEDED[line.name]
        if line.params.get("VALUE", "").upper() not in kinds:
            yield Fault(line.at, rule, f"{line.name} without its VALUE parameter")
    if line.name in ("REFRESH-INTERVAL", "X-PUBLISHED-TTL") and not _positive(line.value):
        yield Fault(line.at, "RFC 7986 5.7", f"{line.value!r} is no positive duration")


def _moment_faults(line: Line, inside: Component, declared: set[str]) -> Iterator[Fault]:
    kind = line.params.get("VALUE", "DATE-TIME").upper()
    if kind == "DATE" and not (_DATE.fullmatch(line.value) and _read(line.value)):
        yield Fault(line.at, "3.3.4", f"{line.value!r} is no date")
    if kind == "DATE-TIME" and not (_MOMENT.fullmatch(line.value) and _read(line.value)):
        remedy = ": VALUE=DATE is missing" if _DATE.fullmatch(line.value) else ""
        yield Fault(line.at, "3.3.5", f"{line.value!r} is no moment{remedy}")
    tzid = line.params.get("TZID")
    if tzid is not None and (kind == "DATE" or line.value.endswith("Z")):
        yield Fault(line.at, "3.2.19", "TZID on a date or on a moment in UTC")
    elif tzid is not None and tzid not in declared:
        yield Fault(line.at, "3.2.19", f"TZID {tzid!r} has no VTIMEZONE")
    local = kind == "DATE-TIME" and tzid is None and not line.value.endswith("Z")
    if local and inside.name not in ("STANDARD", "DAYLIGHT") and _MOMENT.fullmatch(line.value):
        yield Fault(line.at, "reader", "a floating moment")


def _event_faults(event: Component) -> Iterator[Fault]:
    yield from _once(event, ("UID", "DTSTAMP", "DTSTART"), "3.6.1", needed=True)
    yield from _once(event, _EVENT_ONCE[3:], "3.6.1")
    for line in event.all("UID"):
        if not 0 < len(line.value.encode()) <= 255:
            yield Fault(line.at, "RFC 7986 5.3", "a UID has 1 to 255 octets")
    for name, (rule, words) in _WORDS.items():
        for line in event.all(name):
            if line.value.upper() not in words:
                yield Fault(line.at, rule, f"{name}:{line.value}")
    ends = event.all("DTEND")
    if ends and event.all("DURATION"):
        yield Fault(ends[0].at, "3.6.1", "DTEND and DURATION")
    for start in event.all("DTSTART")[:1]:
        for end in ends[:1]:
            yield from _span_faults(start, end)


def _span_faults(start: Line, end: Line) -> Iterator[Fault]:
    first, last = _read(start.value), _read(end.value)
    if start.params.get("VALUE") != end.params.get("VALUE") or type(first) is not type(last):
        yield Fault(end.at, "3.8.2.2", "DTEND is of another kind than DTSTART")
    elif first and last and start.params.get("TZID") == end.params.get("TZID") and last <= first:
        yield Fault(end.at, "3.8.2.2", "DTEND is not later than DTSTART")


def _alarm_faults(alarm: Component) -> Iterator[Fault]:
    yield from _once(alarm, ("ACTION", "TRIGGER"), "3.6.6", needed=True)
    actions = [line.value.upper() for line in alarm.all("ACTION")]
    if "DISPLAY" in actions:
        yield from _once(alarm, ("DESCRIPTION",), "3.6.6", needed=True)
    if "EMAIL" in actions:
        yield from _once(alarm, ("DESCRIPTION", "SUMMARY"), "3.6.6", needed=True)
        if not alarm.all("ATTENDEE"):
            yield Fault(alarm.at, "3.6.6", "an EMAIL alarm without ATTENDEE")
    yield from _once(alarm, ("DURATION", "REPEAT"), "3.6.6")
    if len(alarm.all("DURATION")) != len(alarm.all("REPEAT")):
        yield Fault(alarm.at, "3.6.6", "DURATION and REPEAT go together")
    for line in alarm.all("TRIGGER"):
        yield from _trigger_faults(line)
    for line in alarm.all("UID"):
        yield Fault(line.at, "reader", "UID on an alarm")


def _trigger_faults(line: Line) -> Iterator[Fault]:
    if line.params.get("VALUE", "DURATION").upper() == "DATE-TIME":
        if not _in_utc(line.value) or "TZID" in line.params:
            yield Fault(line.at, "3.8.6.3", "an absolute trigger is a moment in UTC")
    elif not _DURATION.fullmatch(line.value):
        yield Fault(line.at, "3.8.6.3", f"trigger {line.value!r} is no duration")


def _zone_faults(zone: Component) -> Iterator[Fault]:
    yield from _once(zone, ("TZID",), "3.6.5", needed=True)
    rules = [c for c in zone.inner if c.name in ("STANDARD", "DAYLIGHT")]
    if not rules:
        yield Fault(zone.at, "3.6.5", "neither STANDARD nor DAYLIGHT")
    for rule in rules:
        yield from _once(rule, ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO"), "3.6.5", needed=True)
        for line in rule.all("DTSTART"):
            if line.value.endswith("Z") or "TZID" in line.params or "VALUE" in line.params:
                yield Fault(line.at, "3.6.5", "the onset is not a local moment")
        for name in ("TZOFFSETFROM", "TZOFFSETTO"):
            for line in rule.all(name):
                if not _OFFSET.fullmatch(line.value):
                    yield Fault(line.at, "3.3.14", f"{name}:{line.value}")


def _no_faults(_: Component) -> Iterator[Fault]:
    return iter(())


def _once(
    inside: Component, names: Sequence[str], rule: str, *, needed: bool = False
) -> Iterator[Fault]:
    for name in names:
        found = inside.all(name)
        if needed and not found:
            yield Fault(inside.at, rule, f"{inside.name} without {name}")
        for line in found[1:]:
            yield Fault(line.at, rule, f"a second {name}")


def _positive(value: str) -> bool:
    whole = _DURATION.fullmatch(value) is not None
    return whole and not value.startswith("-") and any(c in "123456789" for c in value)


def _in_utc(value: str) -> bool:
    return _MOMENT.fullmatch(value) is not None and value.endswith("Z") and _read(value) is not None


def _read(value: str) -> date | None:
    """Return the date or moment, None where it does not exist."""
    text = value.removesuffix("Z")
    try:
        if _DATE.fullmatch(text):
            return datetime.strptime(text, "%Y%m%d").date()  # noqa: DTZ007 - a date has no zone
        return datetime.strptime(text, "%Y%m%dT%H%M%S")  # noqa: DTZ007 - compared like with like
    except ValueError:
        return None
