"""The migration that adds days off, the due date as it was at a test, and when a phone asked."""

from __future__ import annotations

from scheduler.record.triggers import journaled, rejournaled

_TABLES = """
CREATE TABLE away (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  from_day TEXT NOT NULL,
  to_day TEXT NOT NULL CHECK (to_day >= from_day)
) STRICT;
ALTER TABLE dryness_test ADD COLUMN due_on TEXT;
ALTER TABLE served ADD COLUMN asked TEXT;
"""

_TEST = ["placement", "tested_at", "verdict", "progress_pct", "rh_pct", "temp_c", "due_on"]

AWAY = _TABLES + journaled("away", "id", ["from_day", "to_day"]) + rejournaled(
    "dryness_test", "id", _TEST
)  # fmt: skip
