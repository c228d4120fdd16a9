"""What happens to insects whatever a player believes: drying, softening, rotting, drooping."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random

from world import DAYS, START, Insect, World

KEEPS_H = {"room": 72.0, "thawed": 72.0, "fridge": 336.0, "chamber": 80.0}
TEST_MIN, OFF_MIN = 1.5, 1.5
DROOP_BELOW = 0.95


@dataclass
class Nature:
    """A season under way; players act on it, and it decides."""

    world: World
    rng: Random = field(init=False)
    minutes_used: float = 0.0
    minutes_there: float = 0.0

    def __post_init__(self) -> None:
        self.rng = Random(f"nature/{self.world.number}")

    def one(self, name: str) -> Insect:
        """The insect of a name."""
        return self.world.insects[name]

    def here(self, at: datetime) -> list[Insect]:
        """Those that have come by a moment."""
        return [i for i in self.world.insects.values() if i.came <= at]

    def put(self, one: Insect, place: str, at: datetime) -> None:
        """Carry an insect somewhere off the boards."""
        self.rot(one, at)
        if one.place == "chamber":
            one.softened_h = max(one.softened_h, (at - one.since) / timedelta(hours=1))
        if place == "freezer" and one.state == "fresh":
            one.state, one.frozen = "frozen", at
        if place == "freezer":
            one.softened_h = 0.0
        one.place, one.since = place, at

    def rot(self, one: Insect, at: datetime) -> None:
        """Let an insect rot that lay too long where it is."""
        keeps = KEEPS_H.get(one.place)
        if keeps is None or not one.waits or (one.place == "room" and one.state == "dried"):
            return
        end = one.since + timedelta(hours=keeps)
        if end < at:
            one.spoiled = end

    def limp(self, one: Insect, at: datetime) -> bool:
        """Whether it can be spread now, as a careful push shows."""
        if one.place == "chamber":
            return (at - one.since) / timedelta(hours=1) >= self._needs_h(one)
        short = one.frozen is not None and at - one.frozen < timedelta(days=60)
        if one.place == "thawed" and one.state == "frozen" and short:
            return at - one.since >= timedelta(hours=1)
        return one.softened_h >= self._needs_h(one) and one.place in ("fridge", "thawed", "room")

    def _needs_h(self, one: Insect) -> float:
        large = one.body_mm >= 6
        if one.state == "dried":
            return 11 if one.body_mm < 3 else 22 if one.body_mm < 8 else 44
        if one.state == "fresh":
            return 16 if large else 6
        long = one.frozen is not None and START - one.frozen > timedelta(days=60)
        return 20 if long else 10 if large else 6

    def mount(self, one: Insect, board: str, from_mm: int, at: datetime) -> None:
        """Spread an insect."""
        one.board, one.from_mm, one.mounted, one.place = board, from_mm, at, "board"
        self.minutes_used += one.minutes

    def progress(self, one: Insect, at: datetime) -> float:
        """How dry it is, 1 when it is."""
        assert one.board is not None
        assert one.mounted is not None
        air = self.world.rooms[self.world.board(one.board).room]
        return air.worth_days(one.body_mm < 6, one.mounted, at) / one.needs_days

    def dry_at(self, one: Insect) -> datetime:
        """When it really is dry."""
        assert one.board is not None
        assert one.mounted is not None
        air = self.world.rooms[self.world.board(one.board).room]
        found = air.dry_at(one.body_mm < 6, one.mounted, one.needs_days)
        return found or START + timedelta(days=DAYS + 60)

    def stiff(self, one: Insect, at: datetime) -> bool:
        """Test by hand; the hand errs by a few per cent."""
        dry = self.progress(one, at)
        self.minutes_used += TEST_MIN
        found = dry * self.rng.lognormvariate(0, 0.03) >= 0.99
        if not found:
            one.soft_tests += 1
            one.blind_tests += dry < 0.85
        return found

    def take_off(self, one: Insect, at: datetime) -> None:
        """Take an insect off; it may droop."""
        assert one.board is not None
        damp = self.world.rooms[self.world.board(one.board).room].now(at)[0] > 80
        one.drooped = self.progress(one, at) < DROOP_BELOW or (damp and self.rng.random() < 0.25)
        one.released = at
        self.minutes_used += OFF_MIN

    def free(self, board: str) -> list[tuple[int, int]]:
        """The free stretches of a board."""
        plank, found, at = self.world.board(board), [], 0
        there = sorted(
            (i for i in self.world.insects.values() if i.stands and i.board == board),
            key=lambda i: i.from_mm,
        )
        for one in there:
            if one.from_mm > at:
                found.append((at, one.from_mm))
            at = max(at, one.from_mm + one.slot_mm)
        if at < plank.length_mm:
            found.append((at, plank.length_mm))
        return found

    def end(self) -> datetime:
        """When the season is over."""
        return START + timedelta(days=DAYS)


def counts(nature: Nature) -> dict[str, float]:
    """What a season came to."""
    end, every = nature.end(), list(nature.world.insects.values())
    for one in every:
        nature.rot(one, end)
    on = [i for i in every if i.mounted is not None and i.mounted >= START]
    wait = [i for i in every if i.mounted is None or i.mounted >= START]
    giants = [i for i in wait if i.giant]
    others = [i for i in wait if not i.giant]
    wanted = [i for i in wait if i.wanted_by is not None and i.wanted_by <= end]
    return {
        "there": len(wait),
        "mounted": len(on),
        "spoiled": sum(i.spoiled is not None for i in wait),
        "drooped": sum(i.drooped for i in every),
        "dry, blocking": round(sum(_blocked(nature, i, end) for i in every), 0),
        "of that, after a session": round(sum(_passed_over(nature, i, end) for i in every), 0),
        "waiting x priority": round(sum(_waited(i, end) for i in wait), 0),
        "wanted": len(wanted),
        "late": sum(i.released is None or i.released > i.wanted_by for i in wanted if i.wanted_by),
        "giants": len(giants),
        "giants mounted": sum(i.mounted is not None for i in giants),
        "others": len(others),
        "others mounted": sum(i.mounted is not None for i in others),
        "too wide": sum(_spare(nature, i) > 3 for i in on),
        "minutes there": nature.minutes_there,
        "minutes used": round(nature.minutes_used, 0),
        "blind tests": sum(i.blind_tests for i in every),
        "soft tests": sum(i.soft_tests for i in every),
    }


def _blocked(nature: Nature, one: Insect, end: datetime) -> float:
    if one.mounted is None:
        return 0.0
    until = one.released or end
    return max(0.0, (until - max(nature.dry_at(one), START)) / timedelta(days=1))


def _passed_over(nature: Nature, one: Insect, end: datetime) -> float:
    """Return the days it stayed after the first session at which it was dry."""
    if one.mounted is None:
        return 0.0
    dry, until = nature.dry_at(one), one.released or end
    first = min((s for s, _ in nature.world.sessions.values() if s >= dry), default=end)
    return max(0.0, (until - first) / timedelta(days=1))


def _waited(one: Insect, end: datetime) -> float:
    until = one.mounted or end
    return one.priority * max(0.0, (until - max(one.came, START)) / timedelta(days=1))


def _spare(nature: Nature, one: Insect) -> float:
    assert one.board is not None
    return nature.world.board(one.board).groove_mm - one.body_mm
