"""The migration that adds what was told at a mounting, and the rule rows that it rested on."""

from __future__ import annotations

from scheduler.record.triggers import journaled

# A ruling holds the rows of every table that dates rest on, under their digest. It is written once
# for all specimens mounted under it and never changed; it is no fact, so outside the journal.
TOLD = """
CREATE TABLE ruling (digest TEXT PRIMARY KEY, tables TEXT NOT NULL) STRICT;
CREATE TABLE told (
  placement INTEGER PRIMARY KEY REFERENCES placement(id),
  due TEXT,
  clear TEXT,
  ruling TEXT NOT NULL REFERENCES ruling(digest)
) STRICT;
""" + journaled("told", "placement", ["due", "clear", "ruling"])
"""The dates that were written on the strip of a placement, and the rows they rested on."""
