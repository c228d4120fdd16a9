"""What is taken where and when: for each session a board is one number, with a bit for each mm.

`PlanState` is a plan in the making. It answers the question that every planner asks: does this
specimen find a slot on this board from this session on, and where? The longest free stretch of a
board between two sessions, and of the boards of a kind, is remembered until the board changes, so
most questions are answered without looking at the groove.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from scheduler.planner.bench import Choice, Group, Menu, PlanBench, stretch
from scheduler.planner.bits import longest, lowest, starts
from scheduler.planner.chamber import Chamber
from scheduler.planner.spread import spread

__all__ = [
    "Choice",
    "Group",
    "Menu",
    "PlanBench",
    "PlanState",
    "Spot",
    "lowest",
    "roomiest",
    "spread",
    "starts",
    "stretch",
]


class Spot(NamedTuple):
    """Where a specimen is planned; `off_at` is the number of sessions if it stays to the end."""

    session: int
    choice: Choice
    from_mm: int
    off_at: int


class Guest(NamedTuple):
    """What lies on a board, and between which sessions: for boards not refilled at will."""

    session: int
    off_at: int
    from_mm: int
    to_mm: int


def roomiest(bench: PlanBench) -> PlanState:
    """Return the empty plan with the most room: all comes off as soon as it may, in no time."""
    state = PlanState(bench, bench.stand_first)
    state.left_min = [s.minutes for s in bench.sessions]
    return state


class PlanState:
    """A plan in the making: what is taken on every board, in every session, in the chamber."""

    def __init__(self, bench: PlanBench, offs: Sequence[int] | None = None) -> None:
        """Begin with what stands; it comes off at the sessions `offs`, where None by `spread`."""
        self.bench = bench
        sessions = len(bench.sessions)
        self.spots: list[Spot | None] = [None] * len(bench.waiting)
        self.taken = [[0] * sessions for _ in bench.boards]
        self.guests: list[list[Guest]] = [[] for _ in bench.boards]
        self.mounted_on: list[Counter[int]] = [Counter() for _ in bench.boards]
        self.runs: list[dict[int, int]] = [{} for _ in bench.boards]
        self.kind_runs: list[dict[int, int]] = [{} for _ in bench.boards_of]
        self.left_min = [s.minutes for s in bench.sessions]
        now = bench.problem.now.timestamp()
        self.chamber = Chamber(bench.problem.chamber_places, now, bench.intervals)
        for stay in bench.stay:
            if stay is not None:
                self.chamber.change(stay, 1)
        self.stand_off = list(spread(bench) if offs is None else offs)
        self.stands_off: list[list[int]] = [[] for _ in bench.sessions]
        """Which standing ones come off at each session."""
        for s, off in enumerate(self.stand_off):
            board, stands = bench.stand_board[s], bench.stands[s]
            self.guests[board].append(Guest(-1, off, stands.from_mm, stands.to_mm))
            row = self.taken[board]
            for k in range(off):
                row[k] |= stretch(stands.from_mm, stands.to_mm)
            self._count_off(s, off, 1)

    def copy(self) -> PlanState:
        """Return an independent copy."""
        twin = PlanState.__new__(PlanState)
        twin.bench = self.bench
        twin.spots = self.spots[:]
        twin.taken = [row[:] for row in self.taken]
        twin.guests = [there[:] for there in self.guests]
        twin.mounted_on = [Counter(sessions) for sessions in self.mounted_on]
        twin.runs = [row.copy() for row in self.runs]
        twin.kind_runs = [row.copy() for row in self.kind_runs]
        twin.left_min = self.left_min[:]
        twin.stand_off = self.stand_off[:]
        twin.stands_off = [there[:] for there in self.stands_off]
        twin.chamber = self.chamber.copy()
        return twin

    def minutes_left(self, session: int) -> int:
        """Return the minutes of a session that are not used yet."""
        return self.left_min[session]

    def has_minutes(self, number: int, session: int) -> bool:
        """Say whether the session has the minutes to mount this specimen."""
        return self.bench.waiting[number].minutes <= self.minutes_left(session)

    def chamber_full_at(self, number: int, session: int) -> float | None:
        """Return the first moment at which the chamber has no place for it, None if it has one."""
        interval = self.bench.in_chamber[number][session]
        if interval is None or self.bench.stay[number] is not None:
            return None
        return self.chamber.full_at(interval)

    def is_open(self, number: int, session: int) -> bool:
        """Say whether the session has the minutes, and the chamber the place, for the specimen."""
        return self.has_minutes(number, session) and self.chamber_full_at(number, session) is None

    def may_take_off(self, off_at: int) -> bool:
        """Say whether a session has the minutes to take off one more."""
        return (
            off_at >= len(self.left_min) or self.left_min[off_at] >= self.bench.problem.take_off_min
        )

    def off_at(self, session: int, plan_days: int | None) -> int:
        """Return the first session with the minutes to take off what `session` mounts; -1 if none.

        Returns the number of sessions where it stays to the end.
        """
        first = self.bench.off_at(session, plan_days)
        if first >= len(self.left_min):
            return first
        may = range(first, self.bench.latest[first] + 1)
        return next((off for off in may if self.may_take_off(off)), -1)

    def may_shift(self, stands: int, off: int) -> bool:
        """Say whether minutes and groove let a standing one come off at session `off`."""
        bench, old = self.bench, self.stand_off[stands]
        if off < bench.stand_first[stands] or not self.may_take_off(off):
            return False
        board, s = bench.stand_board[stands], bench.stands[stands]
        mask, row = stretch(s.from_mm, s.to_mm), self.taken[board]
        if any(row[k] & mask for k in range(old, off)):
            return False
        begun = self.mounted_on[board]
        return not bench.refill[board] or not any(begun[k] for k in range(old, off))

    def shift(self, stands: int, off: int) -> None:
        """Let a standing one come off at session `off`; the caller must ask `may_shift` first."""
        bench, old = self.bench, self.stand_off[stands]
        board, s = bench.stand_board[stands], bench.stands[stands]
        mask, row = stretch(s.from_mm, s.to_mm), self.taken[board]
        for k in range(min(old, off), max(old, off)):
            row[k] ^= mask
        self._count_off(stands, old, -1)
        self._count_off(stands, off, 1)
        self.guests[board].remove(Guest(-1, old, s.from_mm, s.to_mm))
        self.guests[board].append(Guest(-1, off, s.from_mm, s.to_mm))
        self.runs[board] = {}
        self.kind_runs[bench.kind_of[board]] = {}
        self.stand_off[stands] = off

    def _count_off(self, stands: int, off: int, sign: int) -> None:
        if off < len(self.left_min):
            self.left_min[off] -= sign * self.bench.problem.take_off_min
            there = self.stands_off[off]
            there.append(stands) if sign > 0 else there.remove(stands)

    def free(self, board: int, session: int, off_at: int) -> int:
        """Return, as bits, the mm of a board free in every session up to `off_at` (excluded).

        None are free while another session that overlaps this one mounts on the board.
        """
        if any(self.mounted_on[board][k] for k in self.bench.beside[session]):
            return 0
        return self.not_taken(board, session, off_at)

    def not_taken(self, board: int, session: int, off_at: int) -> int:
        """Return what `free` does, but whether or not somebody else mounts on the board."""
        row = self.taken[board]
        taken = row[session]
        for k in range(session + 1, off_at):
            taken |= row[k]
        free = self.bench.whole[board] & ~taken
        return free & self._joinable(board, session, off_at) if self.bench.refill[board] else free

    def _joinable(self, board: int, session: int, off_at: int) -> int:
        """Return the mm of a board that its `refill` leaves open.

        Specimens of the same session may join freely; those of other sessions restrict them.
        """
        left, right = 0, self.bench.whole[board].bit_length()
        for guest in self.guests[board]:
            if guest.session < session < guest.off_at:
                left = max(left, guest.to_mm)
            elif session < guest.session < off_at:
                right = min(right, guest.from_mm)
            else:
                continue
            if self.bench.refill[board] == "whole":
                return 0
        return stretch(left, right) if left < right else 0

    def run(self, board: int, session: int, off_at: int) -> int:
        """Return the longest stretch [mm] that is free in every session up to `off_at`."""
        known = self.runs[board]
        key = session * (len(self.left_min) + 1) + off_at
        found = known.get(key)
        if found is None:
            found = known[key] = longest(self.free(board, session, off_at))
        return found

    def has_run(self, kind: int, session: int, off_at: int, length: int) -> bool:
        """Say whether any board of a kind has a stretch of `length` free up to `off_at`.

        The remembered length is never too short: planning can only make stretches shorter, and
        taking out forgets it.
        """
        known = self.kind_runs[kind]
        key = session * (len(self.left_min) + 1) + off_at
        most = known.get(key)
        if most is not None and most < length:
            return False
        longest_found = 0
        for board in self.bench.boards_of[kind]:
            run = self.run(board, session, off_at)
            if run >= length:
                return True
            longest_found = max(longest_found, run)
        known[key] = longest_found
        return False

    def roomy(self, number: int, session: int, groups: Sequence[Group]) -> list[Group]:
        """Return the kinds of boards with a slot for it; the caller must ask `is_open` first."""
        slot_mm = self.bench.waiting[number].slot_mm
        found = []
        for group in groups:
            off_at = self.off_at(session, group.plan_days)
            if off_at >= 0 and self.has_run(group.kind, session, off_at, slot_mm):
                found.append(group)
        return found

    def slots(self, number: int, session: int, choice: Choice, off_at: int | None = None) -> int:
        """Return a bit for every mm at which its slot may begin; ask `is_open` first.

        It must be free until `off_at`, where None until the first session that can take it off.
        """
        if off_at is None:
            off_at = self.off_at(session, choice.plan_days)
        if off_at < 0 or not self.may_take_off(off_at):
            return 0
        free = self.free(choice.board, session, off_at)
        return starts(free, self.bench.waiting[number].slot_mm)

    def allows(self, number: int, spot: Spot) -> bool:
        """Say whether a specimen that is not planned may be inserted exactly here."""
        w, (session, choice, from_mm, off_at) = self.bench.waiting[number], spot
        first = self.bench.off_at(session, choice.plan_days)
        if not w.first <= session <= w.last or not first <= off_at <= self.bench.latest[first]:
            return False
        free = self.free(choice.board, session, off_at)
        return (
            self.is_open(number, session)
            and self.may_take_off(off_at)
            and bool(starts(free, w.slot_mm) >> from_mm & 1)
        )

    def insert(
        self, number: int, session: int, choice: Choice, from_mm: int, off_at: int | None = None
    ) -> None:
        """Plan the specimen here, to come off at `off_at`, where None at the first that can.

        The caller must ask first whether it may be here.
        """
        off = self.off_at(session, choice.plan_days) if off_at is None else off_at
        self.spots[number] = Spot(session, choice, from_mm, off)
        self._count(number, 1)

    def remove(self, number: int) -> None:
        """Take the specimen out of the plan again.

        One that is in the chamber already then counts there until it decays, so the chamber may
        hold more than its places until the specimen is planned again.
        """
        self._count(number, -1)
        self.spots[number] = None

    def _count(self, number: int, sign: int) -> None:
        spot = self.spots[number]
        if spot is None:
            raise ValueError(f"specimen {self.bench.waiting[number].specimen} is not planned")
        w = self.bench.waiting[number]
        # Inserting makes free mm taken and removing the reverse: one flip does both.
        mask = stretch(spot.from_mm, spot.from_mm + w.slot_mm)
        row = self.taken[spot.choice.board]
        for k in range(spot.session, spot.off_at):
            row[k] ^= mask
        if self.bench.refill[spot.choice.board]:
            guest = Guest(spot.session, spot.off_at, spot.from_mm, spot.from_mm + w.slot_mm)
            there = self.guests[spot.choice.board]
            there.append(guest) if sign > 0 else there.remove(guest)
        self.runs[spot.choice.board] = {}
        if sign < 0:
            self.kind_runs[self.bench.kind_of[spot.choice.board]] = {}
        self.mounted_on[spot.choice.board][spot.session] += sign
        self.left_min[spot.session] -= sign * w.minutes
        if spot.off_at < len(self.left_min):
            self.left_min[spot.off_at] -= sign * self.bench.problem.take_off_min
        stay, interval = self.bench.stay[number], self.bench.in_chamber[number][spot.session]
        if stay is not None:
            self.chamber.change(stay, -sign)
        if interval is not None:
            self.chamber.change(interval, sign)
