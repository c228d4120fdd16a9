"""The migration that brings what was told at a mounting, and the rule rows it rested on."""

from __future__ import annotations

from scheduler.record.triggers import journaled

# The rows are those of every table that dates rest on, under their digest: written once however
# many were mounted by them, never changed, and no fact of the bench, so outside the journal.
TOLD = """
CREATE TABLE ruling (digest TEXT PRIMARY KEY, tables TEXT NOT NULL) STRICT;
CREATE TABLE told (
  placement INTEGER PRIMARY KEY REFERENCES placement(id),
  due TEXT,
  clear TEXT,
  ruling TEXT NOT NULL REFERENCES ruling(digest)
) STRICT;
""" + journaled("told", "placement", ["due", "clear", "ruling"])
"""The dates that the strip of a placement was given, and by which rows."""
