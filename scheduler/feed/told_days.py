"""First days that are over stay as phones were told of them, whatever the air says later.

Whoever was asked for on such a day stays named there, until it is recorded what came of it. If the
air later gives one of them another first day, it has an event of its own there. Pure.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from scheduler.feed.ical import LedgerRow
from scheduler.feed.releases import FirstDay, Release
from scheduler.words.tuples import NamedTuple

_One = tuple[int, int, str]
"""A placement, how often it was tested soft before, and its specimen."""


class ToldDay(NamedTuple):
    """An event of a first day that is over, and those for whom it was."""

    key: str
    board: str
    day: date
    who: tuple[_One, ...]


def as_kept(board: str, key: str, group: Sequence[FirstDay]) -> str:
    """Return as JSON what the ledger keeps of an event of a first day."""
    who = [(a.one.placement, a.number, a.one.specimen) for a in group]
    return json.dumps({"key": key, "board": board, "who": who}, ensure_ascii=False)


def told_days(ledger: Iterable[LedgerRow], today: date) -> list[ToldDay]:
    """Return the events of first days before today that phones have, the earliest first."""
    found = []
    for row in ledger:
        if row.gone or row.said is None or row.day is None or row.day >= today:
            continue
        said = json.loads(row.said)
        if not isinstance(said, dict):
            continue
        who = tuple((int(p), int(n), str(name)) for p, n, name in said["who"])
        found.append(ToldDay(said["key"], said["board"], row.day, who))
    return sorted(found, key=lambda t: (t.day, t.key))


def as_told(
    asked: Sequence[FirstDay], told: Sequence[ToldDay], releases: Iterable[Release], today: date
) -> list[FirstDay]:
    """Return the first days; those that are over are as they were told.

    `releases` has every placement that phones were told of, except those taken back since. What was
    done ticks the last event that asked for it.
    """
    now = {(a.one.placement, a.number): a for a in asked}
    stands = {r.placement: r for r in releases}
    last = {one[:2]: t for t in told for one in t.who}
    again = {key: t.day for key, t in last.items() if key in now and now[key].day >= today}
    over = [_over(t, one, now, stands, last, again) for t in told for one in t.who]
    every = [*over, *_ahead_of(asked, last, again)]
    return sorted(every, key=lambda a: (a.one.placement, a.number, a.day))


def _over(
    told: ToldDay,
    one: _One,
    now: Mapping[tuple[int, int], FirstDay],
    stands: Mapping[int, Release],
    last: Mapping[tuple[int, int], ToldDay],
    again: Mapping[tuple[int, int], date],
) -> FirstDay:
    """Return what an event that is over says of one of those for whom it was."""
    placement, number, specimen = one
    release = stands.get(placement)
    if release is None or release.specimen != specimen or number > len(release.soft):
        gone = Release(placement, specimen, told.board, room="", due=None, clear=None)
        return FirstDay(told.day, number, gone, "taken back", told.day, told.key)
    found = now.get(one[:2])
    if found is None or last[one[:2]] is not told or one[:2] in again:
        moved = found.day if found else None
        return FirstDay(told.day, number, release, event=told.key, moved=moved)
    return found._replace(day=told.day, event=told.key)


def _ahead_of(
    asked: Iterable[FirstDay],
    last: Mapping[tuple[int, int], ToldDay],
    again: Mapping[tuple[int, int], date],
) -> Iterator[FirstDay]:
    """Yield the first days that are in no event that is over, or have moved on from one."""
    for one in asked:
        key = one.one.placement, one.number
        if key not in last or key in again:
            yield one._replace(again=again.get(key))
