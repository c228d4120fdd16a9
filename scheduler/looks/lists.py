"""Lists of specimens: what waits, stands on boards, has no label yet, came off, or was lost.

A row is flat, and its keys never change; dates are ISO, an unknown value is None.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from scheduler.looks.life import Life, lives
from scheduler.view import View
from scheduler.words.tuples import NamedTuple

ListRow = dict[str, object]


class SpecimenList(NamedTuple):
    """A list: which lives belong to it, its columns, and how a row is made."""

    columns: tuple[str, ...]
    of: Callable[[Life], bool]
    row: Callable[[Life], ListRow]


def _waiting(life: Life) -> ListRow:
    p = life.planned
    return {
        "place": ", ".join(filter(None, (life.specimen.state, _where(life)))),
        "frozen_on": life.specimen.frozen_on and life.specimen.frozen_on.isoformat(),
        "days_frozen": life.days_frozen,
        "session": p and p.session,
        "board": p and p.board,
        "why_not": life.why_not,
    }


def _where(life: Life) -> str:
    return "in the chamber" if life.stage == "in the chamber" else life.lies


def _standing(life: Life) -> ListRow:
    p, a = life.placement, life.answer
    assert p is not None
    assert a is not None
    return {
        "board": p.board,
        "from_mm": p.from_mm,
        "to_mm": p.to_mm,
        "mounted_on": p.mounted_on.isoformat(),
        "due": a.due and a.due.isoformat(),
        "clear": a.clear and a.clear.isoformat(),
        "answer": a.answer,
    }


def _off(life: Life) -> ListRow:
    p = life.placement
    assert p is not None
    assert p.released_at is not None
    return {
        "board": p.board,
        "came_off": life.view.local(p.released_at).date().isoformat(),
        "missing": ", ".join(life.missing) or None,
        "next": ", ".join(life.still_to_do),
    }


_HEAD = ("specimen", "lot", "taxon", "sex", "box")
LISTS: Mapping[str, SpecimenList] = {
    "waiting": SpecimenList(
        (*_HEAD, "place", "frozen_on", "days_frozen", "session", "board", "why_not"),
        lambda life: life.stage in ("waits", "in the chamber"),
        _waiting,
    ),
    "standing": SpecimenList(
        (*_HEAD, "board", "from_mm", "to_mm", "mounted_on", "due", "clear", "answer"),
        lambda life: life.stage == "on a board",
        _standing,
    ),
    "unlabelled": SpecimenList(
        (*_HEAD, "board", "came_off", "missing", "next"),
        lambda life: life.stage == "off" and life.done("labelled") is None,
        _off,
    ),
    "off": SpecimenList(
        (*_HEAD, "board", "came_off", "missing", "next"),
        lambda life: life.stage == "off",
        _off,
    ),
    "lost": SpecimenList(
        (*_HEAD, "lost_on", "why"), lambda life: life.stage == "lost", lambda _: {}
    ),
}
"""The lists by name."""


def listing(view: View, kind: str, lost_at: Mapping[str, datetime] | None = None) -> list[ListRow]:
    """Return the rows of a list; `lost_at` says when each lost specimen was lost."""
    which = LISTS[kind]
    return [_head(life) | which.row(life) | _lost(life, lost_at) for life in _of(view, which)]


def _of(view: View, kind: SpecimenList) -> Sequence[Life]:
    return [life for life in lives(view) if kind.of(life)]


def _head(life: Life) -> ListRow:
    s = life.specimen
    return {n: getattr(s, n) for n in _HEAD} | {"taxon": s.taxon or s.group or s.family}


def _lost(life: Life, lost_at: Mapping[str, datetime] | None) -> ListRow:
    if life.stage != "lost":
        return {}
    at = (lost_at or {}).get(life.specimen.specimen)
    return {"lost_on": at and life.view.local(at).date().isoformat(), "why": life.gone}
