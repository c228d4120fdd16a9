"""What is proposed to be felt before it is due; pure, and quick to import."""

from __future__ import annotations

from scheduler.words.tuples import NamedTuple

MOST_PROBES = 3
"""So many are proposed in a room at a time, where that is to teach."""


class Probe(NamedTuple):
    """Specimens to feel beside those that are tested anyway, and what that would bring.

    `gain_days` is by how much the dates of such bodies in the room would come sooner, in days of
    the table for the first of `specimens`, as the mean over all that may be found. With a
    `session`, what is stiff now and again then frees its slot there.
    """

    room: str
    specimens: tuple[str, ...]
    boards: tuple[str, ...]
    gain_days: float
    session: str | None = None
