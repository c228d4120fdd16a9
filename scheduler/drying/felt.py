"""What a hand felt before a specimen was due: stiff once is a hint, stiff again is believed.

Pure. A hand errs near the point of drying. What feels stiff too early dries on for a further part
of its minimum (limit-learn-again) and is felt a second time.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from scheduler.drying.dates import Dates
from scheduler.words.records import DrynessTest
from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.drying.on_board import OnBoard

_HAIR = 1e-9

_DAY = timedelta(days=1)


class FeltEarly(NamedTuple):
    """Stiff, but too early to be believed.

    `again` is the progress from which a second stiff test is believed; None where it was felt
    before the share `learn_least` of the table's minimum, which says nothing.
    """

    again: float | None


def felt_stiff(one: OnBoard) -> bool:
    """Say whether its last test was stiff."""
    return bool(one.tests) and one.tests[-1].verdict == "stiff"


def felt_early(one: OnBoard) -> FeltEarly | None:
    """Return since when it must dry on, None unless it was last felt stiff and too early."""
    if not felt_stiff(one):
        return None
    least = one.rules.limit("learn_least")
    late = [t for t in _since_soft(one.tests) if one.progress(t.tested_at) >= least]
    if not late:
        return FeltEarly(None)
    again = one.progress(late[0].tested_at) + one.rules.limit("learn_again")
    believed = _was_due(one, late[-1]) or one.progress(late[-1].tested_at) >= again - _HAIR
    return None if believed else FeltEarly(again)


def again_on(one: OnBoard, again: float) -> date | None:
    """Return the date from which a second stiff test is believed, None where the air dries none."""
    day = one.reached(lambda _: again, one.least_dried)
    return day and max(day, one.tested_on(one.tests[-1]) + timedelta(days=1))


def brought_forward(dates: Dates, on: date | None) -> Dates:
    """Return due and clear, neither later than `on`, from which a second test is worth making."""
    if on is None:
        return dates
    due, clear = (on if day is None else min(day, on) for day in dates)
    return Dates(due, clear)


def may_be_dry_early(one: OnBoard, on: date, now: datetime) -> bool:
    """Say whether one that is not due on a session's date may come off then, if it is stiff now.

    True only on the last day on which feeling it is early enough.
    """
    due = one.dates.due
    if one.room is None or felt_stiff(one) or (due is not None and due <= on):
        return False
    felt_today = bool(one.tests) and one.tested_on(one.tests[-1]) == now.date()
    if felt_today or on <= now.date() or on < one.least_dried:
        return False
    if (felt := one.progress(now)) < one.rules.limit("learn_least"):
        return False
    # Dates count whole days from the mounting.
    by_then = one.placement.mounted_at + (on - one.placement.mounted_on)
    enough = one.progress(by_then) - one.rules.limit("learn_again") + _HAIR
    tomorrow = now + _DAY
    return felt <= enough and (tomorrow.date() >= on or one.progress(tomorrow) > enough)


def _since_soft(tests: Sequence[DrynessTest]) -> Sequence[DrynessTest]:
    soft = [n for n, test in enumerate(tests) if test.verdict == "soft"]
    return tests[soft[-1] + 1 :] if soft else tests


def _was_due(one: OnBoard, test: DrynessTest) -> bool:
    """Say whether it was due when it was tested, by the date that held then."""
    due = one.table_dates.due if test.due_on is None else test.due_on
    return due is not None and due <= one.tested_on(test)
