"""Which calendar somebody asks for, by the options they gave."""

from __future__ import annotations

from scheduler.feed.calendars import Calendars
from scheduler.feed.variants import KINDS, MOST_EVENTS, OF_BOARDS, Variant
from scheduler.words.problems import BadInput
from scheduler.words.wording import listed


def variant_of(
    found: Calendars,
    *,
    kind: str | None = None,
    room: str | None = None,
    who: str | None = None,
    daily: bool = False,
    most: int | None = None,
) -> Variant:
    """Return the calendar that is asked for.

    Raises BadInput when there is none like it.
    """
    if daily and kind not in (None, "bench-days"):
        raise BadInput(f"--daily is a kind of its own. Leave --kind {kind} out, or --daily")
    usual = "bench-days" if daily else "all" if room is None else "releases"
    variant = Variant(kind or usual, room, who, most or MOST_EVENTS)
    if room is not None and (who is not None or not OF_BOARDS & {*KINDS[variant.kind][1]}):
        raise BadInput("a room has boards, but no sessions and no chamber. Leave --room out")
    known = found.known(variant)
    if known is None:
        people = f"have sessions: {listed(found.people)}" if found.people else "have no sessions"
        raise BadInput(
            f"there is no calendar of {room or who!r}. Rooms are {listed(found.rooms)};"
            f" people {people}"
        )
    return known
