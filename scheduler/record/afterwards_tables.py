"""The migration that adds lots, what is done with a specimen afterwards, and photos."""

from __future__ import annotations

from scheduler.record.triggers import journaled

AFTERWARDS = (
    """
ALTER TABLE specimen ADD COLUMN lot TEXT;
CREATE TABLE afterwards (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  specimen TEXT NOT NULL REFERENCES specimen(specimen),
  step TEXT NOT NULL CHECK (step IN ('labelled', 'bagged', 'handed over')),
  at TEXT NOT NULL,
  whom TEXT,
  note TEXT
) STRICT;
CREATE INDEX afterwards_of_specimen ON afterwards(specimen);
CREATE TABLE photo (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  specimen TEXT NOT NULL REFERENCES specimen(specimen),
  file TEXT NOT NULL,
  taken_at TEXT NOT NULL
) STRICT;
CREATE INDEX photo_of_specimen ON photo(specimen);
"""
    + journaled("afterwards", "id", ["specimen", "step", "at", "whom", "note"])
    + journaled("photo", "id", ["specimen", "file", "taken_at"])
)
"""A specimen's lot, what was done with it once it had come off the board, and its pictures."""
