"""Invented planning problems of four sizes, the same for the same size and seed.

Basis: memory. The shares of the families, their wingspans, bodies and slots, the boards, the
minutes and the sessions are made up to look like a moth trap's season; no collection was
measured. Days on the board follow the straight lines of the shipped rule table at 50 %
(transcribed below), times a factor for each room's air.

Three things make the usual problems easy, and each can be set otherwise: boards are long and
bought in few types (`length`, `stock`), the minutes are a good share of what everyone would
take (`minutes`), and the chamber hardly ever fills (`places`). Up to
season size there are three sessions a week at most.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from random import Random
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from stock import ROOMS, Board, Fits, Stock, boards_of

from scheduler.planner.problem import (
    BoardDays,
    PlanProblem,
    PlanSession,
    PlanStanding,
    PlanWaiting,
    Weights,
)

ZONE = ZoneInfo("Europe/Vienna")
NOW = datetime(2027, 5, 3, 9, tzinfo=ZONE)


@dataclass(frozen=True)
class Size:
    """How many of what.

    `weekdays` on which sessions are held, Monday is 0; `arrive_within` that part of the time
    specimens come in (0: all are there); `places` in the chamber; `standing` is how much of
    the boards is taken; `minutes` the share of all hands-on minutes that the sessions have.
    """

    boards: int
    specimens: int
    sessions: int
    weekdays: frozenset[int]
    arrive_within: float
    places: int
    standing: float
    minutes: float
    length: float = 1.0
    stock: Stock = "sets"


SIZES: Mapping[str, Size] = {
    "weekend": Size(12, 40, 2, frozenset({5, 6}), 0.0, 40, 0.6, 0.75),
    "played": Size(12, 120, 12, frozenset({1, 3, 5}), 0.7, 40, 0.6, 0.7),
    "season": Size(30, 400, 20, frozenset({1, 3, 5}), 0.85, 80, 0.6, 0.6),
    "museum": Size(300, 5_000, 60, frozenset(range(5)), 0.85, 400, 0.6, 0.85),
    "stress": Size(2_000, 50_000, 104, frozenset(range(5)), 0.85, 2_400, 0.6, 0.85),
}


class Family(NamedTuple):
    """Share of what comes in, wingspan (mm), and body and slot as parts of the wingspan."""

    name: str
    share: int
    wingspan_mm: float
    spread: float
    body: float
    slot: float


FAMILIES = (
    Family("Geometridae", 16, 34, 0.22, 0.09, 0.68),
    Family("Noctuidae", 26, 40, 0.18, 0.16, 0.60),
    Family("Erebidae", 12, 52, 0.28, 0.13, 0.65),
    Family("Notodontidae", 8, 50, 0.15, 0.15, 0.58),
    Family("Lasiocampidae", 6, 58, 0.20, 0.16, 0.62),
    Family("Sphingidae", 12, 82, 0.22, 0.15, 0.60),
    Family("Saturniidae", 6, 110, 0.25, 0.10, 0.70),
    Family("Nymphalidae", 8, 58, 0.18, 0.08, 0.68),
    Family("Crambidae", 6, 25, 0.15, 0.10, 0.62),
)


FRESH_DAYS = ((1.5, 7, 10), (4.5, 14, 14), (8, 14, 21), (12, 21, 28), (16, 28, 35))
DRIED_DAYS = ((1.5, 2, 4), (4.5, 4, 7), (8, 7, 10), (12, 7, 14), (16, 10, 14))


def instance(
    size: str,
    seed: int,
    length: float = 1.0,
    *,
    minutes: float | None = None,
    places: int | None = None,
    stock: Stock = "sets",
) -> PlanProblem:
    """Return the invented problem of a size; boards `length` times as long as usual.

    `minutes` (share of the demand) and `places` (of the chamber) are those of the size unless
    given. The same arguments give the same problem.
    """
    wanted = replace(SIZES[size], length=length, stock=stock)
    wanted = replace(wanted, minutes=wanted.minutes if minutes is None else minutes)
    wanted = replace(wanted, places=wanted.places if places is None else places)
    rng = Random(f"{size}/{seed}")
    starts = _starts(wanted)
    horizon = (starts[-1].date() - NOW.date()).days
    boards = boards_of(rng, wanted.boards, wanted.length, wanted.stock)
    fits = Fits(boards)
    rough = [_specimen(rng, n, wanted, horizon, fits) for n in range(wanted.specimens)]
    demand = sum(one["minutes"] + 3 for one in rough)
    sessions = _sessions(rng, starts, demand * wanted.minutes / wanted.sessions)
    window = _Window(sessions)
    return PlanProblem(
        now=NOW,
        timezone=ZONE.key,
        end=sessions[-1].on + timedelta(days=30),
        chamber_places=wanted.places,
        chamber_time=time(20, 0),
        take_off_min=3,
        boards=tuple(one.board for one in boards),
        standing=tuple(_standing(rng, boards, wanted.standing)),
        sessions=tuple(sessions),
        waiting=tuple(window.waiting(one) for one in rough),
        weights=Weights(late_days=2, left_days=100, off_sessions=3),
    )


def _starts(size: Size) -> list[datetime]:
    starts: list[datetime] = []
    day = NOW.date() + timedelta(days=1)
    while len(starts) < size.sessions:
        if day.weekday() in size.weekdays:
            hour = 10 if day.weekday() == 6 else 14
            starts.append(datetime.combine(day, time(hour), ZONE))
        day += timedelta(days=1)
    return starts


def _sessions(rng: Random, starts: Sequence[datetime], mean_min: float) -> list[PlanSession]:
    found = []
    for n, start in enumerate(starts):
        minutes = max(60, round(mean_min * rng.uniform(0.65, 1.35) / 15) * 15)
        found.append(PlanSession(f"S{n + 1:03d}", start, minutes))
    return found


def days_for(body_mm: float, dried: bool, factor: float) -> BoardDays:
    """Return least and plan days on the board."""
    table = DRIED_DAYS if dried else FRESH_DAYS
    bodies = [row[0] for row in table]
    n = min(max(1, bisect_left(bodies, body_mm)), len(table) - 1)
    low, high = table[n - 1], table[n]
    part = min(1.0, max(0.0, (body_mm - low[0]) / (high[0] - low[0])))
    least = (low[1] + part * (high[1] - low[1])) * factor
    usual = (low[2] + part * (high[2] - low[2])) * factor
    return BoardDays(int(-(-least // 1)), int(-(-usual // 1)), ("invented",), "memory")


def _room_days(body: float, dried: bool) -> dict[str, BoardDays | None]:
    return {
        room: None if room == "cellar" and body > 8 else days_for(body, dried, factor)
        for room, factor in ROOMS.items()
    }


def _specimen(rng: Random, n: int, size: Size, horizon: int, fits: Fits) -> dict[str, Any]:
    while True:
        family = rng.choices(FAMILIES, [f.share for f in FAMILIES])[0]
        wingspan = max(14, round(family.wingspan_mm * rng.lognormvariate(0, family.spread)))
        body = round(family.body * wingspan * rng.uniform(0.9, 1.1), 1)
        slot = int(family.slot * wingspan * rng.uniform(0.95, 1.05)) + 5
        spare, pack = fits.of(body, wingspan, slot)
        dried = rng.random() < 0.3
        days = _room_days(body, dried)
        rooms = {b.board.room for b in fits.boards if b.board.board in spare}
        if spare and any(days[room] for room in rooms):
            break
    backlog = size.arrive_within == 0 or rng.random() < 0.35
    arrives = 0 if backlog else rng.randrange(int(horizon * size.arrive_within))
    open_at = datetime.combine(NOW.date() + timedelta(days=arrives), time(), ZONE)
    perishable = not dried and rng.random() < 0.12
    spoils = arrives + rng.randrange(4, 12) if perishable else None
    priority = rng.choices((1, rng.randrange(2, 4), rng.randrange(4, 11)), (70, 20, 10))[0]
    wanted = arrives + rng.randrange(25, 70) if rng.random() < 0.12 else None
    first_look = (24.0 if body < 8 else 48.0) if dried else (8.0 if body < 6 else 12.0)
    return {
        "specimen": f"M{n + 1:05d}",
        "slot_mm": slot,
        "body_mm": body,
        "minutes": 15 if body < 6 else 20 if body < 10 else 25,
        "priority": priority,
        "open_at": max(open_at, NOW),
        "first_look_hours": first_look,
        "spoils": None if spoils is None else NOW.date() + timedelta(days=spoils),
        "wanted_by": None if wanted is None else NOW.date() + timedelta(days=wanted),
        "spare_mm": spare,
        "pack": pack,
        "days": {room: days[room] for room in sorted(rooms)},
    }


class _Window:
    """The sessions open to a specimen."""

    def __init__(self, sessions: Sequence[PlanSession]) -> None:
        self.starts = [s.start.timestamp() for s in sessions]

    def waiting(self, rough: dict[str, Any]) -> PlanWaiting:
        """Return the specimen with its moments."""
        given = dict(rough)
        spoils = given.pop("spoils")
        lost = None if spoils is None else datetime.combine(spoils, time(23, 59, 59), ZONE)
        hours = given["first_look_hours"]
        soft = given["open_at"] + timedelta(hours=hours)
        first = bisect_left(self.starts, soft.timestamp())
        last = len(self.starts) - 1
        if lost is not None:
            last = bisect_left(self.starts, lost.timestamp() + 1) - 1
        return PlanWaiting(
            **given,
            soft_at=soft,
            most_hours=72.0,
            chamber=True,
            chamber_since=None,
            lost_at=lost,
            first=first,
            last=last,
        )


def _standing(rng: Random, boards: Sequence[Board], part: float) -> Iterator[PlanStanding]:
    number = 0
    for one in boards:
        at = rng.randrange(0, 12)
        while True:
            slot = rng.randrange(22, 75)
            if at + slot > one.board.length_mm:
                break
            if rng.random() < part:
                number += 1
                due = NOW.date() + timedelta(days=rng.randrange(-4, 22))
                clear = due + timedelta(days=rng.randrange(0, 8))
                free = NOW.date() if due <= NOW.date() else clear
                yield PlanStanding(
                    f"T{number:05d}", one.board.board, at, at + slot, due, clear, free
                )
            at += slot + rng.choice((0, 0, 0, 5))
