"""One round of feeling: a soft one recorded a minute ago holds back nothing that was due."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time

from scheduler.drying.on_board import OnBoard
from scheduler.record.tested import standing_tested_since
from scheduler.view import View


def due_this_round(one: OnBoard, view: View, day: date) -> date | None:
    """Return when one that is felt on a local day is due, or was due when the round began.

    A soft one moves what is learned of the room. What was due when the round began, and is felt in
    it, keeps that date.
    """
    due = one.dates.due
    if one.is_due(day) or not _felt_soft(view, one, day):
        return due
    began = _due_before(view, one, datetime.combine(day, time(), view.zone))
    return began if began is not None and began <= day else due


def _felt_soft(view: View, one: OnBoard, day: date) -> bool:
    """Say whether the last test of another one in its room was soft and on that day."""
    began = datetime.combine(day, time(), view.zone)
    return any(
        other is not one
        and other.room == one.room
        and other.tests[-1].verdict == "soft"
        and other.tested_on(other.tests[-1]) == day
        for other in map(view.of, standing_tested_since(view.facts, began))
    )


def _due_before(view: View, one: OnBoard, moment: datetime) -> date | None:
    """Return when it was due by what its room's tests had taught before a moment."""
    from scheduler.learning.of_record import lessons_of  # few rounds need it

    earlier = None if view.table_only else lessons_of(view.facts, view.rules, view.of, moment)
    return replace(one, teach=earlier.of if earlier else None).dates.due
