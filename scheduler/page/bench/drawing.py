"""Draw a spreading board to scale, as it lies on the bench, seen from above. Pure.

One unit of the drawing is one millimetre. `Markup.format` escapes text; the stylesheet decides the
looks, except the patterns of the papers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from markupsafe import Markup

from scheduler.drying.answer import Answer
from scheduler.page.bench.symbols import PAPERS, SIGN_BOX, sign_shapes
from scheduler.words import wording
from scheduler.words.records import Board

END_MM = 6
"""The wood beyond each end of the groove; no source, it only makes the drawing clearer."""
TOP_MM = 2
RULER_MM = 17
STICK_MM = 5
AIR_MM = 0.4
"""The gap between a paper and the end of its slot, so that neighbours can be told apart."""
MARGIN_MM = 8
"""The margin to the right of the boards, for the ruler's last number."""
FLAG_MM = {"narrow": 10.0, "wide": 7.0}
"""The largest radius of the flag with a sign, on a narrow and on a wide screen."""
SMALL_MM = 100
"""On boards narrower than this the signs stand above the wood, where they cover no wing."""
FLAGS_MM = 21.0
ARROW_MM = 15.0
KEPT_DRAWINGS = 512
"""How many drawings are kept to be shown again; each takes about 10 kB."""
NAME_MM = 8
"""The size of a name's letters on a wide screen; `bench_page.css` sets the same."""
LETTER = 0.62
"""The width of a letter as a share of its size, rather too wide; no source, tried out."""

# The wings of one side of a spread specimen, head to the left: a fore wing whose hind margin is at
# a right angle to the body, and a hind wing. The slot is 0 to 1 along the groove, the wing 0 to 1
# across; the other side is mirrored.
_WING = (
    "M.36 .06C.24 .40 .10 .76 .04 .96C.20 1 .40 .93 .51 .82C.53 .50 .53 .25 .52 .06Z"
    "M.52 .06C.56 .30 .56 .55 .57 .74C.72 .78 .92 .66 .96 .48C.92 .28 .78 .14 .66 .06Z"
)


class Standing(NamedTuple):
    """One specimen on a board as it is drawn; `number` counts from the left end.

    `coming` means that it is still to be mounted there; it is drawn in dashes.
    """

    number: int
    specimen: str
    from_mm: int
    to_mm: int
    body_mm: float
    wingspan_mm: float
    answer: Answer
    progress_pct: int | None
    coming: bool = False


def board_drawing(
    board: Board,
    standing: Sequence[Standing],
    longest_mm: int,
    place: tuple[int, int] | None = None,
) -> Markup:
    """Return the drawing of a board with its groove, its slots and the specimens in them.

    `longest_mm` is the length of the longest board on the page, which gives the scale for all.
    `place` (from and to, in mm) is framed, with an arrow above.
    """
    return _drawing(board, tuple(standing), longest_mm, place)


@lru_cache(KEPT_DRAWINGS)
def _drawing(
    board: Board, standing: tuple[Standing, ...], longest_mm: int, place: tuple[int, int] | None
) -> Markup:
    width = max(longest_mm, board.length_mm) + 2 * END_MM + MARGIN_MM
    above = 0.0 if place is None else ARROW_MM
    top = TOP_MM + above + (FLAGS_MM if standing and board.span_mm < SMALL_MM else 0)
    height = top + board.span_mm + RULER_MM
    parts = [
        *_wood(board, top),
        *(p for s in standing for p in _specimen(s, board, top)),
        *_ruler(board, top),
        *(() if place is None else _framed(place, board, top)),
    ]
    return Markup(
        '<svg class="board" role="img" aria-label="{}" viewBox="0 0 {} {}">{}</svg>'
    ).format(_label(board, standing), width, _mm(height), _joined(parts))


def _framed(place: tuple[int, int], board: Board, top: float) -> Iterable[Markup]:
    left, width = END_MM + place[0], place[1] - place[0]
    yield Markup('<rect class="place" x="{}" y="{}" width="{}" height="{}"/>').format(
        left, _mm(top - 1), width, _mm(board.span_mm + 2)
    )
    yield Markup('<path class="place-arrow" d="M{} 0h22l-11 {}z"/>').format(
        _mm(left + width / 2 - 11), _mm(ARROW_MM - 1)
    )


def _label(board: Board, standing: Sequence[Standing]) -> str:
    who = wording.listed(f"{s.specimen} at {s.from_mm}-{s.to_mm} mm" for s in standing)
    size = f"{board.board} drawn to scale, {board.length_mm} mm of groove"
    return f"{size}: {who}" if who else f"{size}, empty"


def _wood(board: Board, top: float) -> Iterable[Markup]:
    length, span = board.length_mm + 2 * END_MM, board.span_mm
    kind = "wood out" if board.out else "wood"
    yield Markup('<rect class="{}" x="0" y="{}" width="{}" height="{}" rx="3"/>').format(
        kind, _mm(top), length, _mm(span)
    )
    slab = (span - board.groove_mm) / 2
    for share, sag in ((0.24, 2.0), (0.62, -1.6)):
        for y in (top + share * slab, top + span - share * slab):
            yield Markup('<path class="grain" d="M1 {}q{} {} {} 0t{} 0"/>').format(
                _mm(y), _mm(length / 4), sag, _mm(length / 2), _mm(length / 2 - 2)
            )
    yield Markup('<rect class="groove" x="{}" y="{}" width="{}" height="{}"/>').format(
        END_MM, _mm(top + slab), board.length_mm, _mm(board.groove_mm)
    )


