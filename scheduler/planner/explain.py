"""Why a specimen is not in the plan, in the trade's words, worked out from the finished plan.

The reason is that of the session that came closest: the one that lacked the fewest things. Among
equals, lacking minutes counts as closer than lacking the chamber, then taking off, then groove.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from datetime import UTC, date, datetime
from enum import IntEnum
from functools import cached_property
from typing import NamedTuple

from scheduler.planner.bench import Group, Menu, PlanBench, stretch
from scheduler.planner.bits import longest
from scheduler.planner.state import PlanState
from scheduler.words.wording import day, listed, moment


class _Lack(IntEnum):
    """What a session can lack for a specimen; what is easiest to provide comes first."""

    MINUTES = 1
    CHAMBER = 2
    TAKING_OFF = 3
    GROOVE = 4


class _Miss(NamedTuple):
    """What one session lacked for a specimen."""

    missing: tuple[_Lack, ...]
    session: int


def reasons(state: PlanState, grooves: Mapping[str, float]) -> tuple[tuple[str, str], ...]:
    """Return every specimen that is not planned, by id, with the reason.

    `grooves` are the boards' groove widths [mm]; without them the boards are named instead.
    """
    bench = state.bench
    why = dict(bench.problem.misfits)
    boards = _Boards(state, grooves)
    for number, spot in enumerate(state.spots):
        if spot is None:
            why[bench.waiting[number].specimen] = Reason(boards, number).text()
    return tuple(sorted(why.items()))


class _Boards:
    """What is known of the boards of a finished plan, worked out once for all that wait."""

    def __init__(self, state: PlanState, grooves: Mapping[str, float]) -> None:
        self.state, self.bench, self.grooves = state, state.bench, grooves
        self.lacked: dict[tuple[object, ...], _Lack | None] = {}
        """What the grooves lacked, by kinds of boards, length of slot, and session."""
        self.free_from: dict[Group, list[tuple[int, int]]] = {}
        self.named: dict[tuple[int, int], str] = {}

    def said(self, menus: tuple[Menu, Menu]) -> str:
        """Return in words the boards of both menus of a specimen."""
        key = (id(menus[0]), id(menus[1]))
        if key not in self.named:
            self.named[key] = self._said([c.board for menu in menus for c in menu.choices])
        return self.named[key]

    def _said(self, boards: list[int]) -> str:
        names = sorted({self.bench.boards[board].board for board in boards})
        widths = sorted({self.grooves[name] for name in names if name in self.grooves})
        if not all(name in self.grooves for name in names):
            return f"every board that fits ({listed(names)})"
        if len(names) == 1:
            return f"the groove of board {names[0]} ({widths[0]:g} mm)"
        between = "-".join(f"{width:g}" for width in dict.fromkeys((widths[0], widths[-1])))
        return f"every groove of {between} mm"

    def free_on(self, group: Group, earliest: int, slot_mm: int) -> int | None:
        """Return the first day after `earliest` on which such a board has room for the slot."""
        if group not in self.free_from:
            self.free_from[group] = sorted(
                entry
                for board in self.bench.boards_of[group.kind]
                for entry in self._free_runs(board, group.plan_days)
            )
        runs = self.free_from[group]
        later = range(bisect_right(runs, earliest, key=lambda run: run[0]), len(runs))
        return next((runs[n][0] for n in later if runs[n][1] >= slot_mm), None)

    def _free_runs(self, board: int, plan_days: int | None) -> list[tuple[int, int]]:
        """Return each day on which something comes off, with the longest stretch free from then.

        It must stay free for `plan_days`, to the end of time where these are None.
        """
        lying, found = self._lying[board], []
        for begin in sorted({off for _, off, _ in lying if off < _NEVER}):
            end = _NEVER if plan_days is None else begin + plan_days
            taken = 0
            for since, off, mask in lying:
                if since < end and begin < off:
                    taken |= mask
            found.append((begin, longest(self.bench.whole[board] & ~taken)))
        return found

    @cached_property
    def _lying(self) -> list[list[tuple[int, int, int]]]:
        """Return for each board what lies on it: from which day, to which, and on which mm."""
        bench = self.bench
        lying: list[list[tuple[int, int, int]]] = [[] for _ in bench.boards]
        for n, s in enumerate(bench.stands):
            off = s.free_on.toordinal() if s.free_on else _NEVER
            off = self._off_on(off, bench.stand_first[n], self.state.stand_off[n])
            lying[bench.stand_board[n]].append((0, off, stretch(s.from_mm, s.to_mm)))
        for number, spot in enumerate(self.state.spots):
            if spot is not None:
                days = spot.choice.plan_days
                since = bench.on[spot.session]
                to_mm = spot.from_mm + bench.waiting[number].slot_mm
                off = _NEVER if days is None else since + days
                off = self._off_on(off, bench.off_at(spot.session, days), spot.off_at)
                lying[spot.choice.board].append((since, off, stretch(spot.from_mm, to_mm)))
        return lying

    def _off_on(self, clear: int, first: int, off_at: int) -> int:
        """Return the day on which a slot is free: once clear, or later where the plan says so."""
        if off_at == first:
            return clear
        return self.bench.on[off_at] if off_at < len(self.bench.on) else _NEVER


class Reason:
    """Finds the reason why one specimen is not in the plan."""

    def __init__(self, boards: _Boards, number: int) -> None:
        self.boards, self.state, self.number = boards, boards.state, number
        self.bench: PlanBench = boards.bench
        self.w = self.bench.waiting[number]
        self.menus = (self.bench.menus[number], self.bench.refused_menus[number])
        self.groups = self.menus[0].groups + self.menus[1].groups

    def text(self) -> str:
        """Return the reason."""
        if not self.bench.sessions:
            return "there is no session to mount it in"
        if not self.groups:
            return self._no_air()
        if self.w.first > self.w.last:
            return self._no_session()
        misses = [self._miss(k) for k in range(self.w.first, self.w.last + 1)]
        return self._say(min(misses, key=self._distance))

    def _distance(self, miss: _Miss) -> tuple[int, tuple[_Lack, ...], int, int]:
        """Return a rank for what a session lacked: the least first, then the most minutes left."""
        left = self.state.minutes_left(miss.session)
        return len(miss.missing), miss.missing, -left, miss.session

    def _no_session(self) -> str:
        w, sessions = self.w, self.bench.sessions
        soft = moment(w.soft_at, self.bench.problem.now)
        last = sessions[-1]
        opening = sessions[w.first] if w.first < len(sessions) else None
        if w.lost_at is None or opening is None:
            start = moment(last.start, self.bench.problem.now)
            return f"soft on {soft} at the earliest; the last session is {start}"
        lost = moment(w.lost_at, self.bench.problem.now)
        start = moment(opening.start, self.bench.problem.now)
        if w.lost_at.timestamp() < w.soft_at.timestamp():
            return f"lost after {lost}, before it is soft: {soft} at the earliest"
        return f"soft on {soft}, lost after {lost}: no session between, the next is {start}"

    def _no_air(self) -> str:
        rooms = sorted({self._room(name) for name in self.w.spare_mm})
        return (
            f"body {self.w.body_mm:g} mm: in the air of {listed(rooms)} no time can be promised, "
            "and no other room has a board that fits"
        )

    def _room(self, board: str) -> str:
        return self.bench.boards[self.bench.board_number[board]].room

    def _miss(self, session: int) -> _Miss:
        """Return what the session lacked."""
        state, number = self.state, self.number
        missing = []
        if not state.has_minutes(number, session):
            missing.append(_Lack.MINUTES)
        if state.chamber_full_at(number, session) is not None:
            missing.append(_Lack.CHAMBER)
        groove = self._groove(session)
        if groove is not None:
            missing.append(groove)
        return _Miss(tuple(missing), session)

    def _groove(self, session: int) -> _Lack | None:
        """Return what the grooves lacked, if anything."""
        key = (self.groups, self.w.slot_mm, session)
        if key not in self.boards.lacked:
            self.boards.lacked[key] = self._look_at_grooves(session)
        return self.boards.lacked[key]

    def _look_at_grooves(self, session: int) -> _Lack | None:
        state, slot_mm = self.state, self.w.slot_mm
        if state.roomy(self.number, session, self.groups):
            return None
        free = any(
            state.has_run(g.kind, session, self.bench.off_at(session, g.plan_days), slot_mm)
            for g in self.groups
        )
        return _Lack.TAKING_OFF if free else _Lack.GROOVE

    def _say(self, miss: _Miss) -> str:
        words = {
            _Lack.MINUTES: self._say_minutes,
            _Lack.CHAMBER: self._say_chamber,
            _Lack.TAKING_OFF: self._say_taking_off,
            _Lack.GROOVE: self._say_groove,
        }
        if not miss.missing:
            raise ValueError(f"{self.w.specimen} finds a slot: the plan was not filled")
        return "; ".join(words[what](miss.session) for what in miss.missing)

    def _say_minutes(self, session: int) -> str:
        left = max(0, self.state.minutes_left(session))
        start = moment(self.bench.sessions[session].start, self.bench.problem.now)
        return f"needs {self.w.minutes} min, the session has {left} left ({start})"

    def _say_chamber(self, session: int) -> str:
        full = self.state.chamber_full_at(self.number, session)
        zone = self.bench.sessions[session].start.tzinfo
        at = datetime.fromtimestamp(full or 0, UTC).astimezone(zone)
        places = self.bench.problem.chamber_places
        return f"the chamber holds {places} and is full on {moment(at, self.bench.problem.now)}"

    def _say_taking_off(self, session: int) -> str:
        needs = self.bench.problem.take_off_min
        slot_mm = self.w.slot_mm
        offs = [(g.kind, self.bench.off_at(session, g.plan_days)) for g in self.groups]
        off_at = min(off for kind, off in offs if self.state.has_run(kind, session, off, slot_mm))
        left = max(0, self.state.minutes_left(off_at))
        start = moment(self.bench.sessions[off_at].start, self.bench.problem.now)
        return f"taking it off again needs {needs} min, the session of {start} has {left} left"

    def _say_groove(self, session: int) -> str:
        if self._in_other_hands(session):
            start = moment(self.bench.sessions[session].start, self.bench.problem.now)
            return f"{self.boards.said(self.menus)} is full or in other hands on {start}"
        earliest, slot_mm = self.bench.on[self.w.first], self.w.slot_mm
        free = (self.boards.free_on(group, earliest, slot_mm) for group in self.groups)
        free_on = min((one for one in free if one is not None), default=None)
        until = "to the end of the plan"
        if free_on is not None:
            until = f"until {day(date.fromordinal(free_on), self.bench.problem.now)}"
        said = f"{self.boards.said(self.menus)} is taken {until}"
        if self.w.lost_at is not None and self.bench.would_spoil[self.number]:
            said += f"; it is lost after {moment(self.w.lost_at, self.bench.problem.now)}"
        damp = sorted({room for room, days in self.w.days.items() if days is None})
        if damp and not self.menus[1].choices:
            said += f"; in the air of {listed(damp)} no time can be promised"
        return said

    def _in_other_hands(self, session: int) -> bool:
        """Say whether a board would have room if nobody else worked on it at the same time."""
        state, bench = self.state, self.bench
        return bool(bench.beside[session]) and any(
            longest(state.not_taken(board, session, bench.off_at(session, g.plan_days)))
            >= self.w.slot_mm
            for g in self.groups
            for board in bench.boards_of[g.kind]
        )


_NEVER = date.max.toordinal()
