"""The lint finds nothing in a sound calendar and each planted fault by its section."""

from __future__ import annotations

import pytest
from calendar_lint import CSS3_NAMES, lint

SOUND = """\
BEGIN:VCALENDAR
PRODID:-//lint//test//EN
VERSION:2.0
NAME:Bench\\, north room
COLOR:seagreen
REFRESH-INTERVAL;VALUE=DURATION:PT1H
BEGIN:VTIMEZONE
TZID:Europe/Vienna
BEGIN:STANDARD
DTSTART:19701025T030000
RRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU
TZOFFSETFROM:+0200
TZOFFSETTO:+0100
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:19700329T020000
RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=-1SU
TZOFFSETFROM:+0100
TZOFFSETTO:+0200
END:DAYLIGHT
END:VTIMEZONE
BEGIN:VEVENT
UID:6f0c0f0e-5d0b-5a6e-9c55-0b6f6f2f7a10
DTSTAMP:20270508T090000Z
LAST-MODIFIED:20270508T090000Z
SEQUENCE:0
DTSTART;VALUE=DATE:20270522
DTEND;VALUE=DATE:20270523
STATUS:CONFIRMED
TRANSP:TRANSPARENT
SUMMARY:Board B3\\; free it
DESCRIPTION:one\\ntwo\\\\three: "four"
CATEGORIES:bench,board
BEGIN:VALARM
ACTION:DISPLAY
TRIGGER:-PT15H
DESCRIPTION:Board B3
END:VALARM
END:VEVENT
BEGIN:VEVENT
UID:second
DTSTAMP:20270508T090000Z
DTSTART;TZID=Europe/Vienna:20270508T090000
DTEND;TZID=Europe/Vienna:20270508T113000
SUMMARY:At the bench
END:VEVENT
END:VCALENDAR
"""


def on_the_wire(text: str) -> bytes:
    return text.replace("\n", "\r\n").encode()


def planted(old: str, new: str) -> bytes:
    assert old in SOUND
    return on_the_wire(SOUND.replace(old, new, 1))


def test_a_sound_calendar_has_no_fault() -> None:
    assert lint(on_the_wire(SOUND)) == []


def test_rfc_5545_section_4_first_example_has_no_fault() -> None:
    # The first example of section 4, with its own folding and escapes.
    example = """\
BEGIN:VCALENDAR
PRODID:-//xyz Corp//NONSGML PDA Calendar Version 1.0//EN
VERSION:2.0
BEGIN:VEVENT
DTSTAMP:19960704T120000Z
UID:uid1@example.com
ORGANIZER:mailto:jsmith@example.com
DTSTART:19960918T143000Z
DTEND:19960920T220000Z
STATUS:CONFIRMED
CATEGORIES:CONFERENCE
SUMMARY:Networld+Interop Conference
DESCRIPTION:Networld+Interop Conference
  and Exhibit\\nAtlanta World Congress Center\\n
 Atlanta\\, Georgia
END:VEVENT
END:VCALENDAR
"""
    assert lint(on_the_wire(example)) == []


