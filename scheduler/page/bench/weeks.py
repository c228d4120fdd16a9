"""Draw boards against weeks: what stands where from when to when, and what is planned. Pure.

Lengths along the weeks are shares of the drawing's width, so that it fits any screen without
shrinking its letters; heights are CSS pixels.
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
WORDS_PX = 17
"""The height for a bar's words; they stand above the bar, so that they hide no pin."""
BAR_PX = 18
LANE_PX = WORDS_PX + BAR_PX + 3
LETTER_SHARE = {"narrow": 2.7, "wide": 0.95}
"""The share of the width [%] that a letter of 13 px takes on a narrow and on a wide screen."""
OVER_SHARE = 1.0
"""The least width [%] of the part past the clear date, so that its first day is seen."""


class Bar(NamedTuple):
    """Specimens on one board with the same dates; one without a date runs on to the end.

    `stands_on` is the day up to which they have stood, where that is past their clear date.
    """

    specimens: tuple[str, ...]
    begin: date
    due: date | None
    clear: date | None
    planned: bool = False
    stands_on: date | None = None

    @property
    def end(self) -> date | None:
        """Return the last day that is drawn, None where it runs on."""
        return self.stands_on or self.clear or self.due


class Span(NamedTuple):
    """The weeks drawn, from a Monday to a Monday."""

    begin: date
    end: date

    def share(self, day: date) -> float:
        """Return where a day begins in percent of the width, at least 0 and at most 100."""
        whole = (self.end - self.begin).days
        return 100 * min(max((day - self.begin).days, 0), whole) / whole

    def mondays(self) -> list[date]:
        """Return the Mondays at which weeks begin."""
        return [self.begin + n * WEEK for n in range((self.end - self.begin) // WEEK)]


def span_of(bars: Iterable[Bar], today: date) -> Span:
    """Return the weeks that hold the bars, at most `WEEKS_BACK` back and `WEEKS_AHEAD` ahead."""
    every = list(bars)
    first = min([b.begin for b in every] + [today])
    last = max([d for b in every for d in (b.due, b.clear) if d] + [today + 2 * WEEK])
    begin = max(first, today - WEEKS_BACK * WEEK)
    end = min(last, today + WEEKS_AHEAD * WEEK)
    return Span(_monday(begin), _monday(end) + WEEK)


def weeks_head(span: Span, today: date) -> Markup:
    """Return the drawn head of the weeks: the Monday of each, and where today is."""
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
    """Return the drawn row of one board: its bars in lanes, the earliest first."""
    seen = [b for b in bars if b.begin < span.end and (b.end or span.end) >= span.begin]
    lanes = _lanes(seen, span, today)
    height = max(1, len(lanes)) * LANE_PX
    parts = _grid(span, today, height)
    for number, lane in enumerate(lanes):
        for bar in lane:
            parts += _bar(bar, span, number * LANE_PX + WORDS_PX, today)
    said = "; ".join(bar_said(b, today) for b in bars) or "nothing stands on it"
    return _svg(parts, height, f"{board}: {said}")


def bar_said(bar: Bar, today: date) -> str:
    """Return a bar in words."""
    begin = "planned from" if bar.planned else "mounted"
    due = f"test from {wording.day(bar.due, today)}" if bar.due else "no date yet in this air"
    clear = f", clear {wording.day(bar.clear, today)}" if bar.clear else ""
    still = ", still on its board" if bar.stands_on else ""
    when = wording.day(bar.begin, today)
    return f"{wording.listed(bar.specimens)} {begin} {when}, {due}{clear}{still}"


def _lanes(bars: Iterable[Bar], span: Span, today: date) -> list[list[Bar]]:
    """Return bars in lanes, the earliest first; within a lane there is room for their words."""
    lanes: list[list[Bar]] = []
    free_from: list[float] = []
    for bar in sorted(bars, key=lambda b: (b.begin, b.due or date.max)):
        end = span.share(bar.end or span.end)
        begin = min(span.share(bar.begin), _words_at(bar, span, today))
        taken = max(end, _words_at(bar, span, today) + _words_share(bar, today)) + 1
        lane = next((n for n, free in enumerate(free_from) if free <= begin), len(lanes))
        if lane == len(lanes):
            lanes.append([])
            free_from.append(0.0)
        lanes[lane].append(bar)
        free_from[lane] = taken
    return lanes


def _bar(bar: Bar, span: Span, y: int, today: date) -> list[Markup]:
    """Draw a bar: damp until due, plain from due to clear, dashed where it is only planned."""
    begin, due = span.share(bar.begin), span.share(bar.due or bar.clear or span.end)
    rect = Markup('<rect class="{}" x="{}%" y="{}" width="{}%" height="{}" fill="url(#{})"/>')
    kind = "bar planned" if bar.planned else "bar"
    paper = "paper-damp" if bar.due else "paper-dots"
    parts = [rect.format(kind, _pc(begin), y, _pc(due - begin), BAR_PX, paper)]
    clear = max(span.share(bar.clear or bar.due or span.end), due)
    if clear > due:
        parts.append(rect.format(kind, _pc(due), y, _pc(clear - due), BAR_PX, "paper-plain"))
    if bar.stands_on:
        over = max(span.share(bar.stands_on) - clear, OVER_SHARE)
        parts.append(rect.format(f"{kind} over", _pc(clear), y, _pc(over), BAR_PX, "paper-stiff"))
    if bar.due and span.begin <= bar.due < span.end:
        pin = Markup(
            '<line class="pin" x1="{0}%" x2="{0}%" y1="{1}" y2="{2}"/>'
            '<circle class="pin-head" cx="{0}%" cy="{1}" r="3"/>'
        )
        parts.append(pin.format(_pc(due), y + 3, y + BAR_PX))
    text = Markup('<text class="who {}" x="{}%" y="{}">{}</text>')
    for kind, words in (("narrow", _who(bar, 1)), ("wide", _wide_words(bar, today))):
        parts.append(text.format(kind, _pc(_words_at(bar, span, today)), y - 4, words))
    return parts


def _words_share(bar: Bar, today: date) -> float:
    """Return the share of the width that a bar's words take, on the tighter of both screens."""
    narrow = len(_who(bar, 1)) * LETTER_SHARE["narrow"]
    return min(100.0, max(narrow, len(_wide_words(bar, today)) * LETTER_SHARE["wide"]))


def _words_at(bar: Bar, span: Span, today: date) -> float:
    """Return where a bar's words begin: at its begin, or further left where they would not fit."""
    return max(0.0, min(span.share(bar.begin), 100 - _words_share(bar, today)))


def _wide_words(bar: Bar, today: date) -> str:
    return f"{_who(bar, 2)} · {_until(bar, today)}"


def _who(bar: Bar, most: int) -> str:
    """Return the names of a bar's specimens, where there are more than `most` in short."""
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
    """Return at every how many weeks a date is written, so that dates do not overlap."""
    return max(1, -(-52 * len(mondays) // room_px))


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _pc(share: float) -> str:
    return f"{share:.2f}".rstrip("0").rstrip(".")
