"""A table of the record as a mapping that reads only what it is asked for."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, ItemsView, Iterable, Iterator, Mapping, ValuesView
from typing import Generic, TypeVar

_T = TypeVar("_T")


class ById(Mapping[str, _T], Generic[_T]):
    """The things of one table by id, each read when it is asked for; listing reads only ids."""

    def __init__(
        self, db: sqlite3.Connection, table: str, make: Callable[[sqlite3.Row], _T], order: str = ""
    ) -> None:
        self._db, self._table, self._make = db, table, make
        self._order = order or table
        self._known: dict[str, _T | None] = {}

    def __getitem__(self, name: str) -> _T:
        if name not in self._known:
            self.fetch([name])
        found = self._known[name]
        if found is None:
            raise KeyError(name)
        return found

    def __iter__(self) -> Iterator[str]:
        for row in self._db.execute(
            f"SELECT {self._table} FROM {self._table} ORDER BY {self._order}"
        ):
            yield row[0]

    def __len__(self) -> int:
        count: int = self._db.execute(f"SELECT count(*) FROM {self._table}").fetchone()[0]
        return count

    def items(self) -> ItemsView[str, _T]:
        """Return all things with their ids, read at once."""
        self.fetch(self)
        return super().items()

    def values(self) -> ValuesView[_T]:
        """Return all things, read at once."""
        self.fetch(self)
        return super().values()

    def fetch(self, names: Iterable[str]) -> None:
        """Read the things of several ids at once."""
        wanted = [name for name in dict.fromkeys(names) if name not in self._known]
        self._known |= dict.fromkeys(wanted)
        sql = f"SELECT * FROM {self._table} WHERE {self._table} IN (SELECT value FROM json_each(?))"
        self.keep(self._db.execute(sql, (json.dumps(wanted),)))

    def keep(self, found: Iterable[sqlite3.Row]) -> list[_T]:
        """Return the things of rows that were read for another reason, and remember them."""
        made = []
        for row in found:
            thing = self._make(row)
            self._known[row[self._table]] = thing
            made.append(thing)
        return made
