"""What the pages show of the record: boards with their drawings, weeks, measured air."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import NamedTuple

from markupsafe import Markup

from scheduler.air.hours import counting_pct
from scheduler.air.room_air import RoomAir
from scheduler.drying.answer import SpecimenAnswer
from scheduler.looks.boards import BoardState, boards
from scheduler.page.bench.chart import AirPoint, room_chart
from scheduler.page.bench.drawing import Standing, board_drawing
from scheduler.page.bench.weeks import Bar, Span, span_of
from scheduler.view import View
from scheduler.words.records import Room, Specimen

CHART_DAYS = 14


class Face(NamedTuple):
    """One board: its state, what stands on it from left to right, its air, its drawing."""

    state: BoardState
    standing: tuple[SpecimenAnswer, ...]
    air: str
    drawing: Markup

    @property
    def name(self) -> str:
        """Return the board's id."""
        return self.state.board.board

    @property
    def due(self) -> tuple[str, ...]:
        """Return the specimens that may be tested now, the stoutest first."""
        return tuple(s.specimen for s in self.state.answer.specimens if s.answer == "test it now")


def faces(view: View, only: Collection[str] | None = None) -> tuple[Face, ...]:
    """Return every board, or `only` these, the narrowest groove first, all drawn to one scale."""
    longest = max((b.length_mm for b in view.boards.values()), default=0)
    return tuple(_face(state, longest, view) for state in boards(view, only))


def _face(state: BoardState, longest_mm: int, view: View) -> Face:
    standing = _left_to_right(state.answer.specimens)
    drawing = board_drawing(state.board, _drawn_all(standing, view), longest_mm)
    room = view.room_of(state.board.board)
    air = str(standing[0].air) if standing and standing[0].air else air_said(room)
    return Face(state, standing, air, drawing)


def place_drawing(
    view: View, board: str, place: tuple[int, int], comes: Specimen | None, gone: Collection[str]
) -> Markup:
    """Return the drawing of a board with a place [mm] framed, without the `gone` specimens.

    `comes` is to be mounted in the place; it is drawn in dashes.
    """
    found = [s for s in view.answer(board).specimens if s.specimen not in gone]
    drawn = _drawn_all(_left_to_right(found), view)
    if comes is not None:
        size, (left, right) = view.size(comes), place
        body, wings = (size.body_mm, size.wingspan_mm) if size else (3.0, 0.0)
        new = Standing(0, comes.specimen, left, right, body, wings or 0.0, "not yet", None, True)
        by_place = sorted([*drawn, new], key=lambda s: s.from_mm)
        drawn = [s._replace(number=n) for n, s in enumerate(by_place, 1)]
    on = view.boards[board]
    return board_drawing(on, drawn, on.length_mm, place)


def _left_to_right(those: Iterable[SpecimenAnswer]) -> tuple[SpecimenAnswer, ...]:
    return tuple(sorted(those, key=lambda s: s.from_mm))


def _drawn_all(standing: Sequence[SpecimenAnswer], view: View) -> list[Standing]:
    return [_drawn(n, s, view) for n, s in enumerate(standing, 1)]


def _drawn(number: int, s: SpecimenAnswer, view: View) -> Standing:
    size = view.size(view.specimens[s.specimen])
    wingspan = size.wingspan_mm if size else 0.0
    return Standing(
        number, s.specimen, s.from_mm, s.to_mm, s.body_mm, wingspan, s.answer, s.progress_pct
    )


def air_said(room: Room | None) -> str:
    """Return in words the room of a board, with the air that is assumed there."""
    if room is None:
        return "nobody has said in which room"
    if room.regime != "room":
        return f"{room.room} ({room.regime})"
    return (
        room.room if room.rh_pct is None else f"{room.room}, its air assumed at {room.rh_pct:g} %"
    )


def bars_by_board(found: Iterable[Face], view: View) -> dict[str, list[Bar]]:
    """Return the bars of each board: what stands and what is planned; same dates share one."""
    rows: dict[str, list[Bar]] = {}
    for face in found:
        bars = [
            Bar((s.specimen,), s.mounted_on, s.due, s.clear, stands_on=_over(s, view.now.date()))
            for s in face.standing
        ]
        rows[face.name] = _merged(bars)
    planned: dict[str, list[Bar]] = {}
    for p in view.planned:
        begin = view.local(p.mount_at).date()
        bar = Bar((p.specimen,), begin, p.due, p.clear, planned=True)
        planned.setdefault(p.board, []).append(bar)
    for board, bars in planned.items():
        if board in rows:
            rows[board] += _merged(bars)
    return rows


def _over(s: SpecimenAnswer, today: date) -> date | None:
    """Return today for a specimen past its clear date, else None."""
    return today if s.clear is not None and s.clear < today else None


def _merged(bars: Sequence[Bar]) -> list[Bar]:
    groups: dict[Bar, list[str]] = {}
    for bar in bars:
        groups.setdefault(bar._replace(specimens=()), []).extend(bar.specimens)
    return [bar._replace(specimens=tuple(names)) for bar, names in groups.items()]


def span(rows: dict[str, list[Bar]], now: datetime) -> Span:
    """Return the weeks that a page with these bars shows."""
    return span_of([bar for bars in rows.values() for bar in bars], now.date())


def measured_air(air: RoomAir | None, begin: datetime, end: datetime) -> list[AirPoint]:
    """Return what was measured of a room's air, hour by hour, between two local moments."""
    if air is None:
        return []
    hour = timedelta(hours=1)
    first = begin.replace(minute=0, second=0)
    moments = (first + n * hour for n in range((end - first) // hour + 1))
    found = ((moment, air.at(moment)) for moment in moments)
    return [
        AirPoint(m, here[0], counting_pct(here[0], here[1]))
        for m, here in found
        if here is not None
    ]


def chart_of(view: View, room: Room | None) -> Markup | None:
    """Return the chart of a room's last days, None when its air was not measured."""
    if room is None:
        return None
    end = view.wall(view.now)
    begin = end - timedelta(days=CHART_DAYS)
    dial = [
        AirPoint(view.wall(d.read_at), d.rh_pct, d.rh_pct) for d in view.facts.dials_of(room.room)
    ]
    limit = view.rules.limit("take_off_rh_pct")
    limits = {"take off below": limit} if room.regime == "room" else {}
    hours = measured_air(view.room_air(room.room), begin, end)
    return room_chart(room.room, hours, dial, begin, end, limits)
