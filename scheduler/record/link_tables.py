"""The migration that gives each person and each device a link of its own."""

# A link works like a password, as the addresses that all share do: it is outside the journal and
# in no export. A link that was ended keeps its row, so that whoever uses it can be told so by name.
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
