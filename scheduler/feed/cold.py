"""What would spoil before its session and keeps in the cold: whom, where and by when."""

from __future__ import annotations

from datetime import datetime

from scheduler.view import View
from scheduler.words.records import Place
from scheduler.words.tuples import NamedTuple


class ForTheCold(NamedTuple):
    """The specimens that keep in one place, and the moment by which they must be there."""

    by: datetime
    place: Place
    specimens: tuple[str, ...]


def for_the_cold(view: View) -> tuple[ForTheCold, ...]:
    """Return what must be put away, the most urgent first."""
    groups: dict[tuple[datetime, Place], list[str]] = {}
    for one in view.waiting:
        clock, cold = one.softening.clock, one.cold
        if clock is None or cold is None or one.softening.since is not None:
            continue
        planned = view.planned_for(one.specimen.specimen)
        if planned is None or planned.mount_at > clock.lost_at:
            by = [clock.lost_at]
            if planned is not None and planned.relax_from is not None:
                by.append(planned.relax_from)  # its softening is planned as from the cold
            at = min(by, key=datetime.timestamp)
            groups.setdefault((view.local(at), cold), []).append(one.specimen.specimen)
    return tuple(ForTheCold(by, place, tuple(who)) for (by, place), who in sorted(groups.items()))