FAULTS = [
    ("control character", "3.1", "one\\n", "one\x07\\n"),
    ("DEL", "3.1", "one\\n", "one\x7f\\n"),
    ("next line U+0085", "reader", "one\\n", "one\x85\\n"),
    ("line separator U+2028", "reader", "one\\n", "one\u2028\\n"),
    ("line too long", "3.1", "SUMMARY:At", "SUMMARY:" + "a" * 68 + "At"),
    ("line of 76 octets, fewer characters", "3.1", "SUMMARY:At the bench", "SUMMARY:" + "ü" * 34),
    ("not a content line", "3.1", "SUMMARY:At the bench", "At the bench"),
    ("empty line", "3.1", "SUMMARY:At the bench", ""),
    ("unescaped semicolon", "3.3.11", "B3\\; free", "B3; free"),
    ("unescaped comma", "3.3.11", "Bench\\, north", "Bench, north"),
    ("stray backslash", "3.3.11", "two\\\\three", "two\\three\\"),
    ("semicolon in a list of texts", "3.3.11", "bench,board", "bench;board"),
    ("VALUE=DATE missing", "3.3.5", "DTSTART;VALUE=DATE:20270522", "DTSTART:20270522"),
    ("date that does not exist", "3.3.4", "DATE:20270522", "DATE:20270230"),
    ("hour that does not exist", "3.3.5", "20270508T113000", "20270508T253000"),
    ("floating moment", "reader", "DTSTART;TZID=Europe/Vienna:", "DTSTART:"),
    ("TZID without VTIMEZONE", "3.2.19", "DTEND;TZID=Europe/Vienna", "DTEND;TZID=Europe/Riga"),
    ("TZID on a date", "3.2.19", "DTEND;VALUE=DATE", "DTEND;TZID=Europe/Vienna;VALUE=DATE"),
    ("TZID on a moment in UTC", "3.2.19", "20270508T113000", "20270508T113000Z"),
    ("end on the start", "3.8.2.2", "DATE:20270523", "DATE:20270522"),
    ("end before the start", "3.8.2.2", "20270508T113000", "20270508T083000"),
    ("end of another kind", "3.8.2.2", "DTEND;VALUE=DATE:20270523", "DTEND:20270523T000000Z"),
    ("end and duration", "3.6.1", "SEQUENCE:0", "DURATION:P1D"),
    ("no UID", "3.6.1", "UID:second\n", ""),
    ("no DTSTAMP", "3.6.1", "DTSTAMP:20270508T090000Z\n", ""),
    ("no DTSTART", "3.6.1", "DTSTART;VALUE=DATE:20270522\n", ""),
    ("second SUMMARY", "3.6.1", "SUMMARY:At", "SUMMARY:a\nSUMMARY:At"),
    ("local DTSTAMP", "3.8.7.2", "DTSTAMP:20270508T090000Z", "DTSTAMP:20270508T090000"),
    ("local LAST-MODIFIED", "3.8.7.3", "IFIED:20270508T090000Z", "IFIED:20270508T090000"),
    ("negative sequence", "3.8.7.4", "SEQUENCE:0", "SEQUENCE:-1"),
    ("one UID twice", "3.8.4.7", "UID:second", "UID:6f0c0f0e-5d0b-5a6e-9c55-0b6f6f2f7a10"),
    ("UID too long", "RFC 7986 5.3", "UID:second", "UID:" + "\n ".join(["a" * 64] * 4)),
    ("status of a to-do", "3.8.1.11", "CONFIRMED", "COMPLETED"),
    ("transparency", "3.8.2.7", "TRANSP:TRANSPARENT", "TRANSP:FREE"),
    ("colour by number", "RFC 7986 5.9", "COLOR:seagreen", "COLOR:#2e8b57"),
    ("refresh without VALUE", "RFC 7986 5.7", ";VALUE=DURATION:PT1H", ":PT1H"),
    ("refresh of nothing", "RFC 7986 5.7", "DURATION:PT1H", "DURATION:PT0S"),
    ("source without VALUE", "RFC 7986 5.8", "COLOR:seagreen", "SOURCE:https://example.com/a"),
    ("method", "reader", "VERSION:2.0", "VERSION:2.0\nMETHOD:PUBLISH"),
    ("calendar UID", "reader", "VERSION:2.0", "VERSION:2.0\nUID:frame"),
    ("other version", "3.7.4", "VERSION:2.0", "VERSION:1.0"),
    ("no version", "3.6", "VERSION:2.0\n", ""),
    ("no product", "3.6", "PRODID:-//lint//test//EN\n", ""),
    ("alarm without action", "3.6.6", "ACTION:DISPLAY\n", ""),
    ("alarm without trigger", "3.6.6", "TRIGGER:-PT15H\n", ""),
    ("alarm without text", "3.6.6", "DESCRIPTION:Board B3\n", ""),
    ("alarm with duration alone", "3.6.6", "TRIGGER:-PT15H", "TRIGGER:-PT15H\nDURATION:PT5M"),
    ("mail alarm without address", "3.6.6", "ACTION:DISPLAY", "ACTION:EMAIL\nSUMMARY:a"),
    ("alarm UID", "reader", "TRIGGER:-PT15H", "TRIGGER:-PT15H\nUID:alarm"),
    ("trigger no duration", "3.8.6.3", "TRIGGER:-PT15H", "TRIGGER:-15H"),
    ("absolute trigger, no VALUE", "3.8.6.3", "TRIGGER:-PT15H", "TRIGGER:20270508T090000Z"),
    (
        "absolute trigger, local",
        "3.8.6.3",
        "TRIGGER:-PT15H",
        "TRIGGER;VALUE=DATE-TIME:20270508T090000",
    ),
    ("alarm outside an event", "3.6.6", "BEGIN:VTIMEZONE", "BEGIN:VALARM\nACTION:AUDIO\n"
     "TRIGGER:PT0S\nEND:VALARM\nBEGIN:VTIMEZONE"),
    ("zone without an id", "3.6.5", "TZID:Europe/Vienna\n", ""),
    ("onset in UTC", "3.6.5", "DTSTART:19701025T030000", "DTSTART:19701025T010000Z"),
    ("no offset before", "3.6.5", "TZOFFSETFROM:+0200\n", ""),
    ("offset in minutes only", "3.3.14", "TZOFFSETTO:+0100", "TZOFFSETTO:+60"),
    ("minus nought", "3.3.14", "TZOFFSETTO:+0100", "TZOFFSETTO:-0000"),
    ("END of another", "3.6", "END:VALARM", "END:VTODO"),
    ("never closed", "3.6", "END:VCALENDAR\n", ""),
]  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "old", "new"), [f[1:] for f in FAULTS], ids=[f"{f[1]}: {f[0]}" for f in FAULTS]
)
def test_a_planted_fault_is_found(rule: str, old: str, new: str) -> None:
    assert rule in [fault.rule for fault in lint(planted(old, new))]


