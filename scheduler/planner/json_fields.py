"""Small fields of the planner's JSON, and a reader that reports every fault with its place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from scheduler.words.records import BASES, Basis

Json = dict[str, Any]
T = TypeVar("T")


def to_iso(value: date | None) -> str | None:
    """Return a date or a moment as ISO 8601."""
    return None if value is None else value.isoformat()


def to_date(text: str | None) -> date | None:
    """Read a date that may be missing."""
    return None if text is None else date.fromisoformat(text)


def to_basis(text: str) -> Basis:
    """Read a basis by its word."""
    for basis in BASES:
        if basis == text:
            return basis
    raise ValueError(f"basis {text!r} is none of {', '.join(BASES)}")


def reason_to_json(named: tuple[str, str]) -> Json:
    """Return a specimen with the reason why it waits."""
    return {"specimen": named[0], "reason": named[1]}


def reason_from_json(one: Json) -> tuple[str, str]:
    """Read a specimen with the reason why it waits."""
    return one["specimen"], one["reason"]


def require(data: Json, keys: Sequence[str]) -> None:
    """Raise ValueError naming every one of `keys` that is missing."""
    if missing := [key for key in keys if key not in data]:
        raise ValueError("\n".join(f"{key} is missing" for key in missing))


class Reader:
    """Reads JSON objects, and keeps every fault with the place it was found in."""

    def __init__(self, timezone: str) -> None:
        try:
            self.zone = ZoneInfo(timezone)
        except (ValueError, ZoneInfoNotFoundError) as error:
            raise ValueError(f"timezone {timezone!r} is not known") from error
        self.faults: list[str] = []

    def moment(self, text: str) -> datetime:
        """Read a moment into the record's zone."""
        read = datetime.fromisoformat(text)
        if read.tzinfo is None:
            raise ValueError(f"{text!r} has no UTC offset")
        return read.astimezone(self.zone)

    def moment_or_none(self, text: str | None) -> datetime | None:
        """Read a moment that may be missing."""
        return None if text is None else self.moment(text)

    def one(self, place: str, item: Json, read: Callable[[Json], T]) -> T | None:
        """Read one object; None, and a fault kept, when it cannot be read."""
        try:
            return read(item)
        except KeyError as error:
            self.faults.append(f"{place}: {error.args[0]} is missing")
        except (TypeError, ValueError, AttributeError) as error:
            self.faults.append(f"{place}: {error}")
        return None

    def each(self, data: Json, key: str, read: Callable[[Json], T]) -> tuple[T, ...]:
        """Read every object of the list `key`."""
        found = (self.one(f"{key}[{n}]", item, read) for n, item in enumerate(data[key]))
        return tuple(one for one in found if one is not None)

    def finish(self) -> None:
        """Raise ValueError with all faults kept."""
        if self.faults:
            raise ValueError("\n".join(self.faults))
