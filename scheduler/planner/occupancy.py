"""What is taken where and when: a board is one whole number per session, a bit per mm.

`Bench` is the problem with everything numbered, once; `State` is a plan in the making.
Together they answer the one question every planner asks: does this specimen find a slot on
this board from this session, and where? Ties follow the numbers: specimens and boards are
numbered in the order of their ids, positions from the left.
"""

from __future__ import annotations

from bisect import bisect_left
from functools import cached_property
from typing import NamedTuple

from scheduler.planner.problem import BoardDays, PlanProblem
from scheduler.planner.relax import (
    Chamber,
    Interval,
    mount_moment,
    relax_from,
    stays_until,
)


def stretch(from_mm: int, to_mm: int) -> int:
    """Return the mm `from_mm` (included) to `to_mm` (excluded) as bits."""
    return ((1 << (to_mm - from_mm)) - 1) << from_mm


def starts(free: int, length: int) -> int:
    """Return a bit for every mm at which `length` free mm begin, by log2(length) shifts."""
    known = 1
    while known < length:
        step = min(known, length - known)
        free &= free >> step
        known += step
    return free


def lowest(bits: int) -> int:
    """Return the place of the lowest bit; -1 where there is none."""
    return (bits & -bits).bit_length() - 1


class Choice(NamedTuple):
    """One board that a specimen fits; `plan_days` None where the air gives no time."""

    board: int
    spare_mm: float
    plan_days: int | None


class Spot(NamedTuple):
    """Where a specimen is planned: taken off at session number `off_at`, if there is one."""

    session: int
    choice: Choice
    from_mm: int
    off_at: int


class Bench:
    """The problem, numbered: what never changes while a plan is made."""

    def __init__(self, problem: PlanProblem) -> None:
        self.problem = problem
        self.waiting = sorted(problem.waiting, key=lambda w: w.specimen)
        self.boards = sorted(problem.boards, key=lambda b: b.board)
        self.board_number = {b.board: n for n, b in enumerate(self.boards)}
        self.whole = [stretch(0, b.length_mm) for b in self.boards]
        self.sessions = problem.sessions
        self.on = [s.on.toordinal() for s in self.sessions]
        self.never = problem.end.toordinal()
        self.soft_on = [w.soft_at.date().toordinal() for w in self.waiting]
        self.would_spoil = [
            w.lost_at is not None and w.lost_at.date() < problem.end for w in self.waiting
        ]
        ranked = [self._ranked(number) for number in range(len(self.waiting))]
        self.choices = [[c for c in choices if c.plan_days is not None] for choices in ranked]
        self.refused = [
            [c for c in choices if c.plan_days is None and spoils]
            for choices, spoils in zip(ranked, self.would_spoil, strict=True)
        ]
        self.in_chamber = self._intervals()
        self.stay = [self._stay(number) for number in range(len(self.waiting))]

    def _ranked(self, number: int) -> list[Choice]:
        """Return the boards it fits, the tightest first; those to be packed last."""
        w = self.waiting[number]
        found = []
        for name, spare in w.spare_mm.items():
            board = self.board_number[name]
            days = w.days[self.boards[board].room]
            choice = Choice(board, spare, days.plan_days if days else None)
            found.append((name in w.pack, spare, board, choice))
        return [entry[-1] for entry in sorted(found, key=lambda entry: entry[:3])]

    def _intervals(self) -> list[list[Interval | None]]:
        """Return when each specimen would be in the chamber, by session."""
        alike: dict[tuple[object, ...], list[Interval | None]] = {}
        found = []
        for w in self.waiting:
            hours = (w.first_look_hours, w.most_hours)
            key = (w.chamber, w.chamber_since, w.open_at, *hours, w.first, w.last)
            if key not in alike:
                row: list[Interval | None] = [None] * len(self.sessions)
                for k in range(w.first, w.last + 1):
                    since = relax_from(w, self.sessions[k], self.problem)
                    if since is not None:
                        until = mount_moment(self.sessions[k], self.problem.now)
                        row[k] = (since.timestamp(), until.timestamp())
                alike[key] = row
            found.append(alike[key])
        return found

    def _stay(self, number: int) -> Interval | None:
        w = self.waiting[number]
        until = stays_until(w)
        if w.chamber_since is None or until is None:
            return None
        return w.chamber_since.timestamp(), until.timestamp()

    @cached_property
    def intervals(self) -> list[Interval]:
        """Return every interval in the chamber that the plan may ask about."""
        planned = {i for row in self.in_chamber for i in row if i is not None}
        return sorted(planned | {i for i in self.stay if i is not None})

    def days(self, number: int, board: int) -> BoardDays | None:
        """Return the specimen's days on the board; None where the air gives no time."""
        return self.waiting[number].days[self.boards[board].room]

    def off_at(self, session: int, plan_days: int | None) -> int:
        """Return the session at which what is mounted now comes off; their number if none."""
        if plan_days is None:
            return len(self.on)
        return bisect_left(self.on, self.on[session] + plan_days, session + 1)

    def waits(self, number: int, session: int, plan_days: int | None) -> int:
        """Return the weighted days that this specimen waits, and stays too long, if mounted."""
        clear = self.never if plan_days is None else self.on[session] + plan_days
        return self._weighted(number, self.on[session], clear)

    def waits_on(self, number: int) -> int:
        """Return the weighted days for a specimen that is not mounted."""
        return self._weighted(number, self.never, self.never)

    def _weighted(self, number: int, mounted: int, clear: int) -> int:
        w = self.waiting[number]
        late = 0 if w.wanted_by is None else max(0, clear - w.wanted_by.toordinal())
        return w.priority * (mounted - self.soft_on[number] + 2 * late)


