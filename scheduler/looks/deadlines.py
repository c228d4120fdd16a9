"""Who will not be off the board by the day for which it is wanted, and what would help."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from scheduler.looks.worry import Worry
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.names import natural_order
from scheduler.words.tuples import NamedTuple

MOST_URGENT = 10
MOST_DATES = 3


class Missed(NamedTuple):
    """One specimen that is wanted by a date and comes later; `off` None: nobody can say when."""

    specimen: str
    wanted_by: date
    off: date | None
    stands: bool


def missed(view: View) -> tuple[Missed, ...]:
    """Return who misses its date, by the kept plan or on its board; the earliest date first."""
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
    """Yield a worry for each group that misses its dates alike, with what would help.

    A specimen whose wanted date is over is no longer told where it stands or has its place: it
    comes as soon as it can.
    """
    alike: dict[tuple[bool, bool], list[Missed]] = {}
    for one in missed(view):
        placed = one.stands or one.off is not None
        if placed and one.wanted_by < view.now.date():
            continue
        urgent = not one.stands and view.specimens[one.specimen].priority == MOST_URGENT
        alike.setdefault((one.stands, urgent), []).append(one)
    for (stands, urgent), those in alike.items():
        first, names = those[0], tuple(one.specimen for one in those)
        said = _one_said(first, view) if len(those) == 1 else _all_said(those, view)
        command = f"wingrest amend {first.specimen} priority={MOST_URGENT}"
        if stands or urgent:
            command = f"wingrest {'ready' if stands else 'plan --why'} {first.specimen}"
        yield Worry("late", names, said + (_SOONER if stands else ""), command)


_SOONER = ": move the board to a drier room, or test by hand before"


def _one_said(one: Missed, view: View) -> str:
    wanted = f"{one.specimen} is wanted by {wording.weekday(one.wanted_by, view.now)}"
    if one.stands and one.off is None:
        return f"{wanted}, and nobody can say when its slot is clear"
    if one.off is None:
        return f"{wanted}: the plan has no place for it"
    late = wording.day(one.off, view.now)
    where = ", and its slot is clear only on" if one.stands else ": the plan takes it off on"
    return f"{wanted}{where} {late}"


def _all_said(those: list[Missed], view: View) -> str:
    """Return in one line who is wanted when, and when each comes off."""
    no_day = "nobody can say" if those[0].stands else "no place"
    each = (
        f"{one.specimen} {wording.day(one.wanted_by, view.now)}"
        f" ({wording.day(one.off, view.now) if one.off else no_day})"
        for one in those[:MOST_DATES]
    )
    more = f" and {len(those) - MOST_DATES} more" if len(those) > MOST_DATES else ""
    when = "their slots are clear" if those[0].stands else "the plan takes them off"
    return f"Wanted sooner than {when}: {', '.join(each)}{more}"