def _specimen(s: Standing, board: Board, top: float) -> Iterable[Markup]:
    left, width = END_MM + s.from_mm, s.to_mm - s.from_mm
    middle = top + board.span_mm / 2
    slab = (board.span_mm - board.groove_mm) / 2
    half = min(s.wingspan_mm or 0.8 * board.span_mm, board.span_mm) / 2
    paper = Markup('<rect class="{}" x="{}" y="{}" width="{}" height="{}" fill="url(#{})"/>')
    kind = "paper coming" if s.coming else "paper"
    for y in (top + 0.07 * slab, middle + board.groove_mm / 2 + 0.05 * slab):
        yield paper.format(
            kind, left + AIR_MM, _mm(y), width - 2 * AIR_MM, _mm(0.88 * slab), PAPERS[s.answer]
        )
    wings = Markup('<path d="{}" transform="translate({} {}) scale({} {})"/>')
    yield Markup('<g class="wings">{}{}</g>').format(
        *(wings.format(_WING, left, _mm(middle), width, _mm(way * half)) for way in (1, -1))
    )
    yield Markup('<ellipse class="body" cx="{}" cy="{}" rx="{}" ry="{}"/>').format(
        _mm(left + 0.52 * width), _mm(middle), _mm(0.4 * width), _mm(s.body_mm / 2)
    )
    centre = left + width / 2
    small = board.span_mm < SMALL_MM
    yield from _sign_flags(s, centre, top - FLAGS_MM / 2 if small else top + 0.3 * slab, top)
    edge = top + board.span_mm - STICK_MM
    yield from _name_flags(s, centre, edge, 0.25 * slab, 0.5 * slab if small else 18.0)
    yield from _dryness(s, left, edge)


def _sign_flags(s: Standing, x: float, at: float, top: float) -> Iterable[Markup]:
    """Draw the sign at the height `at`, above the wood or on it."""
    flag = Markup(
        '<g class="{}"><circle class="flag" cx="{}" cy="{}" r="{}"/>'
        '<g transform="translate({} {}) scale({})">{}</g></g>'
    )
    for kind, most in FLAG_MM.items():
        radius = min(most, (s.to_mm - s.from_mm) / 2)
        corner = 0.75 * radius
        y = at if at < top else max(at, top + radius)
        yield flag.format(
            kind, _mm(x), _mm(y), _mm(radius), _mm(x - corner), _mm(y - corner),
            _mm(2 * corner / SIGN_BOX), sign_shapes(s.answer),
        )  # fmt: skip


def _name_flags(s: Standing, x: float, edge: float, off: float, most: float) -> Iterable[Markup]:
    """Write the number for narrow screens; for wide ones the name, if the slot has room for it."""
    slot = s.to_mm - s.from_mm
    number = str(s.number)
    name = s.specimen if _written(s.specimen, NAME_MM) <= slot else number
    flag = Markup(
        '<g class="{}"><rect class="flag" x="{}" y="{}" width="{}" height="{}" rx="2"/>'
        '<text x="{}" y="{}" text-anchor="middle" dominant-baseline="central">{}</text></g>'
    )
    for kind, text, width, height in (
        ("narrow", number, min(20.0, slot), min(18.0, most)),
        ("wide", name, min(_written(name, NAME_MM) + 4, slot), min(12.0, most)),
    ):
        y = edge - max(off, height / 2)
        left, top = _mm(x - width / 2), _mm(y - height / 2)
        yield flag.format(kind, left, top, _mm(width), height, _mm(x), _mm(y), text)


def _dryness(s: Standing, left: float, y: float) -> Iterable[Markup]:
    """Draw how dry it is as a bar along the edge of the board, full at the minimum time."""
    if s.progress_pct is None:
        return
    width = s.to_mm - s.from_mm - 2 * AIR_MM
    stick = Markup('<rect class="{}" x="{}" y="{}" width="{}" height="4"/>')
    yield stick.format("stick", left + AIR_MM, _mm(y), width)
    yield stick.format(
        "stick-full", left + AIR_MM, _mm(y), _mm(width * min(s.progress_pct, 100) / 100)
    )


def _ruler(board: Board, top: float) -> Iterable[Markup]:
    """Draw mm along the lower edge: a tick every 10, a longer one every 50, a number every 100."""
    y = top + board.span_mm
    marks = "".join(
        f"M{END_MM + at} {_mm(y)}v{4 if at % 50 == 0 else 2}"
        for at in range(0, board.length_mm + 1, 10)
    )
    yield Markup('<path class="ruler" d="{}"/>').format(marks)
    text = Markup('<text class="ruler-text" x="{}" y="{}" text-anchor="{}">{}</text>')
    for at in range(0, board.length_mm + 1, 100):
        yield text.format(END_MM + at, _mm(y + RULER_MM - 2), "middle" if at else "start", at)


def _written(text: str, size_mm: float) -> float:
    return LETTER * size_mm * len(text)


def _mm(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _joined(parts: Iterable[Markup]) -> Markup:
    return Markup("").join(parts)
