"""Early tests worth making, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scheduler.words import wording

if TYPE_CHECKING:
    from scheduler.learning.probe import Probe


def probe_said(probe: Probe) -> str:
    """Return what to feel before it is due, why, and what to do with it afterwards."""
    names, boards = wording.listed(probe.specimens), wording.listed(probe.boards)
    if probe.session is not None:
        return (
            f"{names} on {boards}, for {probe.session}: not due by then, but perhaps dry. What is"
            " stiff now, and again then, frees its slot. Touch with a pin, never force"
        )
    days = "half a day" if probe.gain_days < 0.75 else wording.days_said(round(probe.gain_days))
    return (
        f"{names} on {boards}, not due yet, but knowing whether they are stiff would bring dates in"
        f" {probe.room} forward by about {days}. Touch with a pin, never force. What is stiff"
        " stays a little longer and is felt again"
    )


def probe_lines(probe: Probe) -> list[str]:
    """Return the same for a terminal, with the command that records what was felt."""
    lines = wording.wrapped(probe_said(probe), "  ", "    ")
    doing = f"wingrest test {' '.join(probe.specimens)} stiff|soft"
    return [*lines, *wording.wrapped(doing, "    ", "      ")]
