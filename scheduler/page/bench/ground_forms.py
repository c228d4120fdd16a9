"""The deeds about bench time, boards, rooms and settings, each as a form with its fields."""

from __future__ import annotations

from datetime import date

from scheduler.deeds import rooms, sensors
from scheduler.deeds.away import set_away, set_there
from scheduler.deeds.outcome import Outcome
from scheduler.deeds.places import put_boards, put_room
from scheduler.deeds.sessions import Asked, set_session
from scheduler.deeds.settings import known_zones, set_settings
from scheduler.page.bench.forms import (
    DeedForm,
    Field,
    Given,
    boards_of_record,
    rooms_of_record,
)
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words import cautions, repeats
from scheduler.words.people import people_of
from scheduler.words.problems import BadInput
from scheduler.words.records import REFILLS, REGIMES, Refill

_REGIMES = {"room": "ordinary air", "desiccant": "a box with desiccant", "warm": "a warm cabinet"}
_REFILLS = {
    "any": "wherever there is room",
    "end": "only to the right of what dries on it",
    "whole": "only when it is empty",
}
BOARD_COLUMNS = ("groove_mm", "span_mm", "length_mm", "room", "count", "refill")
ROOM_COLUMNS = ("regime", "rh_pct", "temp_c")
SETTING_COLUMNS = ("timezone", "chamber_places", "chamber_time", "protected")


