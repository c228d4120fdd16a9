"""Find recorded things by the ids people type: case does not matter, near misses are named."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TypeVar

from scheduler.words.problems import BadInput

_T = TypeVar("_T")
_U = TypeVar("_U")


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


def of_either(
    typed: Iterable[str], first: Mapping[str, _T], second: Mapping[str, _U], what: str
) -> tuple[_T | _U, ...]:
    """Return the things with the typed ids from either mapping, each once, in the order typed.

    Raises BadInput that names every id found in neither.
    """
    found: dict[str, _T | _U] = {}
    strange = []
    for name in typed:
        one = lookup(name, first) or lookup(name, second)
        if one is None:
            strange.append(name)
        else:
            found[name.casefold()] = one
    if strange:
        raise unknown(strange, [*first, *second], what)
    return tuple(found.values())


def natural_order(name: str) -> tuple[list[tuple[int, str]], str]:
    """Return a sort key that puts ids in the order in which people count: R-2 before R-10."""
    parts = re.findall(r"[0-9]+|[^0-9]+", name)
    return [(int(p), "") if p.isdecimal() else (-1, p.casefold()) for p in parts], name


def unknown(typed: Iterable[str], ids: Iterable[str], what: str) -> BadInput:
    """Return the error that names the unknown ids, each with the known ids most like it."""
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
