"""What stands on boards, by specimen, read board by board as it is asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from scheduler.drying.on_board import OnBoard
from scheduler.record.recorded import Recorded
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Placement


class StandingBySpecimen(Mapping[str, OnBoard]):
    """The specimens on boards by their ids; to ask for one reads its board and no other."""

    def __init__(self, facts: Snapshot, of: Callable[[Placement], OnBoard]) -> None:
        """Read nothing yet; `of` gives what follows from a placement."""
        self._facts, self._of = facts, of

    def __getitem__(self, specimen: str) -> OnBoard:
        """Return a specimen that stands on a board; raise KeyError for one that stands on none."""
        for placement in self._near(specimen):
            if placement.specimen == specimen:
                return self._of(placement)
        raise KeyError(specimen)

    def __iter__(self) -> Iterator[str]:
        """Iterate over the ids of all that stand."""
        return (placement.specimen for placement in self._facts.standing())

    def __len__(self) -> int:
        """Return how many stand."""
        return len(self._facts.standing())

    def _near(self, specimen: str) -> tuple[Placement, ...]:
        if not isinstance(self._facts, Recorded):
            return self._facts.standing()
        sql = "SELECT board FROM placement WHERE specimen = ? AND released_at IS NULL"
        row = self._facts.db.execute(sql, (specimen,)).fetchone()
        return () if row is None else self._facts.standing(row["board"])
