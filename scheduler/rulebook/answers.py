"""What the rulebook answers, and how an answer is put together from rows.

Every answer names its rows, carries their weakest basis and cites their sources.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence

from scheduler.rulebook.rows import Rule
from scheduler.words.records import BASES, Basis, Source
from scheduler.words.tuples import NamedTuple

TOLERANCE_DAYS = 1e-9
"""How far days may differ through floating-point error alone."""


class BoardTime(NamedTuple):
    """How long a specimen stays on the board.

    Before `min_days` there is no point in testing; `plan_days` is what most sources ask for.
    Both are rounded up to whole days, and None where the air cannot dry such a body; `note`
    then says what to do instead. `basis` is the weakest of the rows named.
    """

    min_days: int | None
    plan_days: int | None
    min_days_exact: float | None
    plan_days_exact: float | None
    rule_ids: tuple[str, ...]
    basis: Basis
    sources: tuple[Source, ...]
    note: str


class Relaxing(NamedTuple):
    """How long a specimen softens: look after `first_look_hours`, out by `most_hours`."""

    chamber: bool
    first_look_hours: float
    most_hours: float
    rule_ids: tuple[str, ...]
    basis: Basis
    sources: tuple[Source, ...]
    note: str


class Pin(NamedTuple):
    """The pin for a body."""

    pin: str
    rule_id: str
    basis: Basis
    sources: tuple[Source, ...]
    note: str


class Reckoning:
    """Days on the board while they are being worked out, with the rows that changed them."""

    def __init__(self, min_days: float, plan_days: float, rules: list[Rule]) -> None:
        self.min_days = min_days
        self.plan_days = plan_days
        self.rules = rules
        self.notes: list[str] = []

    def raise_to(self, min_days: float, plan_days: float, rule: Rule) -> bool:
        """Raise the days to a floor of `rule`; say whether that changed anything."""
        if self.min_days >= min_days and self.plan_days >= plan_days:
            return False
        self.min_days = max(self.min_days, min_days)
        self.plan_days = max(self.plan_days, plan_days)
        self.rules.append(rule)
        return True

    def answer(self, *, longest_days: float) -> BoardTime:
        """Return the answer; days above `longest_days` count as never and become None."""
        low = self.min_days if self.min_days <= longest_days else None
        high = self.plan_days if self.plan_days <= longest_days else None
        return BoardTime(
            None if low is None else shown(low),
            None if high is None else shown(high),
            low,
            high,
            tuple(dict.fromkeys(rule.rule_id for rule in self.rules)),
            weakest(self.rules),
            cited(self.rules),
            " ".join(self.notes),
        )


def sooner_note(mine: BoardTime, shipped: BoardTime) -> str:
    """Return what an answer must say when it is sooner than the shipped tables', or nothing."""
    if mine.min_days_exact is None or mine.plan_days_exact is None:
        return ""
    if shipped.min_days_exact is None or shipped.plan_days_exact is None:
        return "SOONER THAN THE SHIPPED TABLES, which give such air no days: your own rules."
    if (
        mine.min_days_exact >= shipped.min_days_exact - TOLERANCE_DAYS
        and mine.plan_days_exact >= shipped.plan_days_exact - TOLERANCE_DAYS
    ):
        return ""
    return (
        f"SOONER THAN THE SHIPPED TABLES by your own rules: they say {shipped.min_days} and"
        f" {shipped.plan_days} days."
    )


def shown(days: float) -> int:
    """Return days rounded up to whole ones, after taking off 1e-9 for floating-point error."""
    return math.ceil(days - 1e-9)


def weakest(rules: Iterable[Rule]) -> Basis:
    """Return the weakest basis of some rows."""
    return max((rule.basis for rule in rules), key=BASES.index)


def cited(rules: Iterable[Rule]) -> tuple[Source, ...]:
    """Return the sources of some rows, each once, in order."""
    return tuple(dict.fromkeys(source for rule in rules for source in rule.sources))


def straddle(anchors: Sequence[float], value: float) -> tuple[int, int, float]:
    """Return the places of the two anchors around a value, and its share of the way, 0 to 1.

    On an anchor, and outside all of them, both places are the same and the share is 0.
    """
    right = bisect_right(anchors, value)
    left = max(right - 1, 0)
    if right in (0, len(anchors)) or anchors[left] == value:
        return left, left, 0.0
    return left, right, (value - anchors[left]) / (anchors[right] - anchors[left])


def along(start: float, end: float, share: float) -> float:
    """Return the value on the straight line from start to end."""
    return start + share * (end - start)


def require_measures(body_mm: float, rh_pct: float = 0.0) -> None:
    """Raise ValueError for a body [mm] or a humidity [%] that no rule can answer."""
    if not 0 < body_mm < math.inf:
        raise ValueError(f"a body of {body_mm} mm: it must be above 0")
    if not math.isfinite(rh_pct):
        raise ValueError(f"a humidity of {rh_pct} %: it must be a number")


def plain(name: str) -> str:
    """Return a name as it is compared: without case, spaces, hyphens and accents; ä is ae."""
    folded = name.casefold()
    if not folded.isascii():
        import unicodedata  # for few names

        folded = unicodedata.normalize("NFC", folded).translate(_UMLAUTS)
        folded = unicodedata.normalize("NFKD", folded)
    return folded if folded.isalnum() else "".join(filter(str.isalnum, folded))


_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})


def singulars(word: str) -> Iterator[str]:
    """Yield a name as `plain` has it, then the English or German singulars it may have."""
    name = plain(word)
    yield name
    if name.endswith("ies"):
        yield name[:-3] + "y"
    if name.endswith("es"):
        yield name[:-2]
    for ending in ("s", "n", "en", "e"):
        if name.endswith(ending):
            yield name.removesuffix(ending)
