"""How a specimen is kept and softened later, if it is not mounted now.

Pure. A fresh, thawed or soft specimen keeps for some hours. Then it goes into the cold, and
afterwards it is softened like anything else that was kept there. A specimen that lies long in the
freezer becomes brittle.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time, timedelta

from scheduler.drying.softening import Been, Softening, frozen_since, hours_after
from scheduler.rulebook import Relaxing, Rulebook
from scheduler.words.records import Place, Specimen, State
from scheduler.words.tuples import NamedTuple

_MOMENT = timedelta(seconds=1)


class Phase(NamedTuple):
    """How a specimen is kept, and softened when it is mounted at a moment from `since` on.

    `place` is where it has to lie from then on, None where it stays as it is. Without `chamber` it
    is limp and needs none; hours as in `Relaxing`.
    """

    since: datetime
    place: Place | None
    chamber: bool
    first_look_hours: float
    most_hours: float


def phase_at(later: Sequence[Phase], mount_at: datetime) -> Phase | None:
    """Return the phase that holds for a mounting at a moment, None when it is as it is now."""
    return next(
        (way for way in reversed(later) if way.since.timestamp() <= mount_at.timestamp()), None
    )


def kept_later(
    specimen: Specimen,
    body_mm: float,
    soft: Softening,
    been: Been,
    rules: Rulebook,
    now: datetime,
) -> tuple[Phase, ...]:
    """Return the phases in which it is kept later, the earliest first; empty if it keeps as now.

    body_mm: width of the thorax [mm]. When a person gave a last day (`spoils_by`) there are none.
    """

    def frozen(days: int) -> Relaxing:
        state: State = "dried" if specimen.state == "dried" else "frozen"
        return rules.relaxing(
            state=state, frozen_days=days, body_mm=body_mm, temp_c=been.chamber_temp_c
        )

    if specimen.spoils_by is not None:
        return ()
    if soft.clock is None:
        since = frozen_since(specimen, body_mm, been, rules, now)
        brittle = specimen.state == "frozen" and soft.chamber
        return tuple(_brittle(since, rules, now, frozen)) if since and brittle else ()
    over = soft.clock.lost_at + _MOMENT
    rule = frozen(0)
    freezer = Phase(over, "freezer", rule.chamber, rule.first_look_hours, rule.most_hours)
    if soft.since is None or (been.keeping and been.keeping.place == "fridge"):
        return (freezer,)
    fridge = Phase(over, "fridge", False, 0.0, soft.most_hours)
    end = hours_after(soft.clock.lost_at, rules.limit("fridge_keeps_hours")) + _MOMENT
    return (fridge, freezer._replace(since=end))


def _brittle(
    frozen_on: date, rules: Rulebook, now: datetime, frozen: Callable[[int], Relaxing]
) -> Iterator[Phase]:
    """Yield how it is softened once it has lain in the freezer for longer."""
    lain = (now.date() - frozen_on).days
    edges = {row.frozen_days_from for row in rules.tables.relaxing if row.state == "frozen"}
    for days in sorted(int(edge) for edge in edges if lain < edge):
        rule = frozen(days)
        since = datetime.combine(frozen_on + timedelta(days=days), time(), now.tzinfo)
        yield Phase(since, None, rule.chamber, rule.first_look_hours, rule.most_hours)
