"""Draw the measured air of a room over its last days. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from markupsafe import Markup

from scheduler.words import wording

HEIGHT_PX = 150
FLOOR_PX = 124
"""The height of 0 %; the days are written below it."""
JOINED = timedelta(hours=3)
"""Points further apart than this are not joined: nobody knows what was between them."""
TOLD_APART_PCT = 1.0
"""Where the humidity that counts is higher by more than this, it gets a line of its own."""


class AirPoint(NamedTuple):
    """The humidity [%] at a local moment: as measured, and as it counts for drying."""

    at: datetime
    rh_pct: float
    counting_pct: float


def room_chart(
    room: str,
    hours: Sequence[AirPoint],
    dial: Sequence[AirPoint],
    begin: datetime,
    end: datetime,
    limits: Mapping[str, float],
) -> Markup | None:
    """Return the humidity of a room between two local moments, None when nobody measured it.

    `hours` are joined by a line, readings of a `dial` are dots; `limits` [%] are drawn across with
    their names.
    """
    here = sorted(p for p in hours if begin <= p.at <= end)
    if not here:
        return None
    whole = (end - begin) / timedelta(hours=1)
    lines = [_line("air", here, begin, lambda p: p.rh_pct)]
    counted = any(p.counting_pct - p.rh_pct > TOLD_APART_PCT for p in here)
    if counted:
        lines.append(_line("air counting", here, begin, lambda p: p.counting_pct))
    graph = Markup(
        '<svg width="100%" height="{}" viewBox="0 0 {:g} 100" preserveAspectRatio="none">{}</svg>'
    ).format(FLOOR_PX, whole, Markup("").join(lines))
    dot = Markup('<circle class="air-dot" cx="{:.2f}%" cy="{}" r="3.5"/>')
    dots = [
        dot.format(100 * ((p.at - begin) / timedelta(hours=1)) / whole, _y(p.rh_pct))
        for p in dial
        if begin <= p.at <= end
    ]
    parts = [*_scale(limits), graph, *dots, *_limits(limits), *_days(begin, end)]
    drawn = Markup(
        '<svg class="chart" role="img" aria-label="{}" width="100%" height="{}">{}</svg>{}'
    )
    key = _COUNTED if counted else Markup("")
    return drawn.format(_said(room, here), HEIGHT_PX, Markup("").join(parts), key)


_COUNTED = Markup(
    '<p class="note">Solid: measured. Dashed: the humidity that counts, higher in cold air, which'
    " dries slower.</p>"
)


def _line(
    kind: str, here: Sequence[AirPoint], begin: datetime, pct: Callable[[AirPoint], float]
) -> Markup:
    """Return a line through points, with a gap where they are too far apart."""
    steps = []
    last: datetime | None = None
    for point in here:
        joined = last is not None and point.at - last <= JOINED
        x = (point.at - begin) / timedelta(hours=1)
        steps.append(f"{'L' if joined else 'M'}{x:.1f} {100 - min(max(pct(point), 0), 100):.1f}")
        last = point.at
    return Markup('<path class="{}" d="{}" vector-effect="non-scaling-stroke"/>').format(
        kind, "".join(steps)
    )


def _said(room: str, here: Sequence[AirPoint]) -> str:
    low, high = min(p.rh_pct for p in here), max(p.rh_pct for p in here)
    last = here[-1]
    return (
        f"Measured humidity of {room}: {low:.0f} to {high:.0f} %,"
        f" last {last.rh_pct:.0f} % on {wording.moment(last.at, here[0].at)}"
    )


def _scale(limits: Mapping[str, float]) -> list[Markup]:
    line = Markup(
        '<line class="rule" x1="0" x2="100%" y1="{0}" y2="{0}"/>'
        '<text class="rule-text" x="0" y="{0}" dy="-2">{1} %</text>'
    )
    return [
        line.format(_y(rh), rh)
        for rh in (20, 40, 60, 80)
        if all(abs(rh - at) > 8 for at in limits.values())
    ]


def _limits(limits: Mapping[str, float]) -> list[Markup]:
    line = Markup(
        '<line class="limit" x1="0" x2="100%" y1="{0}" y2="{0}"/>'
        '<text class="rule-text" x="100%" y="{0}" dy="-3" text-anchor="end">{1} {2:g} %</text>'
    )
    return [line.format(_y(rh), name, rh) for name, rh in limits.items()]


def _days(begin: datetime, end: datetime) -> list[Markup]:
    text = Markup('<text class="rule-text" x="{}" y="{}" text-anchor="{}">{}</text>')
    y = HEIGHT_PX - 6
    return [
        text.format("0", y, "start", wording.day(begin, end)),
        text.format("100%", y, "end", wording.day(end, begin)),
    ]


def _y(rh_pct: float) -> str:
    return f"{FLOOR_PX * (1 - min(max(rh_pct, 0), 100) / 100):.1f}"
