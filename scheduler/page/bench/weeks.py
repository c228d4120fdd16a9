"""Boards against weeks: what stands where from when to when, and what is planned.

Pure. Lengths along the weeks are shares of the drawing's width, so that it fits any screen
without shrinking its letters; heights are CSS pixels.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import NamedTuple

from markupsafe import Markup

from scheduler.words import wording

WEEK = timedelta(days=7)
WEEKS_BACK = 4
WEEKS_AHEAD = 10
LANE_PX = 26
BAR_PX = 20
WORDS_SHARE = 0.16
"""The share of the width that a bar's words take."""
WORDS_LEFT_SHARE = 0.35
"""The share of the width, from its end, in which a bar's words stand to its left."""


class Bar(NamedTuple):
    """Specimens on one board with the same dates; `clear` None: it runs on without a date."""

    specimens: tuple[str, ...]
    begin: date
    due: date | None
    clear: date | None
    planned: bool = False


class Span(NamedTuple):
    """The weeks drawn, from a Monday to a Monday."""

    begin: date
    end: date

    def share(self, day: date) -> float:
        """Return where a day begins, in percent of the width, cut off at the ends."""
        whole = (self.end - self.begin).days
        return 100 * min(max((day - self.begin).days, 0), whole) / whole

    def mondays(self) -> list[date]:
        """Return the Mondays at which weeks begin."""
        return [self.begin + n * WEEK for n in range((self.end - self.begin) // WEEK)]


def span_of(bars: Iterable[Bar], today: date) -> Span:
    """Return the weeks that hold the bars, not more than a few back and some months ahead."""
    every = list(bars)
    first = min([b.begin for b in every] + [today])
    last = max([d for b in every for d in (b.due, b.clear) if d] + [today + 2 * WEEK])
    begin = max(first, today - WEEKS_BACK * WEEK)
    end = min(last, today + WEEKS_AHEAD * WEEK)
    return Span(_monday(begin), _monday(end) + WEEK)


def weeks_head(span: Span, today: date) -> Markup:
    """Return the row of weeks: the Monday of each, and where today is."""
    mondays = span.mondays()
    parts = []
    text = Markup('<text class="{}" x="{}%" y="15" dx="3">{}</text>')
    for index, monday in enumerate(mondays):
        kinds = [
            k for k, room in (("narrow", 230), ("wide", 900)) if not index % _step(mondays, room)
        ]
        if kinds:
            parts.append(
                text.format(
                    " ".join(["week", *kinds]), _pc(span.share(monday)), wording.day(monday, today)
                )
            )
    parts += _grid(span, today, 22)
    said = (
        f"Weeks from {wording.weekday(span.begin, today)}, today is {wording.weekday(today, today)}"
    )
    return _svg(parts, 22, said)


def weeks_row(board: str, bars: Sequence[Bar], span: Span, today: date) -> Markup:
    """Return one board's row: a lane for each bar, the earliest first."""
    seen = [b for b in bars if b.begin < span.end and (b.clear or span.end) >= span.begin]
    lanes = _lanes(seen, span)
    height = max(1, len(lanes)) * LANE_PX
    parts = _grid(span, today, height)
    for number, lane in enumerate(lanes):
        for bar in lane:
            parts += _bar(bar, span, number * LANE_PX + (LANE_PX - BAR_PX) // 2, today)
    said = "; ".join(bar_said(b, today) for b in bars) or "nothing stands on it"
    return _svg(parts, height, f"{board}: {said}")


def bar_said(bar: Bar, today: date) -> str:
    """Return a bar in words."""
    begin = "planned from" if bar.planned else "mounted"
    due = f"test from {wording.day(bar.due, today)}" if bar.due else "no date in this air"
    clear = f", clear {wording.day(bar.clear, today)}" if bar.clear else ""
    return f"{wording.listed(bar.specimens)} {begin} {wording.day(bar.begin, today)}, {due}{clear}"


def _lanes(bars: Iterable[Bar], span: Span) -> list[list[Bar]]:
    """Return bars in lanes, the earliest first; those in one lane leave room for their words."""
    lanes: list[list[Bar]] = []
    free_from: list[float] = []
    for bar in sorted(bars, key=lambda b: (b.begin, b.due or date.max)):
        begin, end = span.share(bar.begin), span.share(bar.clear or bar.due or span.end)
        taken = max(end, begin + 100 * WORDS_SHARE) + 1
        if begin > 100 * (1 - WORDS_LEFT_SHARE):
            begin, taken = begin - 100 * WORDS_SHARE, end + 1
        lane = next((n for n, free in enumerate(free_from) if free <= begin), len(lanes))
        if lane == len(lanes):
            lanes.append([])
            free_from.append(0.0)
        lanes[lane].append(bar)
        free_from[lane] = taken
    return lanes


def _bar(bar: Bar, span: Span, y: int, today: date) -> list[Markup]:
    """Draw until due as damp, from due to clear as to be tested; what is planned in dashes."""
    begin, due = span.share(bar.begin), span.share(bar.due or bar.clear or span.end)
    end = max(span.share(bar.clear or bar.due or span.end), due)
    rect = Markup('<rect class="{}" x="{}%" y="{}" width="{}%" height="{}" fill="url(#{})"/>')
    kind = "bar planned" if bar.planned else "bar"
    paper = "paper-damp" if bar.due else "paper-dots"
    parts = [rect.format(kind, _pc(begin), y, _pc(due - begin), BAR_PX, paper)]
    if end > due:
        parts.append(rect.format(kind, _pc(due), y, _pc(end - due), BAR_PX, "paper-plain"))
    if bar.due and span.begin <= bar.due < span.end:
        pin = Markup(
            '<line class="pin" x1="{0}%" x2="{0}%" y1="{1}" y2="{2}"/>'
            '<circle class="pin-head" cx="{0}%" cy="{1}" r="3"/>'
        )
        parts.append(pin.format(_pc(due), y + 1, y + BAR_PX))
    at, anchor, shift = begin, "start", 5
    if begin > 100 * (1 - WORDS_LEFT_SHARE):
        at, anchor, shift = begin, "end", -5
    text = Markup('<text class="who {}" x="{}%" y="{}" dx="{}" text-anchor="{}">{}</text>')
    for kind, words in (
        ("narrow", _who(bar, 1)),
        ("wide", f"{_who(bar, 2)} · {_until(bar, today)}"),
    ):
        parts.append(text.format(kind, _pc(at), y + BAR_PX // 2 + 4, shift, anchor, words))
    return parts


def _who(bar: Bar, most: int) -> str:
    """Return who it is in a few letters: not more than so many names."""
    if len(bar.specimens) <= most:
        return ", ".join(bar.specimens)
    return f"{bar.specimens[0]} +{len(bar.specimens) - 1}"


def _until(bar: Bar, today: date) -> str:
    return wording.day(bar.due, today) if bar.due else "no date"


def _grid(span: Span, today: date, height: int) -> list[Markup]:
    line = Markup('<line class="{0}" x1="{1}%" x2="{1}%" y1="0" y2="{2}"/>')
    parts = [line.format("monday", _pc(span.share(day)), height) for day in span.mondays()]
    return [*parts, line.format("today", _pc(span.share(today)), height)]


def _svg(parts: Iterable[Markup], height: int, said: str) -> Markup:
    drawn = Markup(
        '<svg class="weeks" role="img" aria-label="{}" width="100%" height="{}">{}</svg>'
    )
    return drawn.format(said, height, Markup("").join(parts))


def _step(mondays: Sequence[date], room_px: int) -> int:
    """Return how many weeks go to one date so that dates keep apart."""
    return max(1, -(-52 * len(mondays) // room_px))


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _pc(share: float) -> str:
    return f"{share:.2f}".rstrip("0").rstrip(".")
