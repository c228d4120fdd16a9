"""Who lies where along one groove, when people give the order and only some of the positions.

Pure. What somebody measured stays where it is; what was estimated moves, no further than it must.
Positions are whole mm from the board's left end; the end of a range is excluded.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise

from scheduler.words.tuples import NamedTuple


class Piece(NamedTuple):
    """One specimen in a groove: the length it should have [mm], and where it lies if that is known.

    `fixed` says that `at` (from_mm, to_mm) was measured and stays.
    """

    specimen: str
    length_mm: int
    at: tuple[int, int] | None = None
    fixed: bool = False


class Slot(NamedTuple):
    """The place that a specimen gets, in mm from the left end; `to_mm` is excluded."""

    specimen: str
    from_mm: int
    to_mm: int


class NoRoom(Exception):  # noqa: N818 - reads as the trade would say it
    """The groove does not hold them in this order."""


def lay(row: Sequence[Piece], board_mm: int) -> tuple[Slot, ...]:
    """Return the slots of a row given from left to right, on a groove of `board_mm`.

    Between two that stay, the others keep their places as nearly as their neighbours allow. Where
    the stretch is too short for their lengths, all of them are squeezed alike. Raises NoRoom when
    less than a millimetre each is left, or when those that stay are not in order.
    """
    slots: list[Slot] = []
    run: list[Piece] = []
    begin, left = 0, ""
    for piece in row:
        if piece.at is None or not piece.fixed:
            run.append(piece)
            continue
        slots += _lay_run(run, (begin, piece.at[0]), (left, piece.specimen))
        slots.append(Slot(piece.specimen, *piece.at))
        run, begin, left = [], piece.at[1], piece.specimen
    return (*slots, *_lay_run(run, (begin, board_mm), (left, "")))


def _lay_run(
    run: Sequence[Piece], room: tuple[int, int], beside: tuple[str, str]
) -> Iterator[Slot]:
    begin, end = room
    if end < begin or end - begin < len(run):
        raise NoRoom(_no_room(run, end - begin, beside))
    lengths = _squeezed([p.length_mm for p in run], end - begin)
    starts: list[int] = []
    at = begin
    for piece, length in zip(run, lengths, strict=True):
        at = at if piece.at is None else max(at, piece.at[0])
        starts.append(at)
        at += length
    for i in reversed(range(len(run))):
        starts[i] = min(starts[i], end - lengths[i])
        end = starts[i]
    for piece, start, length in zip(run, starts, lengths, strict=True):
        yield Slot(piece.specimen, start, start + length)


def _no_room(run: Sequence[Piece], room_mm: int, beside: tuple[str, str]) -> str:
    left, right = beside
    where = {
        (False, False): "on the board",
        (True, False): f"right of {left}",
        (False, True): f"left of {right}",
        (True, True): f"between {left} and {right}",
    }[bool(left), bool(right)]
    if room_mm < 0 and not run:
        return f"they do not lie in that order: {right or 'the end'} begins before {left} ends"
    names = ", ".join(p.specimen for p in run)
    return f"no groove is left {where} for {names} ({max(0, room_mm)} mm)"


def _squeezed(lengths: Sequence[int], room_mm: int) -> list[int]:
    """Return the lengths, all shortened alike when they do not fit; each at least 1 mm."""
    if sum(lengths) <= room_mm:
        return list(lengths)
    spare, wanted = room_mm - len(lengths), sum(lengths) - len(lengths)
    edges = [0, *(spare * so_far // wanted for so_far in accumulate(n - 1 for n in lengths))]
    return [1 + b - a for a, b in pairwise(edges)]


def join(standing: Sequence[Piece], listed: Sequence[Piece], board_mm: int) -> tuple[Piece, ...]:
    """Return one row of those that stand on a board and of a list, both from left to right.

    Listed ones that stand there already tell where the others go. New ones take the leftmost
    stretches in which they fit. First a place is sought that moves nobody; then one that moves
    those whose place was estimated; only then are lengths squeezed. Raises NoRoom when the order
    contradicts the board, or when no place is left.
    """
    row = list(standing)
    there = {p.specimen for p in standing}
    for piece in listed:
        if piece.fixed and piece.specimen not in there:
            row.insert(_wall_index(row, piece, [p.specimen for p in listed], board_mm), piece)
    anchors = {p.specimen for p in row}
    run: list[Piece] = []
    left = ""
    for piece in listed:
        if piece.specimen not in anchors:
            run.append(piece)
            continue
        _put(row, run, (left, piece.specimen), board_mm)
        run, left = [], piece.specimen
    _put(row, run, (left, ""), board_mm)
    return tuple(row)


def put_after(standing: Sequence[Piece], piece: Piece, after: str) -> tuple[Piece, ...]:
    """Return the row with one more piece directly to the right of `after`."""
    at = next(i for i, p in enumerate(standing) if p.specimen == after) + 1
    return (*standing[:at], piece, *standing[at:])


def _wall_index(row: Sequence[Piece], new: Piece, order: Sequence[str], board_mm: int) -> int:
    """Return the index in the row at which a measured newcomer goes.

    That is where the fewest mm of those that may move are squeezed; among equals, where the fewest
    change sides. The list's own order comes before both.
    """
    assert new.at is not None
    walls = [(i, p.at) for i, p in enumerate(row) if p.fixed and p.at is not None]
    left = max(((i, at[1]) for i, at in walls if sum(at) < sum(new.at)), default=(-1, 0))
    right = min(
        ((i, at[0]) for i, at in walls if sum(at) >= sum(new.at)), default=(len(row), board_mm)
    )
    mine = order.index(new.specimen)
    low = max([left[0], *(i for i, p in enumerate(row) if p.specimen in order[:mine])]) + 1
    high = min([right[0], *(i for i, p in enumerate(row) if p.specimen in order[mine + 1 :])])
    middle = sum(_middle(p) < _middle(new) for p in row)

    begin, end = new.at

    def cost(index: int) -> tuple[int, int]:
        over = sum(p.length_mm for p in row[left[0] + 1 : index]) - (begin - left[1])
        under = sum(p.length_mm for p in row[index : right[0]]) - (right[1] - end)
        return max(0, over) + max(0, under), abs(index - middle)

    return min(range(low, high + 1), key=cost, default=low)


def _middle(piece: Piece) -> float:
    return sum(piece.at) / 2 if piece.at is not None else -1.0


def _put(row: list[Piece], run: Sequence[Piece], between: tuple[str, str], board_mm: int) -> None:
    """Insert a run between two anchors ("": the end of the board)."""
    names = [p.specimen for p in row]
    left, right = between
    low = names.index(left) + 1 if left else 0
    high = names.index(right) if right else len(row)
    if low > high:
        raise NoRoom(f"{right} lies left of {left}, not right of it")
    if not run:
        return
    for still, percent in ((True, 100), *((False, p) for p in range(100, 0, -5))):
        where = _shared(row, run, (low, high), board_mm, still, percent)
        if where is not None:
            for index, piece in reversed(list(zip(where, run, strict=True))):
                row.insert(index, piece)
            return
    said = " and ".join(name for name in between if name)
    raise NoRoom(
        f"no groove is left for {', '.join(p.specimen for p in run)}"
        + (f" beside {said}" if said else " on the board")
    )


def _shared(
    row: Sequence[Piece],
    run: Sequence[Piece],
    bounds: tuple[int, int],
    board_mm: int,
    still: bool,
    percent: int,
) -> list[int] | None:
    """Return the index in the row before which each goes, stretch by stretch; None: no room.

    `still`: nobody moves; else those whose place was estimated may. Lengths count at `percent`.
    """
    low, high = bounds
    stretches = _stretches(row, board_mm, still, percent)
    usable = [
        (min(last, high), left) for first, last, left in stretches if _meets(first, last, low, high)
    ]
    where = []
    number = 0
    left = usable[0][1]
    for piece in run:
        need = _at_percent(piece, percent)
        while need > left:
            number += 1
            if number == len(usable):
                return None
            left = usable[number][1]
        left -= need
        where.append(usable[number][0])
    return where


def _meets(first: int, last: int, low: int, high: int) -> bool:
    return first <= high and last >= low


def _stretches(
    row: Sequence[Piece], board_mm: int, still: bool, percent: int
) -> list[tuple[int, int, float]]:
    """Return every stretch between two that stay: first and last index in it, mm left."""
    found = []
    first, begin, taken = 0, 0, 0.0
    for index, piece in enumerate(row):
        if piece.at is not None and (piece.fixed or still):
            found.append((first, index, piece.at[0] - begin - taken))
            first, begin, taken = index + 1, piece.at[1], 0.0
        else:
            taken += _at_percent(piece, percent)
    return [*found, (first, len(row), board_mm - begin - taken)]


def _at_percent(piece: Piece, percent: int) -> float:
    return max(1.0, piece.length_mm * percent / 100)
