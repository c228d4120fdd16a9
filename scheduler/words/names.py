"""Find recorded things by the ids people type: case does not matter, near misses are named."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TypeVar

from scheduler.words.problems import BadInput

_T = TypeVar("_T")


def find(typed: str, things: Mapping[str, _T], what: str) -> _T:
    """Return the thing with an id; raise BadInput naming the nearest ids when there is none."""
    found = lookup(typed, things)
    if found is None:
        raise unknown([typed], things, what)
    return found


def lookup(typed: str, things: Mapping[str, _T]) -> _T | None:
    """Return the thing with an id, whatever its case, or None."""
    if typed in things:
        return things[typed]
    folded = typed.casefold()
    found = next((name for name in things if name.casefold() == folded), None)
    return None if found is None else things[found]


def natural_order(name: str) -> tuple[list[tuple[int, str]], str]:
    """Return by what ids sort as people count: R-2 before R-10."""
    parts = re.findall(r"[0-9]+|[^0-9]+", name)
    return [(int(p), "") if p.isdecimal() else (-1, p.casefold()) for p in parts], name


def unknown(typed: Iterable[str], ids: Iterable[str], what: str) -> BadInput:
    """Return the error that says which ids are not known, and what was perhaps meant."""
    import difflib  # only for those who mistyped

    known = {i.casefold(): i for i in ids}
    said = []
    for name in typed:
        near = difflib.get_close_matches(name.casefold(), known, 3)
        hint = f" Did you mean {' or '.join(known[n] for n in near)}?" if near else ""
        said.append(f"there is no {what} {name!r}.{hint}")
    if not known:
        said.append(f"The record holds no {what} yet: `wingrest today` says how to begin")
    return BadInput("\n".join(said))
