"""A plan in the making as arrays, for the compiled search: what lies where, and what is left.

It follows the same rules as `state.PlanState`, laid out for speed: every board has a list of what
lies on it at any time, sorted by mm. Standing specimens have numbers below 0 in it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scheduler.planner.bench import PlanBench
from scheduler.planner.chamber import Interval
from scheduler.planner.state import PlanState, Spot

Small = NDArray[np.int16]
Whole = NDArray[np.int32]
Large = NDArray[np.int64]

REFILL = {None: 0, "end": 1, "whole": 2}
"""The number by which the compiled search knows each `refill` of a board."""

FROM, TO, ON, OFF = range(4)
"""The columns of a slot."""


class Facts(NamedTuple):
    """What never changes: by specimen, by board, by kind of board.

    `left_out` is what a specimen costs that is not planned. `kind_boards` lists the boards kind by
    kind: those of kind k from `kind_start[k]` to `kind_start[k + 1]` (excluded); `place_of` is a
    board's place in that list. `chamber` is a specimen's row of `since` and `until`, which hold
    the steps of the chamber by session, -1 where the chamber is not needed; `stay_since` and
    `stay_until` are the same for what is in the chamber now. `places` is -1 where there is no
    limit. `beside` says of two sessions whether they overlap, `any_beside` whether any do.
    `latest` is the last session for taking off, by the first one; a standing specimen that comes
    off later costs `left_days`.
    """

    slot_mm: Whole
    minutes: Whole
    priority: Whole
    left_out: Large
    chamber: Whole
    since: Whole
    until: Whole
    stay_since: Whole
    stay_until: Whole
    length_mm: Whole
    refill: Small
    kind_start: Whole
    kind_boards: Whole
    place_of: Whole
    beside: NDArray[np.bool_]
    any_beside: bool
    places: int
    take_off_min: int
    stand_board: Whole
    stand_first: Small
    latest: Small
    left_days: int


class Draft(NamedTuple):
    """What changes: each specimen's spot (`session` -1: none) and cost, and what is taken.

    `off` is the session at which a planned specimen comes off, `due` the first at which it may;
    `stand_off` is `off` for standing ones. `longest_mm` is the longest gap by session and place of
    the board, -1 where it must be measured again. `lying` is how many lie on each board. They are,
    in order of mm, in the rows of `slots` (columns `FROM`, `TO`, `ON`, `OFF`: mm and sessions, the
    second of each excluded) and of `who`, which is -1 - number for standing ones. The specimens of
    session k are in `members` from `members_start[k]` on, `members_count[k]` of them; `member_at`
    is each one's place there. `best_...` is the best plan so far. `changed` names `changed_count`
    specimens that may differ from it; numbers of standing ones follow those of waiting ones. `aim`
    are two sessions between which taking off may be moved. `sums` is the cost of the plan and of
    the best one.
    """

    session: Small
    board: Whole
    from_mm: Small
    off: Small
    due: Small
    stand_off: Small
    cost: Large
    left_min: Large
    inside: Whole
    longest_mm: Small
    lying: Whole
    slots: Small
    who: Whole
    members: Whole
    members_start: Large
    members_count: Whole
    member_at: Whole
    best_session: Small
    best_board: Whole
    best_from: Small
    best_off: Small
    best_stand_off: Small
    changed: Whole
    is_changed: NDArray[np.bool_]
    changed_count: Large
    aim: Large
    sums: Large
    seed: NDArray[np.uint64]


def facts(bench: PlanBench, left_out: Sequence[int]) -> Facts:
    """Return what never changes about a problem."""
    moments = PlanState(bench).chamber.moments
    rows, spells = _chamber_rows(bench, moments)
    stays = [_steps(moments, stay) for stay in bench.stay]
    kind_boards = [board for boards in bench.boards_of for board in boards]
    place_of = np.empty(len(kind_boards), dtype=np.int32)
    place_of[kind_boards] = np.arange(len(kind_boards), dtype=np.int32)
    sizes = np.cumsum([0] + [len(boards) for boards in bench.boards_of])
    places = bench.problem.chamber_places
    return Facts(
        slot_mm=_whole(w.slot_mm for w in bench.waiting),
        minutes=_whole(w.minutes for w in bench.waiting),
        priority=_whole(w.priority for w in bench.waiting),
        left_out=np.array(left_out, dtype=np.int64),
        chamber=_whole(rows[id(row)] for row in bench.in_chamber),
        since=np.ascontiguousarray(spells[..., 0]),
        until=np.ascontiguousarray(spells[..., 1]),
        stay_since=_whole(stay[0] for stay in stays),
        stay_until=_whole(stay[1] for stay in stays),
        length_mm=_whole(board.length_mm for board in bench.boards),
        refill=np.array([REFILL[refill] for refill in bench.refill], dtype=np.int16),
        kind_start=sizes.astype(np.int32),
        kind_boards=_whole(kind_boards),
        place_of=place_of,
        beside=_beside(bench),
        any_beside=any(bench.beside),
        places=-1 if places is None else places,
        take_off_min=bench.problem.take_off_min,
        stand_board=_whole(bench.stand_board),
        stand_first=np.array(bench.stand_first, dtype=np.int16),
        latest=np.array(bench.latest, dtype=np.int16),
        left_days=bench.problem.weights.left_days,
    )


def _beside(bench: PlanBench) -> NDArray[np.bool_]:
    beside = np.zeros((len(bench.sessions), len(bench.sessions)), dtype=np.bool_)
    for k, others in enumerate(bench.beside):
        beside[k, list(others)] = True
    return beside


def _steps(moments: list[float], spell: Interval | None) -> tuple[int, int]:
    """Return the steps of the chamber at which a spell begins and ends (excluded), -1 if none."""
    if spell is None:
        return -1, -1
    return bisect_left(moments, spell[0]), bisect_left(moments, spell[1])


def _chamber_rows(bench: PlanBench, moments: list[float]) -> tuple[dict[int, int], Whole]:
    """Return the row of each list of spells (by its id), and the steps by row and session."""
    rows: dict[int, int] = {}
    spells = []
    for row in bench.in_chamber:
        if id(row) not in rows:
            rows[id(row)] = len(rows)
            spells.append([_steps(moments, spell) for spell in row])
    shape = (len(rows), len(bench.sessions), 2)
    return rows, np.array(spells, dtype=np.int32).reshape(shape)


def draft(bench: PlanBench, of: Facts, offs: Sequence[int], seed: int) -> Draft:
    """Return the empty plan: what stands, until the sessions `offs`, and who is in the chamber."""
    made = _empty(bench, of, offs, seed)
    for number, (board, s) in enumerate(zip(bench.stand_board, bench.stands, strict=True)):
        n = made.lying[board]
        made.slots[board, n] = s.from_mm, s.to_mm, -1, offs[number]
        made.who[board, n] = -1 - number
        made.lying[board] += 1
        made.sums[:] += bench.left_days(number, offs[number])
    return made


def _empty(bench: PlanBench, of: Facts, offs: Sequence[int], seed: int) -> Draft:
    """Return the plan with empty boards."""
    sessions, people, boards = len(bench.sessions), len(bench.waiting), len(bench.boards)
    empty = PlanState(bench, offs)
    several = people + len(offs)
    most = _most_lying(bench)
    members = np.zeros(sessions + 1, dtype=np.int64)
    for w in bench.waiting:
        if w.first <= w.last:
            members[w.first + 1 : w.last + 2] += 1
    return Draft(
        session=np.full(people, -1, dtype=np.int16),
        board=np.zeros(people, dtype=np.int32),
        from_mm=np.zeros(people, dtype=np.int16),
        off=np.zeros(people, dtype=np.int16),
        due=np.zeros(people, dtype=np.int16),
        stand_off=np.array(offs, dtype=np.int16),
        cost=of.left_out.copy(),
        left_min=np.array(empty.left_min, dtype=np.int64),
        inside=np.array(empty.chamber.inside, dtype=np.int32),
        longest_mm=np.full((sessions, boards), -1, dtype=np.int16),
        lying=np.zeros(boards, dtype=np.int32),
        slots=np.zeros((boards, most, 4), dtype=np.int16),
        who=np.zeros((boards, most), dtype=np.int32),
        members=np.zeros(int(members.sum()), dtype=np.int32),
        members_start=np.cumsum(members),
        members_count=np.zeros(sessions, dtype=np.int32),
        member_at=np.zeros(people, dtype=np.int32),
        best_session=np.full(people, -1, dtype=np.int16),
        best_board=np.zeros(people, dtype=np.int32),
        best_from=np.zeros(people, dtype=np.int16),
        best_off=np.zeros(people, dtype=np.int16),
        best_stand_off=np.array(offs, dtype=np.int16),
        changed=np.zeros(several, dtype=np.int32),
        is_changed=np.zeros(several, dtype=np.bool_),
        changed_count=np.zeros(1, dtype=np.int64),
        aim=np.zeros(2, dtype=np.int64),
        sums=np.full(2, of.left_out.sum(), dtype=np.int64),
        seed=np.array([2 * seed + 1], dtype=np.uint64),
    )


def _most_lying(bench: PlanBench) -> int:
    """Return the most specimens that can lie on one board, over all sessions."""
    least_mm = min((w.slot_mm for w in bench.waiting), default=1)
    longest_mm = max((board.length_mm for board in bench.boards), default=0)
    standing = max((len(on) for on in bench.standing_on), default=0)
    together = longest_mm // max(1, least_mm)
    return 1 + standing + min(len(bench.waiting), together * len(bench.sessions))


def best_spots(bench: PlanBench, d: Draft) -> list[Spot | None]:
    """Return the spots of the best plan so far."""
    found: list[Spot | None] = []
    arrays = (d.best_session, d.best_board, d.best_from, d.best_off)
    columns = zip(*(array.tolist() for array in arrays), strict=True)
    for n, (k, on_board, at, off) in enumerate(columns):
        if k < 0:
            found.append(None)
            continue
        choice = bench.menus[n].by_board.get(on_board)
        choice = choice or bench.refused_menus[n].by_board[on_board]
        found.append(Spot(k, choice, at, off))
    return found


def _whole(values: object) -> Whole:
    return np.array(list(values), dtype=np.int32)  # type: ignore[call-overload]
