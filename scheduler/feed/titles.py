"""Titles to act on from a lock screen: the most important first, then as many names as fit."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

MOST = 40
"""The most signs of a title, where the names allow it."""
_FEW = 2
"""Up to so many are named, even where all on a board are meant."""
_TRIED = 12


def natural(name: str) -> tuple[tuple[tuple[str, int], ...], str]:
    """Return a key that sorts B9 before B10; the name itself tells B1 from B01."""
    pieces = re.findall(r"([^0-9]*)([0-9]{0,18})", name)
    return tuple((letters, int(digits or -1)) for letters, digits in pieces), name


def as_counted(names: Iterable[str]) -> list[str]:
    """Return each name once, in the order in which people count."""
    return sorted(set(names), key=natural)


def shortened(names: Sequence[str], most: int) -> str:
    """Return the first `most` names and how many more there are: "M-03, M-04 +2"."""
    rest = len(names) - most
    return ", ".join(names[:most]) + (f" +{rest}" if rest > 0 else "")


def fitted(before: str, names: Sequence[str], after: str = "", most: int = MOST) -> str:
    """Return a title with as many of the names as it can hold, at least one."""
    for count in range(min(len(names), _TRIED), 1, -1):
        title = f"{before}{shortened(names, count)}{after}"
        if len(title) <= most:
            return title
    return f"{before}{shortened(names, 1)}{after}"


def all_or_named(names: Sequence[str], everyone: int) -> tuple[str, ...]:
    """Return "all 3" where these are everyone and more than a few, else the names."""
    if len(names) > _FEW and len(names) == everyone:
        return (f"all {len(names)}",)
    return tuple(names)


def whom_to_test(board: str, test: Sequence[str], leave: Sequence[str]) -> str:
    """Return "B3: test M-03, M-04 - leave M-05", shortened to fit."""
    whom = all_or_named(test, len(test) + len(leave))
    if not leave:
        return fitted(f"{board}: test ", whom)
    for count in range(min(len(leave), _TRIED), 0, -1):
        title = fitted(f"{board}: test ", whom, f" - leave {shortened(leave, count)}")
        if len(title) <= MOST:
            return title
    return title


def pieces(before: str, parts: Sequence[str], most: int = MOST) -> str:
    """Return a title with as many parts as fit, at least one, and how many are left out."""
    return fitted(before, parts, "", most)
