"""Whose a session is, and whose days off; at which session something was mounted."""

from __future__ import annotations

from scheduler.record.triggers import rejournaled

_PLACEMENT = [
    *("specimen", "board", "from_mm", "to_mm", "mounted_at", "mounted_on", "released_at"),
    *("early_reason", "estimated", "rule_ids", "in_session"),
]

PEOPLE = (
    "ALTER TABLE session ADD COLUMN who TEXT;\nALTER TABLE away ADD COLUMN who TEXT;\n"
    + rejournaled("session", "session", ["start", "minutes", "who"])
    + rejournaled("away", "id", ["from_day", "to_day", "who"])
)
"""NULL: anybody's session; days on which nobody is there."""

IN_SESSION = "ALTER TABLE placement ADD COLUMN in_session TEXT;\n" + rejournaled(
    "placement", "id", _PLACEMENT
)
"""NULL: by hand, or recorded before it was kept."""
