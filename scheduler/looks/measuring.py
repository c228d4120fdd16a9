"""Whom to measure: bodies estimated so thick that they need a wide board, perhaps for nothing.

An estimated body errs to the thick side, so that nothing is planned into a groove too narrow for
it. Where the thin end of its spread would fit a tighter board, measuring it may free the wide one.
"""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.drying.fit import BodyWidths, Size
from scheduler.looks.worry import Worry
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words import wording

MEASURED_AT_A_TIME = 8
"""So many are asked for at a time; no source, a quarter of an hour with a ruler."""


def measure_worries(view: View) -> Iterator[Worry]:
    """Yield one worry naming whom to measure; those for the widest boards come first."""
    boards = [b for b in view.boards.values() if not b.out and view.room_of(b.board) is not None]
    grooves = sorted({board.groove_mm for board in boards})
    found = []
    for one in view.waiting:
        size = one.size
        if size is not None and size.spread is not None:
            asks = _widths(size, size.spread, grooves, view.rules)
            if asks is not None:
                found.append((-asks, one.specimen.specimen))
    if found:
        found.sort(key=lambda entry: entry[0])
        names = tuple(name for _, name in found[:MEASURED_AT_A_TIME])
        text = (
            f"Measure the thorax of {wording.listed(names)}: one thinner than estimated fits a "
            "tighter board"
        )
        if len(found) > len(names):
            text += f" ({len(found) - len(names)} more after these)"
        yield Worry("measure", names, text, f"wingrest amend {names[0]} body_mm=MM")


def _widths(size: Size, spread: BodyWidths, grooves: list[float], rules: Rulebook) -> float | None:
    """Return the groove [mm] that an estimated body needs; None if a thinner one needs no less."""
    widest = grooves[-1] if grooves else 0.0

    def asks(body_mm: float) -> float:
        needs = body_mm + rules.fit_row(body_mm).clearance_min_mm
        return next((g for g in grooves if g >= needs), widest + 1)

    thick, thin = asks(size.body_mm), asks(spread.low_mm)
    return thick if thin < thick else None
