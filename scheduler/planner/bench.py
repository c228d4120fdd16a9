"""The problem with numbers in place of ids: what never changes while a plan is made.

Specimens and boards are numbered in the order of their ids, and ties are broken by number. Boards
that every specimen fits alike are of one kind. Specimens that fit the same boards for the same
days share one list of choices, so that a large problem stays small in memory.
"""

from __future__ import annotations

from bisect import bisect_left
from functools import cached_property
from typing import NamedTuple

from scheduler.planner.chamber import (
    Interval,
    beside,
    mount_moment,
    relax_from,
    stays_until,
)
from scheduler.planner.problem import (
    BoardDays,
    PlanProblem,
    PlanStanding,
    PlanWaiting,
    Weights,
)


def stretch(from_mm: int, to_mm: int) -> int:
    """Return the mm from `from_mm` (included) to `to_mm` (excluded) as bits of a number."""
    return ((1 << (to_mm - from_mm)) - 1) << from_mm


class Choice(NamedTuple):
    """One board that a specimen fits.

    `plan_days` is how many days after mounting its slot counts as free, None where the air gives
    no time. `extra` is the price of a groove that must be packed [weighted days].
    """

    board: int
    spare_mm: float
    plan_days: int | None
    extra: int = 0


class Group(NamedTuple):
    """The boards of one kind among a specimen's choices."""

    kind: int
    plan_days: int | None
    extra: int = 0


class Menu(NamedTuple):
    """What a specimen may choose from: boards in order, and their kinds."""

    choices: list[Choice]
    groups: tuple[Group, ...]
    by_board: dict[int, Choice]

    def on(self, board: int) -> Choice:
        """Return the choice for a board of the menu; raise KeyError for another board."""
        return self.by_board[board]


_NOTHING = Menu([], (), {})