class State:
    """A plan in the making: what is taken on every board, in every session, in the chamber."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        sessions = len(bench.sessions)
        self.spots: list[Spot | None] = [None] * len(bench.waiting)
        self.taken = [[0] * sessions for _ in bench.boards]
        self.mounting_min = [0] * sessions
        self.mounted = [0] * sessions
        self.taking_off_min = [0] * sessions
        now = bench.problem.now.timestamp()
        self.chamber = Chamber(bench.problem.chamber_places, now, bench.intervals)
        for stay in bench.stay:
            if stay is not None:
                self.chamber.change(stay, 1)
        self._stand()

    def _stand(self) -> None:
        bench = self.bench
        for s in bench.problem.standing:
            off_at = len(bench.on)
            if s.free_on is not None:
                off_at = bisect_left(bench.on, s.free_on.toordinal())
            if off_at < len(bench.on):
                self.taking_off_min[off_at] += bench.problem.take_off_min
            row = self.taken[bench.board_number[s.board]]
            for k in range(off_at):
                row[k] |= stretch(s.from_mm, s.to_mm)

    def copy(self) -> State:
        """Return an independent copy."""
        twin = State.__new__(State)
        twin.bench = self.bench
        twin.spots = self.spots[:]
        twin.taken = [row[:] for row in self.taken]
        twin.mounting_min = self.mounting_min[:]
        twin.mounted = self.mounted[:]
        twin.taking_off_min = self.taking_off_min[:]
        twin.chamber = self.chamber.copy()
        return twin

    def minutes_left(self, session: int) -> int:
        """Return the minutes not spoken for; below 0 where taking off alone takes longer."""
        spent = self.mounting_min[session] + self.taking_off_min[session]
        return self.bench.sessions[session].minutes - spent

    def has_minutes(self, number: int, session: int) -> bool:
        """Say whether the session has the minutes to mount this specimen."""
        return self.bench.waiting[number].minutes <= self.minutes_left(session)

    def chamber_full_at(self, number: int, session: int) -> float | None:
        """Return the first moment at which the chamber has no place for it; None if never."""
        interval = self.bench.in_chamber[number][session]
        if interval is None or self.bench.stay[number] is not None:
            return None
        return self.chamber.full_at(interval)

    def is_open(self, number: int, session: int) -> bool:
        """Say whether minutes and chamber let this session mount the specimen at all."""
        return self.has_minutes(number, session) and self.chamber_full_at(number, session) is None

    def may_take_off(self, off_at: int) -> bool:
        """Say whether one more can be taken off at a session without stopping its mounting."""
        if off_at >= len(self.mounted) or not self.mounted[off_at]:
            return True
        return self.minutes_left(off_at) >= self.bench.problem.take_off_min

    def free(self, board: int, session: int, off_at: int) -> int:
        """Return the mm of a board that are free in every session from one to another."""
        row = self.taken[board]
        taken = row[session]
        for k in range(session + 1, off_at):
            taken |= row[k]
        return self.bench.whole[board] & ~taken

    def slots(self, number: int, session: int, choice: Choice) -> int:
        """Return a bit for every mm at which its slot may begin; `is_open` is asked before."""
        off_at = self.bench.off_at(session, choice.plan_days)
        if not self.may_take_off(off_at):
            return 0
        free = self.free(choice.board, session, off_at)
        return starts(free, self.bench.waiting[number].slot_mm)

    def allows(self, number: int, session: int, choice: Choice, from_mm: int) -> bool:
        """Say whether the specimen, not planned yet, may be inserted exactly here."""
        w = self.bench.waiting[number]
        return (
            w.first <= session <= w.last
            and self.is_open(number, session)
            and bool(self.slots(number, session, choice) >> from_mm & 1)
        )

    def insert(self, number: int, session: int, choice: Choice, from_mm: int) -> None:
        """Plan the specimen here; the caller has asked whether it may."""
        off_at = self.bench.off_at(session, choice.plan_days)
        self.spots[number] = Spot(session, choice, from_mm, off_at)
        self._count(number, 1)

    def remove(self, number: int) -> None:
        """Take the specimen out of the plan again.

        One that is in the chamber already then counts there until it decays: the chamber
        may be over its places until it is planned again.
        """
        self._count(number, -1)
        self.spots[number] = None

    def _count(self, number: int, sign: int) -> None:
        spot = self.spots[number]
        if spot is None:
            raise ValueError(f"specimen {self.bench.waiting[number].specimen} is not planned")
        w = self.bench.waiting[number]
        # Free before, taken after, and the other way round: one flip serves both.
        mask = stretch(spot.from_mm, spot.from_mm + w.slot_mm)
        row = self.taken[spot.choice.board]
        for k in range(spot.session, spot.off_at):
            row[k] ^= mask
        self.mounting_min[spot.session] += sign * w.minutes
        self.mounted[spot.session] += sign
        if spot.off_at < len(self.taking_off_min):
            self.taking_off_min[spot.off_at] += sign * self.bench.problem.take_off_min
        stay, interval = self.bench.stay[number], self.bench.in_chamber[number][spot.session]
        if stay is not None:
            self.chamber.change(stay, -sign)
        if interval is not None:
            self.chamber.change(interval, sign)
