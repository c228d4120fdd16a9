"""A session on one or two pages, and the list of what to take out of the freezer."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from scheduler.looks.session_day import PaperSlip, Pull, SessionDay
from scheduler.paper.flow import LINE_MM, Flow
from scheduler.paper.pages import UPRIGHT, Pages, Paper
from scheduler.paper.slips import in_width
from scheduler.words import cautions, wording
from scheduler.words.label import sex_sign
from scheduler.words.records import Specimen

DRAWN_MM = 9.0
PULL_MM = (26.0, 66.0, 52.0, 40.0)
ORDER_MM = (6.0, 20.0, 20.0, 20.0, 13.0, 11.0, 22.0, 72.0)


def session_pages(day: SessionDay, paper: Paper = "a4") -> Pages:
    """Return a session's sheet: chamber, tests, mounting order, boards, pins, strips."""
    when = f"{wording.weekday(day.start, day.start)} {day.start.year}, {day.start:%H:%M}"
    name = f"session {day.session.session}"
    pages = Pages(f"{name} \u00b7 {when}", paper)
    flow = Flow(pages)
    flow.title(f"{name}: {when}, {day.minutes} of {day.session.minutes} min")
    _chamber(flow, day)
    _tests(flow, day)
    _order(flow, day)
    _drawings(flow, day)
    _strips(flow, day)
    flow.head("Mind", 20)
    for text in (cautions.BENCH, cautions.CHAMBER if day.into_chamber else "", cautions.PESTS):
        if text:
            flow.note(text)
    return pages


def _chamber(flow: Flow, day: SessionDay) -> None:
    if day.into_chamber:
        flow.head("Into the relaxing chamber")
        for since, out_by, those in day.into_chamber:
            when = (
                f"{wording.moment(since, day.start)}, out by {wording.moment(out_by, day.start)}:"
            )
            flow.tick(f"{when} {', '.join(sorted(those))}")
        flow.note(cautions.FIRST_LOOK)
    if day.limp:
        flow.note(f"Limp already: {wording.listed(day.limp)}. {cautions.NO_CHAMBER}")


def _tests(flow: Flow, day: SessionDay) -> None:
    if not day.off:
        return
    flow.head("Test first, take off what is stiff")
    for board, those in day.off.items():
        flow.tick(f"{board}: {', '.join(those)}")
    flow.note(f"{cautions.HOW_TO_TEST} {cautions.NOT_WHEN_DAMP}")


def _order(flow: Flow, day: SessionDay) -> None:
    flow.head("Mount, in this order")
    head = ("", "who", "board", "mm", "pin", "min", "test from", "taxon")
    flow.row(head, ORDER_MM, box=False)
    for number, (p, slip) in enumerate(zip(day.mount, day.slips, strict=True), 1):
        test = wording.label_date(p.due) if p.due else "no date"
        cells = (
            str(number), p.specimen, p.board, f"{p.from_mm}-{p.to_mm}", slip.pin, str(p.minutes),
            test, f"{_taxon(slip.specimen)}{' after ' + ', '.join(p.after) if p.after else ''}",
        )  # fmt: skip
        flow.row(cells, ORDER_MM, box=True, slanted=7)
    flow.head("Pins to lay out")
    flow.tick("; ".join(f"size {pin}: {count}" for pin, count in day.pins) or "none")


def _drawings(flow: Flow, day: SessionDay) -> None:
    """Draw every board that is mounted on, all to one scale; what stands already is grey."""
    area = flow.pages.area
    used = {p.board: day.boards[p.board] for p in day.mount}
    longest = max((_length(slips) for slips in used.values()), default=0)
    if not longest:
        return
    scale = min(1.0, (area.right - area.left - 16) / longest)
    flow.head(f"The boards afterwards, 1 : {1 / scale:.2g}", DRAWN_MM + 10)
    for board, slips in used.items():
        flow.need(DRAWN_MM + 2)
        flow.pages.text(area.left, flow.y + 5, board, 8)
        _draw_board(flow, slips, scale)
        flow.y += DRAWN_MM + 1.5


def _draw_board(flow: Flow, slips: Sequence[PaperSlip], scale: float) -> None:
    x0, y = flow.pages.area.left + 16, flow.y + 0.5
    flow.pages.box(x0, y, _length(slips) * scale, DRAWN_MM - 2)
    for slip in slips:
        x, wide = x0 + slip.from_mm * scale, (slip.to_mm - slip.from_mm) * scale
        fill = 0.88 if slip.standing else None
        flow.pages.box(x, y, wide, DRAWN_MM - 2, fill=fill)
        text, size = in_width(slip.specimen.specimen, wide - 0.6, 6, UPRIGHT)
        flow.pages.text(x + 0.4, y + 3, text, size)
        text, size = in_width(f"{slip.from_mm}-{slip.to_mm}", wide - 0.6, 5, UPRIGHT)
        flow.pages.text(x + 0.4, y + 6, text, size)


def _length(slips: Sequence[PaperSlip]) -> int:
    return slips[0].board.length_mm if slips else 0


def _strips(flow: Flow, day: SessionDay) -> None:
    if day.slips:
        flow.head("Strips to write, or `wingrest print slips`")
        said = [wording.strip(s.specimen.specimen, s.mounted_on, s.test_from) for s in day.slips]
        for begin in range(0, len(said), 3):
            three = [*said[begin : begin + 3], "", ""][:3]
            flow.row(three, (62, 62, 62), box=True)


def _taxon(s: Specimen) -> str:
    return " ".join(filter(None, (s.taxon or s.group or s.family, sex_sign(s.sex))))


def pull_pages(pulls: Sequence[Pull], paper: Paper = "a4") -> Pages:
    """Return the list of what comes out of the freezer, by box, each with a square to tick."""
    pages = Pages("pull list", paper)
    flow = Flow(pages)
    first = min((one.since for one in pulls), default=None)
    flow.title(
        f"Out of the freezer, {wording.weekday(first, first)}" if first else "Nothing to pull"
    )
    flow.note("With the moment at which each goes into the relaxing chamber, and its session.")
    for box, those in groupby(pulls, key=lambda one: one.box):
        mine = list(those)
        flow.head(f"{box or 'box not said'} ({len(mine)})", LINE_MM * 3)
        for one in mine:
            s = one.specimen
            cells = (
                s.specimen,
                _taxon(s),
                wording.moment(one.since, first or one.since),
                f"for {one.session}",
            )
            flow.row(cells, PULL_MM, box=True, slanted=1)
    if pulls:
        flow.head("Mind")
        flow.note(cautions.CHAMBER)
    return pages
