"""Two players without the program: one with a paper strip, and one who knows the truth.

The paper strip says 14 days for a slender body and 28 for a stout one (common practice, no
source); its player tests then, and again a week later. That player takes the tightest groove that
fits the body, mounts those longest in the freezer first, and freezes fresh ones the same evening.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from nature import OFF_MIN, TEST_MIN, Nature
from world import Insect, World

SOAK_H = {"fresh": 24, "frozen": 24, "dried": 48}


def play(number: int, knows: bool) -> Nature:
    """Play a season with a strip, or knowing how dry everything is."""
    nature = Nature(World(number))
    out: set[str] = set()
    soaked: dict[str, datetime] = {}
    days = sorted({start.date() for start, _ in nature.world.sessions.values()})
    by_day = {start.date(): (start, minutes) for start, minutes in nature.world.sessions.values()}
    for one in nature.world.insects.values():
        if one.state == "fresh":
            nature.put(one, "freezer", one.came)
    for day in days:
        start, minutes = by_day[day]
        broken, at = nature.world.broken
        if start >= at and not any(i.stands and i.board == broken for i in nature.here(start)):
            out.add(broken)
        chosen = _chosen(nature, start, minutes, knows, out)
        for one in chosen:
            soaked[one.name] = start - timedelta(hours=SOAK_H[one.state])
            nature.put(one, "chamber", max(soaked[one.name], one.came))
        _bench(nature, start, minutes, chosen, knows, out)

    nature.minutes_there = sum(minutes for _, minutes in nature.world.sessions.values())
    return nature


def _due(nature: Nature, one: Insect, at: datetime, knows: bool) -> bool:
    assert one.mounted is not None
    assert one.board is not None
    if knows:
        damp = nature.world.rooms[nature.world.board(one.board).room].now(at)[0] > 80
        return nature.progress(one, at) >= 1.02 and not damp
    first = one.mounted + timedelta(days=14 if one.body_mm < 6 else 28)
    return at >= first + timedelta(days=7 * one.soft_tests) - timedelta(hours=12)


def _chosen(
    nature: Nature, start: datetime, minutes: int, knows: bool, out: set[str]
) -> list[Insect]:
    """Choose whom to soften: what the boards would hold if all that is due came off."""
    soon = start - timedelta(hours=24)
    left = float(minutes)
    gone = []
    for one in nature.here(start):
        if one.stands and _due(nature, one, start, knows):
            gone.append(one)
            left -= TEST_MIN + OFF_MIN
    for one in gone:
        one.released = start
    waits = [i for i in nature.here(soon) if i.waits and i.place in ("freezer", "papers", "fridge")]
    found: list[Insect] = []
    for one in sorted(waits, key=lambda i: (_age_key(i, start, knows), i.name)):
        if left < one.minutes:
            continue
        spot = _spot(nature, one, out)
        if spot is None:
            continue
        one.board, one.from_mm = spot
        one.mounted = start
        found.append(one)
        left -= one.minutes
    for one in found:
        one.mounted, one.board = None, None
    for one in gone:
        one.released = None
    return found


def _age_key(one: Insect, start: datetime, knows: bool) -> tuple[int, datetime]:
    since = one.frozen or one.came
    if knows and one.wanted_by is not None and one.wanted_by - start < timedelta(days=45):
        return (0, since)
    return (1 if not knows or one.priority == 1 else 0, since)


def _spot(nature: Nature, one: Insect, out: set[str]) -> tuple[str, int] | None:
    fits = [
        b
        for b in nature.world.boards
        if b.name not in out
        and b.groove_mm >= one.body_mm + 0.5
        and b.span_mm >= one.wingspan_mm + 4
    ]
    for board in sorted(fits, key=lambda b: b.groove_mm):
        for begin, end in nature.free(board.name):
            if end - begin >= one.slot_mm:
                return board.name, begin
    return None


def _bench(
    nature: Nature, start: datetime, minutes: int, chosen: list[Insect], knows: bool, out: set[str]
) -> None:
    end = nature.minutes_used + minutes
    for one in nature.here(start):
        if nature.minutes_used + TEST_MIN + OFF_MIN > end:
            break
        if one.stands and _due(nature, one, start, knows) and nature.stiff(one, start):
            nature.take_off(one, start)
    for one in chosen:
        spot = _spot(nature, one, out)
        fits = spot is not None and nature.minutes_used + one.minutes <= end
        if spot is not None and fits and nature.limp(one, start):
            nature.mount(one, spot[0], spot[1], start + timedelta(minutes=30))
        else:
            nature.put(one, "fridge", start)
    # What is soft and found no place is the first next time; the fridge keeps it that long.
    for one in nature.here(start):
        if one.place == "fridge" and one.waits and start - one.since > timedelta(days=10):
            nature.put(one, "freezer", start)
