"""How long the dates of 5,000 specimens take over five years of hourly air in three rooms.

Run it from the checkout: `python tests/bench/drying_sums.py`. Every body is different, which is
the worst case: nothing can be shared. Setting up the rooms, due, clear and progress count; the
imports and the making of the air do not. A sample is checked against the hour-by-hour sum.
"""

from __future__ import annotations

import math
import random
import time
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from scheduler.air.hours import NO_HUMIDITY, Hours
from scheduler.air.room_air import room_air
from scheduler.drying.sums import BodyDrying, Rates, RoomDrying
from scheduler.rulebook import Rulebook, load_rulebook

SEED = 5
SPECIMENS = 5_000
DAYS = 1_826
ASSUMED_PCT = 60.0
MOST_SECONDS = 1.0
ZONE = ZoneInfo("Europe/Berlin")
FIRST = date(2022, 1, 1)
NOW = datetime(2027, 1, 3, 12, 30)  # noqa: DTZ001 - local wall clock


def some_air(chance: random.Random, mean_pct: float) -> dict[date, Hours]:
    """Return five years of wandering air; one hour in fifty is not read."""
    days, drift = {}, 0.0
    for day in range(DAYS):
        rh: list[float | None] = []
        for hour in range(24):
            drift = 0.97 * drift + chance.gauss(0, 2.2)
            value = mean_pct + drift + 5 * math.sin(hour * math.pi / 12)
            rh.append(None if chance.random() < 0.02 else min(100.0, max(0.0, value)))
        temp = [19 + 2 * math.sin(hour / 4) for hour in range(24)]
        days[FIRST + timedelta(days=day)] = Hours.of(rh, temp)
    return days


def hour_by_hour(mine: BodyDrying, rules: Rulebook, body_mm: float, begin: datetime) -> float:
    """Return the days at 50 % up to now as the plain sum over hours."""
    air = mine.room.air
    total = 0.0
    for hour in range(int(air.hour_of(begin)), air.known_hours):
        value = air.counting[hour]
        rh_pct = ASSUMED_PCT if value == NO_HUMIDITY else value / 100
        total += rules.rate(body_mm, rh_pct)
    return (total + (air.hour_of(NOW) - air.known_hours) * mine.expected_rate) / 24


def main() -> int:
    """Measure, print, and say whether it is within the bar."""
    chance, rules = random.Random(SEED), load_rulebook()
    rooms = {room: some_air(chance, pct) for room, pct in (("a", 60), ("b", 70), ("c", 76))}
    midnight = datetime(2022, 1, 1)  # noqa: DTZ001 - local wall clock
    specimens = [
        (
            chance.uniform(0.8, 15),
            chance.choice(sorted(rooms)),
            midnight + timedelta(days=chance.randrange(DAYS)),
            chance.uniform(3, 28),
        )
        for _ in range(SPECIMENS)
    ]
    begin = time.perf_counter()
    rates = Rates(rules)
    drying = {
        room: RoomDrying(room_air(days, zone=ZONE, dial_days=3), rates, ASSUMED_PCT)
        for room, days in rooms.items()
    }
    answers = []
    for body_mm, room, mounted, days in specimens:
        mine = drying[room].of(body_mm)
        due = mine.first_morning(mounted, None, days)
        clear = mine.first_morning(mounted, None, 1.5 * days)
        answers.append((due, clear, mine.between(mounted, NOW)))
    seconds = time.perf_counter() - begin
    for (body_mm, room, mounted, _), (_, _, had) in list(zip(specimens, answers, strict=True))[:40]:
        plain = hour_by_hour(drying[room].of(body_mm), rules, body_mm, mounted)
        assert math.isclose(had, plain, rel_tol=1e-9), (body_mm, room, had, plain)
    print(
        f"{SPECIMENS} specimens, {DAYS} days, 3 rooms: {seconds:.2f} s (at most {MOST_SECONDS:g})"
    )
    return 0 if seconds <= MOST_SECONDS else 1


if __name__ == "__main__":
    raise SystemExit(main())
