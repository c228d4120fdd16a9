"""What a test found of a room's sensor, and which of several loggers counts.

In a tight box over a saturated solution of a salt, the air has a known humidity. Table salt: 75.7 %
at 10 and 20 deg C, 75.3 % at 25 (T. Padfield, "Properties of selected saturated salt solutions",
padfield.org/tim/cfys/satslt); 74.9 % at 0 deg C, 75.6 % at 30 (Wexler and Hasegawa, Journal of
Research of the National Bureau of Standards 53, 1954, p. 19: the abstract).
"""

from __future__ import annotations

import math
import re

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.readings import air_moved
from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.measured import DIAL
from scheduler.record.rows import Value
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import names, wording
from scheduler.words.problems import BadInput

SALT_PCT = 75.5
"""The humidity [%] over table salt at the temperatures of a room, within half a point."""

MOST_POINTS = 50.0
WORN_POINTS = 15.0
"""A sensor that is further off is worn; correcting it trusts it too much.

Common practice, no source.
"""

DAMPER = "damper"
"""Stands for choosing no logger: of several the damper one counts, hour by hour."""


def correct_sensor(
    store: Store,
    rules: Rulebook,
    room: str,
    points: str,
    when: When,
    sensor: str | None = None,
) -> Outcome:
    """Record that `points` are added to a sensor's humidity from `when.at` on.

    This holds until the next correction of that sensor; 0 ends one. What was read stays as it was
    read. sensor: a logger's name or "dial", None: the room's only one. Raises BadInput when there
    are several, or none of that name.
    """
    add = _points(points)
    with store.deed(when, "air") as deed:
        before = view_of(store, rules, when.now)
        where = names.find(room, before.rooms, "room").room
        which = _sensor(before, where, sensor)
        since = wording.moment(before.local(when.at), when.now)
        deed.text = f"{where}: {add:+g} points on what its {_said(which)} says, from {since} on"
        _put_offset(deed, where, which, add)
        after = view_of(store, rules, when.now)
    if deed.line is None:
        return Outcome((f"{deed.text}: is recorded already",))
    warnings = []
    if abs(add) > WORN_POINTS:
        warnings.append(
            f"a sensor that is {abs(add):g} points off is worn, and will be off by another amount "
            "in other air: replace it"
        )

    def tell() -> Outcome:
        return Outcome((deed.text, *air_moved(store, before, after)), tuple(warnings))

    return told(deed, tell)


def salt_test(
    store: Store, rules: Rulebook, room: str, read: str, when: When, sensor: str | None = None
) -> Outcome:
    """Record what a sensor read over damp table salt: it is corrected to 75.5 %.

    Raises BadInput for a reading that is not 50 to 100 %.
    """
    value = _number(read, "--salt")
    if not 50 <= value <= 100:
        raise BadInput(f"--salt {read!r}: over damp table salt a sensor reads 50 to 100 %")
    return correct_sensor(store, rules, room, f"{SALT_PCT - value:.1f}", when, sensor)


def count_logger(store: Store, rules: Rulebook, room: str, logger: str, when: When) -> Outcome:
    """Record which of a room's loggers counts, for all times.

    "damper" lets the damper one of each hour count again. Raises BadInput for a logger that the
    room does not have.
    """
    with store.deed(when, "air") as deed:
        before = view_of(store, rules, when.now)
        where = names.find(room, before.rooms, "room").room
        which = DAMPER if logger.casefold() == DAMPER else _logger(before, where, logger)
        deed.text = (
            f"{where}: the damper of its loggers counts, hour by hour"
            if which == DAMPER
            else f"{where}: {which} counts, the others where it says nothing"
        )
        deed.put("counting_logger", {"room": where, "logger": which})
        after = view_of(store, rules, when.now)
    if deed.line is None:
        return Outcome((f"{deed.text}: is recorded already",))
    return told(deed, lambda: Outcome((deed.text, *air_moved(store, before, after))))


def _put_offset(deed: Deed, room: str, sensor: str, points: float) -> None:
    key = {"room": room, "sensor": sensor, "since": rows.moment_text(deed.when.at)}
    there = deed.db.execute(
        "SELECT id FROM sensor_offset WHERE room = :room AND sensor = :sensor AND since = :since",
        key,
    ).fetchone()
    if there is not None:
        deed.update("sensor_offset", there["id"], {"points": points})
        return
    row: dict[str, Value] = {**key, "points": points}
    deed.insert("sensor_offset", row)


def _sensor(view: View, room: str, named: str | None) -> str:
    if named is not None:
        return DIAL if named.casefold() == DIAL else _logger(view, room, named)
    loggers = list(view.facts.loggers_of(room))
    if len(loggers) == 1:
        return loggers[0]
    if not loggers and view.facts.dials_of(room):
        return DIAL
    if not loggers:
        raise BadInput(f"nothing was read in {room} yet: there is no sensor to correct")
    raise BadInput(f"{room} has {wording.listed(loggers)}. Say which with --logger NAME")


def _logger(view: View, room: str, named: str) -> str:
    known = list(view.facts.loggers_of(room))
    found = next((k for k in known if k.casefold() == named.casefold()), None)
    if found is None:
        has = f"it has {wording.listed(known)}" if known else "it has none yet"
        raise BadInput(f"{room} has no logger {named!r}: {has}")
    return found


def _said(sensor: str) -> str:
    return sensor if sensor in (DIAL, "logger") else f"logger {sensor}"


def _points(text: str) -> float:
    value = _number(text, "--correct")
    if abs(value) > MOST_POINTS:
        raise BadInput(
            f"--correct {text!r} is more than {MOST_POINTS:g} points. Is the sign right?"
        )
    return value


def _number(text: str, option: str) -> float:
    try:
        value = float(re.sub(r"\s*%$", "", text).replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadInput(f"{option} {text!r} is no number. Write points, as in --correct +3")
    return value