class PlanBench:
    """The problem with numbers in place of ids; sessions are numbered by their start."""

    def __init__(self, problem: PlanProblem) -> None:
        self.problem = problem
        self.waiting = sorted(problem.waiting, key=lambda w: w.specimen)
        self.boards = sorted(problem.boards, key=lambda b: b.board)
        self.board_number = {b.board: n for n, b in enumerate(self.boards)}
        self.whole = [stretch(0, b.length_mm) for b in self.boards]
        self.refill = [None if b.refill == "any" else b.refill for b in self.boards]
        self.sessions = problem.sessions
        self.on = [s.on.toordinal() for s in self.sessions]
        self.never = problem.end.toordinal()
        self.soft_on = [w.soft_at.date().toordinal() for w in self.waiting]
        self.found_on = [
            soft if w.found_on is None else min(soft, w.found_on.toordinal())
            for soft, w in zip(self.soft_on, self.waiting, strict=True)
        ]
        self.would_spoil = [
            w.lost_at is not None and w.lost_at.date() < problem.end for w in self.waiting
        ]
        alike = self._alike()
        self.kind_of = self._kinds(alike)
        self.boards_of: list[list[int]] = [[] for _ in range(max(self.kind_of, default=-1) + 1)]
        for board, kind in enumerate(self.kind_of):
            self.boards_of[kind].append(board)
        self.menus, self.refused_menus = self._menus(alike)
        self.choices = [menu.choices for menu in self.menus]
        self.refused = [menu.choices for menu in self.refused_menus]
        self.in_chamber = self._intervals()
        self.stay = [self._stay(number) for number in range(len(self.waiting))]
        self._off_at: dict[int, list[int]] = {}
        last = len(self.on) - 1
        wait = problem.weights.off_sessions
        self.latest = [*(min(k + wait, last) for k in range(len(self.on))), len(self.on)]
        """By the first session at which something may come off, the last at which it should; the
        number of sessions for what stays to the end."""
        self.stands = [s for standing in self.standing_on for s in standing]
        self.stand_board = [self.board_number[s.board] for s in self.stands]
        self.stand_first = [self._free_at(s) for s in self.stands]
        self.beside = beside(self.sessions, problem.now)

    def _alike(self) -> list[int]:
        """Return a number for each specimen, equal for those that fit the same boards alike."""
        numbers: dict[tuple[object, ...], int] = {}
        seen: dict[tuple[int, int], int] = {}
        found = []
        for w in self.waiting:
            key = (id(w.spare_mm), id(w.pack))
            if key not in seen:
                fits = tuple(sorted(w.spare_mm.items())), w.pack
                seen[key] = numbers.setdefault(fits, len(numbers))
            found.append(seen[key])
        return found

    def _kinds(self, alike: list[int]) -> list[int]:
        """Return each board's kind; those of a kind share a room, and are fitted alike by all."""
        known: dict[tuple[object, ...], int] = {}
        signs = [known.setdefault((board.room,), len(known)) for board in self.boards]
        for number, fits in dict(zip(alike, self.waiting, strict=True)).items():
            for name, spare in fits.spare_mm.items():
                board = self.board_number[name]
                key = (signs[board], number, spare, name in fits.pack)
                signs[board] = known.setdefault(key, len(known))
        kinds: dict[int, int] = {}
        return [kinds.setdefault(sign, len(kinds)) for sign in signs]

    def _menus(self, alike: list[int]) -> tuple[list[Menu], list[Menu]]:
        """Return two menus for each specimen: boards with a time, and without if it would spoil."""
        known: dict[tuple[object, ...], tuple[Menu, Menu]] = {}
        found = []
        for number, w in zip(alike, self.waiting, strict=True):
            days = tuple(sorted((room, d.free_days if d else None) for room, d in w.days.items()))
            key = (number, days)
            if key not in known:
                known[key] = self._menu_pair(self._ranked(w))
            found.append(known[key])
        refused = [
            menus[1] if spoils else _NOTHING
            for menus, spoils in zip(found, self.would_spoil, strict=True)
        ]
        return [menus[0] for menus in found], refused

    def _menu_pair(self, ranked: list[Choice]) -> tuple[Menu, Menu]:
        return (
            self._menu([c for c in ranked if c.plan_days is not None]),
            self._menu([c for c in ranked if c.plan_days is None]),
        )

    def _menu(self, choices: list[Choice]) -> Menu:
        groups = dict.fromkeys(Group(self.kind_of[c.board], c.plan_days, c.extra) for c in choices)
        return Menu(choices, tuple(groups), {c.board: c for c in choices})

    def _ranked(self, w: PlanWaiting) -> list[Choice]:
        """Return the boards it fits, the tightest first, those that must be packed last."""
        found = []
        for name, spare in w.spare_mm.items():
            board = self.board_number[name]
            days = w.days[self.boards[board].room]
            extra = self.problem.weights.packed_days if name in w.pack else 0
            choice = Choice(board, spare, days.free_days if days else None, extra)
            found.append((name in w.pack, spare, board, choice))
        return [entry[-1] for entry in sorted(found, key=lambda entry: entry[:3])]

    def _intervals(self) -> list[list[Interval | None]]:
        """Return when each specimen would be in the chamber, by session."""
        alike: dict[tuple[object, ...], list[Interval | None]] = {}
        found = []
        for w in self.waiting:
            hours = (w.first_look_hours, w.most_hours)
            key = (w.chamber, w.chamber_since, w.open_at, *hours, w.first, w.last, w.later)
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

    @cached_property
    def standing_on(self) -> list[list[PlanStanding]]:
        """Return what stands on each board now, from left to right."""
        found: list[list[PlanStanding]] = [[] for _ in self.boards]
        for s in sorted(self.problem.standing, key=lambda s: (s.from_mm, s.specimen)):
            found[self.board_number[s.board]].append(s)
        return found

    def _free_at(self, s: PlanStanding) -> int:
        """Return the first session at which it may come off, the number of sessions if none."""
        return len(self.on) if s.free_on is None else bisect_left(self.on, s.free_on.toordinal())

    def left_days(self, stands: int, off: int) -> int:
        """Return the weighted days that a standing one costs if it comes off at session `off`."""
        late = off > self.latest[self.stand_first[stands]]
        return self.problem.weights.left_days if late else 0

    def days(self, number: int, board: int) -> BoardDays | None:
        """Return a specimen's days on a board, None where the air gives no time."""
        return self.waiting[number].days[self.boards[board].room]

    def off_at(self, session: int, plan_days: int | None) -> int:
        """Return the first session at which it may come off again, their number if none.

        `session` is the one of its mounting; `plan_days` are those of its choice.
        """
        if plan_days is None:
            return len(self.on)
        row = self._off_at.get(plan_days)
        if row is None:
            row = [bisect_left(self.on, on + plan_days, k + 1) for k, on in enumerate(self.on)]
            self._off_at[plan_days] = row
        return row[session]

    def waits(self, number: int, session: int, choice: Choice | Group) -> int:
        """Return the weighted days that a specimen waits and stays too long, if mounted so."""
        days = choice.plan_days
        clear = self.never if days is None else self.on[session] + days
        return self._weighted(number, self.on[session], clear) + choice.extra

    def waits_on(self, number: int) -> int:
        """Return the weighted days for a specimen that is not mounted."""
        return self._weighted(number, self.never, self.never)

    def _weighted(self, number: int, mounted: int, clear: int) -> int:
        w = self.waiting[number]
        late = 0 if w.wanted_by is None else max(0, clear - w.wanted_by.toordinal())
        weights, found = self.problem.weights, self.found_on[number]
        waited = aged(mounted - found, weights) - aged(self.soft_on[number] - found, weights)
        return w.priority * (waited + weights.late_days * late)


def aged(days: int, weights: Weights) -> int:
    """Return what the days since a specimen was found count for; later days count more."""
    if not weights.age_doubles_days:
        return days
    return days + days * days // (2 * weights.age_doubles_days)
