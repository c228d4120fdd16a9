"""The migrations that add whose a session is, whose days off, and the session of a mounting."""

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
"""`who` is NULL for anybody's session, and for days on which nobody is there."""

IN_SESSION = "ALTER TABLE placement ADD COLUMN in_session TEXT;\n" + rejournaled(
    "placement", "id", _PLACEMENT
)
"""`in_session` is NULL for what was mounted by hand, or recorded before this column existed."""
