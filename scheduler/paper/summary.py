"""The summary of a season, on paper."""

from __future__ import annotations

from scheduler.faces.summary import BOARDS_HEAD, boards_used, summary_head, summary_said
from scheduler.looks.summary import SeasonSummary
from scheduler.paper.flow import Flow
from scheduler.paper.pages import Pages, Paper

_WIDTHS_MM = (40.0, 25.0, 25.0, 30.0)


def summary_pages(found: SeasonSummary, paper: Paper = "a4") -> Pages:
    """Return the summary of a season on one page, or on more where there are many boards."""
    pages = Pages(f"season {summary_head(found)}", paper)
    flow = Flow(pages)
    flow.title(summary_head(found))
    for line in summary_said(found):
        flow.note(line)
    if found.boards:
        flow.head("Boards", 20)
        for row in (BOARDS_HEAD, *boards_used(found)):
            flow.row(row, _WIDTHS_MM, box=False)
    return pages
