"""Who will not be off the board by the day it is wanted, and what would help."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from scheduler.looks.worry import Worry
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.names import natural_order
from scheduler.words.tuples import NamedTuple

MOST_URGENT = 10


class Missed(NamedTuple):
    """One specimen that is wanted by a date and comes later; `off`: None if nobody can say."""

    specimen: str
    wanted_by: date
    off: date | None
    stands: bool


def missed(view: View) -> tuple[Missed, ...]:
    """Return who misses its date by the kept plan or where it stands, the earliest date first."""
    return tuple(sorted(_missed(view), key=lambda m: (m.wanted_by, natural_order(m.specimen))))


def _missed(view: View) -> Iterator[Missed]:
    for one in view.standing():
        wanted, clear = one.specimen.wanted_by, one.dates.clear
        if wanted is not None and not one.stiff and (clear is None or clear > wanted):
            yield Missed(one.specimen.specimen, wanted, clear, stands=True)
    if view.kept is None:
        return
    for waits in view.waiting:
        wanted, name = waits.specimen.wanted_by, waits.specimen.specimen
        if wanted is None:
            continue
        planned = view.planned_for(name)
        clear = planned.clear if planned else None
        if clear is None or clear > wanted:
            yield Missed(name, wanted, clear, stands=False)


def deadline_worries(view: View) -> Iterator[Worry]:
    """Yield a worry for each specimen that misses its date, with what would help."""
    for one in missed(view):
        wanted = f"{one.specimen} is wanted by {wording.weekday(one.wanted_by, view.now)}"
        late = f"on {wording.day(one.off, view.now)}" if one.off else ""
        if one.stands:
            clear = (
                f"its slot is clear only {late}"
                if late
                else "nobody can say when its slot is clear"
            )
            text = (
                f"{wanted}, and {clear}: move its board to a drier room, or test it by hand before"
            )
            yield Worry("late", (one.specimen,), text, f"wingrest ready {one.specimen}")
            continue
        where = f"the plan takes it off {late}" if late else "the plan has no place for it"
        command = f"wingrest amend {one.specimen} priority={MOST_URGENT}"
        if view.specimens[one.specimen].priority == MOST_URGENT:
            command = f"wingrest plan --why {one.specimen}"
        yield Worry("late", (one.specimen,), f"{wanted}: {where}", command)
