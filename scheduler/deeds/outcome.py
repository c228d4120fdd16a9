"""What a command did, for whoever prints it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command did: `done` says what was recorded, `warnings` what breaks a rule.

    `line` is the journal line, None when there was nothing to record.
    """

    done: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    line: int | None = None


class Spoken(Protocol):
    """A recorded deed: its journal line, None if there was nothing to record, and its text."""

    @property
    def line(self) -> int | None:
        """Return the number of the journal line."""

    @property
    def text(self) -> str:
        """Return what the journal says."""


Telling = Callable[[], Outcome]
"""Tells, once a deed is recorded, what it did."""


def told(deed: Spoken, tell: Telling) -> Outcome:
    """Return what a recorded deed has to say; a fault in saying it does not undo the deed.

    Such a fault is told as a warning. If nothing was recorded, it is raised.
    """
    try:
        return replace(tell(), line=deed.line)
    except (Exception, KeyboardInterrupt) as error:
        if deed.line is None:
            raise
        return Outcome((deed.text,), (_unsaid(deed.line, error),), deed.line)


def _unsaid(line: int, error: BaseException) -> str:
    if isinstance(error, KeyboardInterrupt):
        return f"recorded as line {line}; what follows from it was stopped"
    why = " ".join(f"{type(error).__name__}: {error}".split())
    return f"recorded as line {line}; what follows from it could not be worked out ({why})"
