"""A season summed up: mounted, lost and drooped, days, boards, and what one more would save."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from statistics import fmean

from scheduler.drying import fit
from scheduler.looks.boards import free_stretches
from scheduler.view import View
from scheduler.words.names import natural_order
from scheduler.words.records import Board, Placement
from scheduler.words.tuples import NamedTuple

_DAY = timedelta(days=1)
_YEAR = timedelta(days=364)


class BoardUse(NamedTuple):
    """One board: how much of its groove was used [%], and on how many days nothing stood on it."""

    board: str
    groove_mm: float
    used_pct: float
    empty_days: int


class FurtherBoard(NamedTuple):
    """What one more board with such a groove would have saved, at most.

    So many `specimens` waited `days` in all while every board that takes them was full.
    """

    groove_mm: float
    specimens: int
    days: int


class SeasonSummary(NamedTuple):
    """What happened from `first` to `last`, both included.

    `spoiled` counts those lost before they were mounted; `drooped` counts those of the ones that
    came off. `days` and `table_days` are means over what came off in its time and has a date by the
    table: the days on the board, and the days to the table's due date in the same air; None without
    any.
    """

    first: date
    last: date
    mounted: int
    came_off: int
    spoiled: int
    drooped: int
    soft: int
    days: float | None
    table_days: float | None
    boards: tuple[BoardUse, ...]
    further: tuple[FurtherBoard, ...]


def the_season(view: View, last: date) -> tuple[date, date]:
    """Return the year up to a date, but nothing before the first mounting."""
    begin = min((p.mounted_on for p in view.facts.placements), default=last)
    return min(max(begin, last - _YEAR), last), last


def summary(
    view: View,
    first: date,
    last: date,
    lost: Mapping[str, datetime],
    known: Mapping[str, datetime],
) -> SeasonSummary:
    """Sum up a season from the record; the further board that would have saved most comes first.

    lost: since when each lost specimen counts as lost; known: since when the record has each.
    """
    facts = view.facts
    begun = {p.id: p.mounted_on for p in facts.placements}
    ended = {p.id: _off_on(view, p) for p in facts.placements}
    mounted = [p for p in facts.placements if first <= begun[p.id] <= last]
    off = [p for p in facts.placements if first <= (ended[p.id] or date.max) <= last]
    drooped = {d.placement for d in facts.droops}
    soft = sum(
        t.verdict == "soft" and first <= view.local(t.tested_at).date() <= last for t in facts.tests
    )
    on_board = {p.specimen for p in facts.placements}
    pairs = [pair for p in off if (pair := _days(view, p)) is not None]
    standing = _standing(view, first, last)
    return SeasonSummary(
        first,
        last,
        mounted=len(mounted),
        came_off=len(off),
        spoiled=sum(
            first <= view.local(at).date() <= last
            for name, at in lost.items()
            if name not in on_board
        ),
        drooped=sum(p.id in drooped for p in off),
        soft=soft,
        days=fmean(days for days, _ in pairs) if pairs else None,
        table_days=fmean(table for _, table in pairs) if pairs else None,
        boards=tuple(_use(board, standing[board.board]) for board in _boards(view)),
        further=_further(view, mounted, standing, known),
    )


def _off_on(view: View, placement: Placement) -> date | None:
    off = placement.released_at
    return None if off is None else view.local(off).date()


def _days(view: View, placement: Placement) -> tuple[int, int] | None:
    """Return the days that one stood, and those to the table's due date in the same air.

    None for one that came off early, still stands, or has no date by the table.
    """
    off, due = _off_on(view, placement), view.of(placement).table_dates.due
    if off is None or due is None or placement.early_reason is not None:
        return None
    # A soft test moved its date; by the table, too, those days were needed.
    return (off - placement.mounted_on).days, (due - placement.mounted_on).days


def _boards(view: View) -> Sequence[Board]:
    return sorted(view.boards.values(), key=lambda b: (b.groove_mm, natural_order(b.board)))


def _standing(view: View, first: date, last: date) -> Mapping[str, Mapping[date, list[Placement]]]:
    """Return, by board and day, what stood there at the end of the day."""
    found: dict[str, dict[date, list[Placement]]] = {
        board: {first + n * _DAY: [] for n in range((last - first).days + 1)}
        for board in view.boards
    }
    for p in view.facts.placements:
        day, end = max(p.mounted_on, first), _off_on(view, p) or last + _DAY
        while day < min(end, last + _DAY):
            found[p.board][day].append(p)
            day += _DAY
    return found


def _use(board: Board, days: Mapping[date, Sequence[Placement]]) -> BoardUse:
    used = sum(p.to_mm - p.from_mm for those in days.values() for p in those)
    empty = sum(not those for those in days.values())
    return BoardUse(
        board.board, board.groove_mm, 100 * used / (board.length_mm * max(1, len(days))), empty
    )


def _further(
    view: View,
    mounted: Sequence[Placement],
    standing: Mapping[str, Mapping[date, Sequence[Placement]]],
    known: Mapping[str, datetime],
) -> tuple[FurtherBoard, ...]:
    free = {
        board.board: {
            day: _longest_free(board, those) for day, those in standing[board.board].items()
        }
        for board in view.boards.values()
    }
    waited: dict[float, list[int]] = defaultdict(list)
    for p in mounted:
        specimen = view.specimens[p.specimen]
        size, slot = view.size(specimen), view.slot_mm(specimen)
        if size is None or slot is None or p.specimen not in known:
            continue
        here = view.local(known[p.specimen]).date()
        fitting = [
            b
            for b in view.boards.values()
            if (found := fit.fit(size, slot, b, view.rules)).fits and not found.pack
        ]
        days = _full_days(
            max(here, specimen.available or here),
            p.mounted_on,
            slot,
            [free[b.board] for b in fitting],
        )
        if fitting and days:
            waited[min(b.groove_mm for b in fitting)].append(days)
    further = (FurtherBoard(g, len(days), sum(days)) for g, days in waited.items())
    return tuple(sorted(further, key=lambda f: (-f.days, f.groove_mm)))


def _longest_free(board: Board, those: Sequence[Placement]) -> int:
    row = sorted(those, key=lambda p: p.from_mm)
    return max((end - begin for begin, end in free_stretches(row, board)), default=0)


def _full_days(
    available: date, mounted: date, slot_mm: int, free: Sequence[Mapping[date, int]]
) -> int:
    """Return on how many days a specimen waited while no board had room for it."""
    days = [day for day in (free[0] if free else {}) if available <= day < mounted]
    return sum(all(board[day] < slot_mm for board in free) for day in days)
