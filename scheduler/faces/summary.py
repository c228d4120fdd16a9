"""A season summed up, in words: the same on the terminal, on the page and on paper."""

from __future__ import annotations

from scheduler.looks.summary import FurtherBoard, SeasonSummary
from scheduler.words import wording

MOST_BOARDS = 3
"""So many widths of groove are named, those of which one more board would have saved most."""


def summary_head(s: SeasonSummary) -> str:
    """Return which days are summed up, both included."""
    return " to ".join(f"{d.day} {wording.MONTHS[d.month - 1]} {d.year}" for d in (s.first, s.last))


def summary_said(s: SeasonSummary) -> list[str]:
    """Return what happened to the specimens, and what one more board would have saved."""
    lines = [
        f"{s.mounted} mounted, {s.came_off} came off, {s.spoiled} lost before mounting.",
        f"{wording.counted(s.soft, 'test')} found soft; {s.drooped} of those that came off drooped"
        " later.",
    ]
    if s.days is not None and s.table_days is not None:
        lines.append(
            f"{s.days:.1f} days on the board on average; the table asked for a test after "
            f"{s.table_days:.1f}."
        )
    lines += [_further_said(f) for f in s.further[:MOST_BOARDS]]
    if not s.further and s.mounted:
        lines.append("No specimen had to wait for a full board.")
    return lines


def _further_said(f: FurtherBoard) -> str:
    who = wording.counted(f.specimens, "specimen")
    return (
        f"One more board with a groove of {f.groove_mm:g} mm: {who} waited"
        f" {wording.days_said(f.days)} in all while every board for them was full. It would have"
        " saved at most these."
    )


def boards_used(s: SeasonSummary) -> list[tuple[str, str, str, str]]:
    """Return a row for each board: its name, its groove, how much of it was used, days empty."""
    return [
        (b.board, f"{b.groove_mm:g} mm", f"{b.used_pct:.0f} %", f"{b.empty_days}") for b in s.boards
    ]


BOARDS_HEAD = ("board", "groove", "used", "days empty")
