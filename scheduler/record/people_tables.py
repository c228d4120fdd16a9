"""Whose a session is, and whose days off, as one migration."""

from __future__ import annotations

from scheduler.record.triggers import rejournaled

PEOPLE = (
    "ALTER TABLE session ADD COLUMN who TEXT;\nALTER TABLE away ADD COLUMN who TEXT;\n"
    + rejournaled("session", "session", ["start", "minutes", "who"])
    + rejournaled("away", "id", ["from_day", "to_day", "who"])
)
"""NULL: anybody's session; days on which nobody is there."""