def _session(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    """Record one session, or one every week on the weekday of the given day."""
    day, clock, minutes = given.text("day"), given.text("clock"), given.maybe("minutes")
    if not given.ticked("weekly"):
        until = None
        words = tuple(filter(None, (day, clock)))
    else:
        until = given.maybe("until")
        words = (f"{_weekday(day)} {clock or '09:00'}",)
    return set_session(store, rules, Asked(words, minutes, until, given.maybe("person")), when)


def _weekday(text: str) -> str:
    try:
        return repeats.WEEKDAY_WORDS[date.fromisoformat(text).weekday()]
    except ValueError:
        raise BadInput(f"{text!r} is no day. Write it as 2027-05-08") from None


def _away(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    record = set_there if given.ticked("there") else set_away
    return record(
        store, rules, given.text("first"), given.text("last"), given.maybe("person"), when
    )


def _minutes(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    minutes = "0" if given.ticked("cancel") else given.maybe("minutes")
    return set_session(store, rules, Asked((given.text("session"),), minutes, None), when)


def _board(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    use = given.text("use")
    refill: Refill | None = next((r for r in REFILLS if r == given.text("refill")), None)
    out = None if use not in ("in", "out") else use == "out"
    return rooms.set_board(store, rules, given.text("board"), out=out, refill=refill, when=when)


def _dial(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    room, rh, temp = given.text("room"), given.text("rh", 20), given.maybe("temp")
    return rooms.read_dial(store, rules, room, rh, temp, when)


def _sensor(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    room, logger = given.text("room"), given.maybe("logger")
    correct, salt = given.maybe("correct"), given.maybe("salt")
    if correct is not None and salt is not None:
        raise BadInput("give the points or the salt test, not both")
    if correct is not None:
        return sensors.correct_sensor(store, rules, room, correct, when, logger)
    if salt is not None:
        return sensors.salt_test(store, rules, room, salt, when, logger)
    if logger is not None:
        return sensors.count_logger(store, rules, room, logger, when)
    raise BadInput("what about its sensor? Fill in one of the fields")


def _zones(_: View) -> list[tuple[str, str]]:
    return [(zone, zone.replace("_", " ")) for zone in known_zones()]


def _persons(view: View) -> list[tuple[str, str]]:
    return [(name, name) for name in people_of(view.sessions.values())]


def _sessions(view: View) -> list[tuple[str, str]]:
    return [(s.session, f"{s.session}, {s.minutes} min") for s in view.sessions_ahead]


GROUND_FORMS: tuple[DeedForm, ...] = (
    DeedForm(
        "session", "Bench time", "Set the time",
        (
            Field("day", "Day", "date", need=True),
            Field("clock", "From", "clock", note="Empty: 09:00."),
            Field("minutes", "Minutes", "number", need=True),
            Field("weekly", "Every week on that weekday", "tick"),
            Field("until", "Until", "date", note="The last day, if it is every week."),
            Field("person", "Whose it is, if several mount", more=True),
        ),
        _session, when=False,
        lead="When you have time to mount. The plan fills it.",
    ),
    DeedForm(
        "minutes", "Change a session's minutes", "Set the minutes",
        (
            Field("session", "Session", "choice", need=True, choices=_sessions),
            Field("minutes", "Minutes", "number"),
            Field("cancel", "Nobody comes: cancel it", "tick"),
        ),
        _minutes, when=False,
    ),
    DeedForm(
        "away", "Days off", "Away",
        (
            Field("first", "From", "date", need=True),
            Field("last", "To", "date", need=True, note="Both days are off."),
            Field("person", "Who is away", "choice", choices=_persons, more=True,
                note="Not said: everybody."),
            Field("there", "Somebody is there after all: these are no days off", "tick"),
        ),
        _away,
        when=False, lead="No session is planned in them.",
    ),
    DeedForm(
        "move", "Carried into another room", "It stands there now",
        (
            Field("board", "Board", "choice", need=True, choices=boards_of_record),
            Field("room", "Room", "choice", need=True, choices=rooms_of_record),
        ),
        lambda s, r, g, w: rooms.move(s, r, g.text("board"), g.text("room"), w),
        caution=cautions.WARM,
    ),
    DeedForm(
        "use", "In use, and how it is refilled", "Say so",
        (
            Field("board", "Board", "choice", need=True, choices=boards_of_record),
            Field("use", "It is", "choice", choices=lambda _: [("in", "in use"), ("out", "out")]),
            Field("refill", "New ones join", "choice", choices=lambda _: _REFILLS.items()),
        ),
        _board, when=False,
        lead="Nothing is planned on a board that is out; what stands on it stays.",
    ),
    DeedForm(
        "dial", "Read off a dial", "Read off",
        (
            Field("room", "Room", "choice", need=True, choices=rooms_of_record),
            Field("rh", "The dial says, %", "number", need=True),
            Field("temp", "and °C, if it says so"),
        ),
        _dial,
    ),
    DeedForm(
        "sensor", "Its sensor reads wrong", "Say so",
        (
            Field("room", "Room", "choice", need=True, choices=rooms_of_record),
            Field("correct", "Add so many points", note="+3 or -2; 0 ends a correction."),
            Field("salt", "or: over damp table salt it read, %", "number"),
            Field("logger", "Which sensor",
                note="A logger's name, or dial. If nothing else is filled in, this logger counts."),
        ),
        _sensor,
    ),
    DeedForm(
        "room", "A room", "This is a room",
        (
            Field("room", "Its name", need=True, note="study"),
            Field("regime", "It has", "choice",
                choices=lambda _: [(r, _REGIMES.get(r, r)) for r in REGIMES]),
            Field("rh_pct", "Usual humidity, %", "number",
                note="A guess will do; a dial that is read takes its place."),
            Field("temp_c", "Usual warmth, °C", "number"),
        ),
        lambda s, r, g, w: put_room(s, r, g.text("room"), g.filled(ROOM_COLUMNS), w), when=False,
    ),
    DeedForm(
        "boards", "A board", "This is a board",
        (
            Field("board", "Its name", need=True, note="B1, as written on it"),
            Field("groove_mm", "Groove, mm", "number", need=True),
            Field("length_mm", "Length, mm", "number", need=True),
            Field("span_mm", "Width across, mm", "number", need=True),
            Field("room", "Stands in", "choice", need=True, choices=rooms_of_record),
            Field("count", "How many that are alike", "number", more=True),
            Field("refill", "New ones join", "choice", more=True,
                choices=lambda _: _REFILLS.items()),
        ),
        lambda s, r, g, w: put_boards(s, r, g.text("board"), g.filled(BOARD_COLUMNS), w),
        when=False,
    ),
    DeedForm(
        "settings", "Settings for the whole record", "Keep it so",
        (
            Field("timezone", "Time zone", "choice", choices=_zones),
            Field("chamber_places", "Places in the relaxing chamber", "number"),
            Field("chamber_time", "Hour at which you look after the chamber", "clock"),
            Field("protected", "Warn me of protected ones",
                note="Species, genera or families, with commas between."),
        ),
        lambda s, _, g, w: set_settings(s, g.filled(SETTING_COLUMNS), w), when=False,
        lead="An empty field stays as it is.",
    ),
)  # fmt: skip
