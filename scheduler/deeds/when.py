"""When something happened, and who says so."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from scheduler.record.store import Line


@dataclass(frozen=True, slots=True)
class When:
    """When something happened, what time it is, and who says so."""

    at: datetime
    now: datetime
    who: str | None

    def line(self, command: str, text: str) -> Line:
        """Return the journal line of a command that says `text`."""
        return Line(command, text, self.now, self.at, self.who)
