"""One thing that needs attention."""

from __future__ import annotations

from typing import Literal

from scheduler.words.tuples import NamedTuple

WorryKind = Literal[
    "too long in the chamber",
    "will spoil",
    "late",
    "away",
    "not recorded",
    "plan",
    "rules changed",
    "no date",
    "stalled",
    "too hot",
    "mould watch",
    "room damp",
    "said otherwise",
    "too cold",
    "wide swings",
    "sensor",
    "tests",
    "no readings",
    "no air known",
    "board out",
    "no snapshot",
    "place",
    "phone",
    "to begin",
    "never read",
    "measure",
]


class Worry(NamedTuple):
    """Something that needs attention; `names` are the specimens, sessions, rooms or boards."""

    kind: WorryKind
    names: tuple[str, ...]
    text: str
    command: str
