"""The migration that brings a link of their own for each person and each device."""

# Like the addresses of all, these work like passwords: outside the journal, in no export. What
# ended keeps its row, so that whoever comes by it is told, and by which name.
LINKS = """
CREATE TABLE link (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL COLLATE NOCASE,
  may TEXT NOT NULL CHECK (may IN ('read', 'record')),
  calendar TEXT NOT NULL UNIQUE,
  bench TEXT NOT NULL UNIQUE,
  made TEXT NOT NULL,
  ended TEXT,
  bench_used TEXT,
  calendar_asked TEXT
) STRICT;
CREATE UNIQUE INDEX one_link_of_a_name ON link(name) WHERE ended IS NULL;
"""
