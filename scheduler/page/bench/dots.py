"""Draw what was predicted against what tests found, a dot for each specimen of a room. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from scheduler.looks.predicted import Foretold

SIDE = 300
FROM, TO = 0.4, 2.5
"""How many times the table's minimum the edges mean; both axes are logarithmic."""
TICKS = (0.5, 0.7, 1.0, 1.4, 2.0)

KEY = Markup(
    '<p class="note">Full: found stiff there; the line reaches down to where it was still soft.'
    " Empty: soft there, not yet stiff. Crossed: drooped after it came off. Above the slanting"
    " line: it took longer than was foretold.</p>"
)


def dots(room: str, those: Sequence[Foretold]) -> Markup:
    """Return the picture of a room's tests: predicted from left to right, found from below up."""
    slant = Markup('<line class="limit" x1="{0}" y1="{1}" x2="{1}" y2="{0}"/>').format(0, SIDE)
    parts = [*_scale(), slant, *map(_dot, those)]
    said = f"{room}: times the table's minimum, foretold and found, of {len(those)} specimens"
    drawn = Markup(
        '<svg class="chart dots" role="img" aria-label="{}" viewBox="-34 -8 {} {}"'
        ' width="{}">{}</svg>{}'
    )
    return drawn.format(said, SIDE + 44, SIDE + 44, SIDE + 44, Markup("").join(parts), KEY)


def _dot(one: Foretold) -> Markup:
    x, stiff = _at(one.predicted), not math.isinf(one.stiff)
    y = SIDE - _at(one.stiff if stiff else one.soft)
    name = one.specimen
    kind = "dot-stiff" if stiff else "dot-drooped" if one.drooped else "dot-soft"
    down = SIDE - _at(one.soft) if one.soft and stiff else y
    line = Markup('<line class="dot-line" x1="{0:.1f}" x2="{0:.1f}" y1="{1:.1f}" y2="{2:.1f}"/>')
    if one.drooped:
        cross = Markup(
            '<path class="{0}" d="M{1:.1f} {2:.1f}l8 8m0 -8l-8 8"><title>{3}</title></path>'
        )
        return cross.format(kind, x - 4, y - 4, f"{name}: drooped")
    dot = Markup('<circle class="{}" cx="{:.1f}" cy="{:.1f}" r="4"><title>{}</title></circle>')
    return line.format(x, y, down) + dot.format(kind, x, y, _said(one, stiff))


def _said(one: Foretold, stiff: bool) -> str:
    found = f"stiff at {one.stiff:.2f}" if stiff else f"soft at {one.soft:.2f}"
    return f"{one.specimen}: foretold {one.predicted:.2f}, {found}"


def _scale() -> list[Markup]:
    found = []
    for tick in TICKS:
        at = _at(tick)
        found.append(
            Markup(
                '<line class="rule" x1="0" x2="{0}" y1="{1:.1f}" y2="{1:.1f}"/>'
                '<line class="rule" y1="0" y2="{0}" x1="{2:.1f}" x2="{2:.1f}"/>'
                '<text class="rule-text" x="-6" y="{1:.1f}" dy="4" text-anchor="end">{3:g}</text>'
                '<text class="rule-text" x="{2:.1f}" y="{4}" text-anchor="middle">{3:g}</text>'
            ).format(SIDE, SIDE - at, at, tick, SIDE + 16)
        )
    text = Markup('<text class="rule-text" x="{}" y="{}" text-anchor="{}">{}</text>')
    return [
        *found,
        text.format(SIDE, SIDE + 30, "end", "foretold, times the table"),
        text.format(4, 10, "start", "found"),
    ]


def _at(times: float) -> float:
    """Return the place of a number between the edges, in pixels from the left or from below."""
    inside = min(max(times, FROM), TO)
    return SIDE * math.log(inside / FROM) / math.log(TO / FROM)
