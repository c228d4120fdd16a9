"""What a command did, for whoever prints it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Outcome:
    """`done` says what was recorded, `warnings` where a fact breaks a rule of the trade."""

    done: tuple[str, ...]
    warnings: tuple[str, ...] = ()