@pytest.mark.parametrize(
    ("rule", "data"),
    [
        pytest.param("3.1", on_the_wire(SOUND).replace(b"\r\n", b"\n"), id="3.1: bare LF"),
        pytest.param("3.1", on_the_wire(SOUND)[:-2], id="3.1: no CRLF at the end"),
        pytest.param(
            "3.1",
            on_the_wire(SOUND).replace(b"At the bench", b"Zygaena \xc3\r\n \xa4"),
            id="3.1: a character cut by a fold",
        ),
        pytest.param("3.1", on_the_wire(SOUND).replace(b"At the", b"\xe4"), id="3.1: not UTF-8"),
        pytest.param("reader", b"\xef\xbb\xbf" + on_the_wire(SOUND), id="reader: byte order mark"),
        pytest.param("3.4", on_the_wire(SOUND) * 2, id="3.4: two calendars"),
        pytest.param("3.4", b"", id="3.4: nothing"),
        pytest.param(
            "3.6",
            b"BEGIN:VCALENDAR\r\nPRODID:a\r\nVERSION:2.0\r\nEND:VCALENDAR\r\n",
            id="3.6: an empty frame",
        ),
        pytest.param(
            "3.6.5",
            b"BEGIN:VCALENDAR\r\nPRODID:a\r\nVERSION:2.0\r\nBEGIN:VTIMEZONE\r\nTZID:UTC\r\n"
            b"END:VTIMEZONE\r\nEND:VCALENDAR\r\n",
            id="3.6.5: a zone without a rule",
        ),
    ],
)
def test_a_faulty_frame_is_found(rule: str, data: bytes) -> None:
    assert rule in [fault.rule for fault in lint(data)]


def test_a_fault_names_its_line() -> None:
    line = SOUND[: SOUND.index("SEQUENCE")].count("\n") + 1
    (fault,) = lint(planted("SEQUENCE:0", "SEQUENCE:x"))
    assert (fault.line, fault.rule) == (line, "3.8.7.4")


def test_a_folded_line_is_read_whole() -> None:
    folded = planted("SUMMARY:At the bench", "SUMMARY:At the\n  be\n\tnch\\, all day")
    assert lint(folded) == []


def test_css3_has_147_colour_names() -> None:
    # CSS Color Module Level 3, section 4.3, with both spellings of grey (webcolors 25.10.0).
    assert len(CSS3_NAMES) == 147
