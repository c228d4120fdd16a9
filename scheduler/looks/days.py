"""What the rule tables say of a body in some air; no record is needed for it."""

from __future__ import annotations

from scheduler.drying.law import AskedOfTable, assumed_air, time_in_air
from scheduler.rulebook import BoardTime, Kin, Rulebook
from scheduler.words.problems import BadInput
from scheduler.words.records import Regime, Room, State

BODIES_SHOWN_MM = (1.5, 3.0, 4.5, 6.0, 8.0, 10.0, 12.0, 16.0)
AIRS_PCT = (40.0, 50.0, 55.0, 60.0, 65.0, 70.0, 75.0)
"""The bodies and the humidities that a table of days shows."""


def board_time_of(
    rules: Rulebook,
    family: str | None,
    body_mm: float,
    rh_pct: float | None,
    state: State,
    regime: Regime,
    temp_c: float | None = None,
) -> BoardTime:
    """Return the days of a body in some air, with the rows behind them.

    The days are None where such air cannot dry it. Raises BadInput for a name that nobody knows.
    """
    air = assumed_air(Room("", regime, rh_pct, temp_c), rules)
    return time_in_air(
        rules, AskedOfTable(kin_asked(rules, family).row.family, body_mm, state), air
    )


def kin_asked(rules: Rulebook, family: str | None) -> Kin:
    """Return the kin whose rules answer. Raises BadInput, with the nearest names, without one."""
    kin = rules.kinship.of(family)
    if family and not kin.known:
        near = rules.kinship.nearest(family)
        guess = f" Did you mean {' or '.join(near)}?" if near else ""
        raise BadInput(
            f"the rules know no family, group or genus {family!r}.{guess} "
            "Without --family they answer for any insect"
        )
    return kin


def days_in_short(time: BoardTime) -> str:
    """Return `14/21`, or a dash where such air cannot be relied on."""
    if time.min_days is None:
        return "-"
    return f"{time.min_days}/{time.plan_days or '-'}"
