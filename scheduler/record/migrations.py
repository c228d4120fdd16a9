"""The record's tables, as numbered migrations: each runs once, in a transaction.

A migration that has been released is never edited; the next one is appended.
"""

from __future__ import annotations

from scheduler.record.afterwards_tables import AFTERWARDS
from scheduler.record.away_tables import AWAY
from scheduler.record.link_tables import LINKS
from scheduler.record.logger_tables import LOGGERS
from scheduler.record.people_tables import IN_SESSION, PEOPLE
from scheduler.record.plan_tables import PLAN_ALONE
from scheduler.record.short_triggers import SHORT_TRIGGERS
from scheduler.record.told_tables import TOLD
from scheduler.record.triggers import journaled, naming, rejournaled

_FIRST = """
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;

-- What was done, by whom, and every row it changed. `writing` holds the line being written:
-- without one, no state table can be changed.
CREATE TABLE journal (
  line INTEGER PRIMARY KEY AUTOINCREMENT,
  recorded_at TEXT NOT NULL,
  happened_at TEXT NOT NULL,
  who TEXT,
  command TEXT NOT NULL,
  text TEXT NOT NULL,
  undoes INTEGER REFERENCES journal(line)
) STRICT;
CREATE TABLE writing (one INTEGER PRIMARY KEY CHECK (one = 1), line INTEGER NOT NULL) STRICT;
CREATE TABLE change (
  id INTEGER PRIMARY KEY,
  line INTEGER NOT NULL REFERENCES journal(line),
  of_table TEXT NOT NULL,
  key TEXT NOT NULL,
  before TEXT,
  after TEXT
) STRICT;
CREATE INDEX change_of_line ON change(line);
CREATE INDEX change_of_thing ON change(of_table, key);

CREATE TABLE name (name TEXT PRIMARY KEY COLLATE NOCASE, kind TEXT NOT NULL) STRICT;

CREATE TABLE setting (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
CREATE TABLE room (
  room TEXT PRIMARY KEY COLLATE NOCASE,
  regime TEXT NOT NULL CHECK (regime IN ('room', 'desiccant', 'warm')),
  rh_pct REAL CHECK (rh_pct BETWEEN 0 AND 100),
  temp_c REAL
) STRICT;
CREATE TABLE board (
  board TEXT PRIMARY KEY COLLATE NOCASE,
  groove_mm REAL NOT NULL CHECK (groove_mm > 0),
  span_mm REAL NOT NULL CHECK (span_mm > 0),
  length_mm INTEGER NOT NULL CHECK (length_mm > 0),
  out INTEGER NOT NULL DEFAULT 0 CHECK (out IN (0, 1))
) STRICT;
CREATE TABLE board_stay (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  board TEXT NOT NULL REFERENCES board(board),
  room TEXT NOT NULL REFERENCES room(room),
  since TEXT NOT NULL,
  UNIQUE (board, since)
) STRICT;
CREATE TABLE specimen (
  specimen TEXT PRIMARY KEY COLLATE NOCASE,
  family TEXT, in_group TEXT, taxon TEXT, sex TEXT,
  body_mm REAL CHECK (body_mm > 0), size TEXT, forewing_mm REAL, wingspan_mm REAL,
  state TEXT NOT NULL CHECK (state IN ('fresh', 'frozen', 'dried')),
  frozen_on TEXT, available TEXT, wanted_by TEXT, spoils_by TEXT,
  priority INTEGER NOT NULL DEFAULT 1 CHECK (priority BETWEEN 1 AND 10),
  minutes INTEGER CHECK (minutes >= 0),
  label TEXT NOT NULL DEFAULT '{}',
  gone TEXT
) STRICT;
CREATE TABLE session (
  session TEXT PRIMARY KEY COLLATE NOCASE,
  start TEXT NOT NULL,
  minutes INTEGER NOT NULL CHECK (minutes >= 0)
) STRICT;
CREATE TABLE placement (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  specimen TEXT NOT NULL REFERENCES specimen(specimen),
  board TEXT NOT NULL REFERENCES board(board),
  from_mm INTEGER NOT NULL CHECK (from_mm >= 0),
  to_mm INTEGER NOT NULL CHECK (to_mm > from_mm),
  mounted_at TEXT NOT NULL,
  mounted_on TEXT NOT NULL,
  released_at TEXT CHECK (released_at >= mounted_at),
  early_reason TEXT,
  estimated INTEGER NOT NULL DEFAULT 0 CHECK (estimated IN (0, 1)),
  rule_ids TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE UNIQUE INDEX standing_once ON placement(specimen) WHERE released_at IS NULL;
CREATE INDEX placement_of_board ON placement(board, released_at);
CREATE TABLE chamber_stay (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  specimen TEXT NOT NULL REFERENCES specimen(specimen),
  since TEXT NOT NULL,
  until TEXT CHECK (until >= since)
) STRICT;
CREATE UNIQUE INDEX relaxing_once ON chamber_stay(specimen) WHERE until IS NULL;
CREATE TABLE dryness_test (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  placement INTEGER NOT NULL REFERENCES placement(id),
  tested_at TEXT NOT NULL,
  verdict TEXT NOT NULL CHECK (verdict IN ('stiff', 'soft'))
) STRICT;
CREATE INDEX test_of_placement ON dryness_test(placement);

-- Two things that are no facts and stand outside the journal: the kept plan, and what
-- phones were last told.
CREATE TABLE kept_plan (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  kept_at TEXT NOT NULL, digest TEXT NOT NULL, plan TEXT NOT NULL
) STRICT;
CREATE TABLE event (
  uid TEXT PRIMARY KEY, sequence INTEGER NOT NULL, changed TEXT NOT NULL,
  digest TEXT NOT NULL, gone INTEGER NOT NULL DEFAULT 0
) STRICT;
"""

_OVERLAP = """
  SELECT RAISE(ABORT, 'slot past the end of the board')
  WHERE NEW.to_mm > (SELECT length_mm FROM board WHERE board = NEW.board);
  SELECT RAISE(ABORT, 'slot taken')
  WHERE EXISTS (
    SELECT 1 FROM placement AS p
    WHERE p.board = NEW.board AND p.id <> NEW.id
      AND p.from_mm < NEW.to_mm AND NEW.from_mm < p.to_mm
      AND p.mounted_at < coalesce(NEW.released_at, '9999')
      AND NEW.mounted_at < coalesce(p.released_at, '9999')
  );
"""

_GUARDS = f"""
CREATE TRIGGER placement_fits AFTER INSERT ON placement BEGIN{_OVERLAP}END;
CREATE TRIGGER placement_still_fits AFTER UPDATE ON placement BEGIN{_OVERLAP}END;
"""

_SPECIMEN_COLUMNS = [
    "family",
    "in_group",
    "taxon",
    "sex",
    "body_mm",
    "size",
    "forewing_mm",
    "wingspan_mm",
    "state",
    "frozen_on",
    "available",
    "wanted_by",
    "spoils_by",
    "priority",
    "minutes",
    "label",
    "gone",
]
_PLACEMENT_COLUMNS = [
    "specimen",
    "board",
    "from_mm",
    "to_mm",
    "mounted_at",
    "mounted_on",
    "released_at",
    "early_reason",
    "estimated",
    "rule_ids",
]

# The groove that one would use for a specimen, boards that may not be refilled at will, where a
# specimen is kept, and what a dial on the wall said.
_SECOND = """
ALTER TABLE specimen ADD COLUMN groove_mm REAL CHECK (groove_mm > 0);
ALTER TABLE board ADD COLUMN refill TEXT NOT NULL DEFAULT 'any'
  CHECK (refill IN ('any', 'end', 'whole'));
CREATE TABLE keeping (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  specimen TEXT NOT NULL REFERENCES specimen(specimen),
  place TEXT NOT NULL CHECK (place IN ('freezer', 'fridge', 'thawed')),
  since TEXT NOT NULL
) STRICT;
CREATE TABLE dial (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  room TEXT NOT NULL REFERENCES room(room),
  read_at TEXT NOT NULL,
  rh_pct REAL NOT NULL CHECK (rh_pct BETWEEN 0 AND 100),
  temp_c REAL,
  UNIQUE (room, read_at)
) STRICT;
"""

# What the web needs; these are no facts and stand outside the journal: in which form each calendar
# was last served, and which tap on a page made which journal line.
_THIRD = """
CREATE TABLE served (variant TEXT PRIMARY KEY, etag TEXT NOT NULL, changed TEXT NOT NULL) STRICT;
CREATE TABLE tap (once TEXT PRIMARY KEY, line INTEGER NOT NULL) STRICT;
"""

# The rooms' measured air, packed by room and local day, the air at every dryness test, and the
# wings that drooped weeks after they came off.
_FOURTH = """
CREATE TABLE room_day (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  room TEXT NOT NULL REFERENCES room(room),
  day TEXT NOT NULL,
  readings BLOB NOT NULL,
  hours BLOB NOT NULL CHECK (length(hours) = 144),
  UNIQUE (room, day)
) STRICT;
CREATE TABLE droop (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  placement INTEGER NOT NULL UNIQUE REFERENCES placement(id),
  seen_at TEXT NOT NULL,
  note TEXT NOT NULL DEFAULT ''
) STRICT;
ALTER TABLE dryness_test ADD COLUMN progress_pct REAL;
ALTER TABLE dryness_test ADD COLUMN rh_pct REAL;
ALTER TABLE dryness_test ADD COLUMN temp_c REAL;
"""

_TEST_COLUMNS = ["placement", "tested_at", "verdict", "progress_pct", "rh_pct", "temp_c"]

# A question about the present must not take longer with every year of history.
_INDEXES = """
CREATE INDEX placement_of_specimen ON placement(specimen);
CREATE INDEX stay_of_specimen ON chamber_stay(specimen);
CREATE INDEX keeping_of_specimen ON keeping(specimen);
CREATE INDEX journal_by_time ON journal(recorded_at);
CREATE INDEX specimen_gone ON specimen(gone) WHERE gone IS NOT NULL;
"""

# What works like a password has a table of its own, which no export holds.
_SECRETS = """
CREATE TABLE secret (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
INSERT INTO secret(key, value)
  SELECT key, value FROM meta WHERE key IN ('calendar_token', 'bench_token');
DELETE FROM meta WHERE key IN ('calendar_token', 'bench_token');
"""

MIGRATIONS: tuple[str, ...] = (
    _FIRST
    + _GUARDS
    + journaled("setting", "key", ["value"])
    + journaled("room", "room", ["regime", "rh_pct", "temp_c"])
    + journaled("board", "board", ["groove_mm", "span_mm", "length_mm", "out"])
    + journaled("board_stay", "id", ["board", "room", "since"])
    + journaled("specimen", "specimen", _SPECIMEN_COLUMNS)
    + journaled("session", "session", ["start", "minutes"])
    + journaled("placement", "id", _PLACEMENT_COLUMNS)
    + journaled("chamber_stay", "id", ["specimen", "since", "until"])
    + journaled("dryness_test", "id", ["placement", "tested_at", "verdict"])
    + "".join(naming(t) for t in ("room", "board", "specimen", "session")),
    _SECOND
    + rejournaled("specimen", "specimen", [*_SPECIMEN_COLUMNS, "groove_mm"])
    + rejournaled("board", "board", ["groove_mm", "span_mm", "length_mm", "out", "refill"])
    + journaled("keeping", "id", ["specimen", "place", "since"])
    + journaled("dial", "id", ["room", "read_at", "rh_pct", "temp_c"]),
    _THIRD,
    _FOURTH
    + journaled("room_day", "id", ["room", "day", "readings", "hours"])
    + journaled("droop", "id", ["placement", "seen_at", "note"])
    + rejournaled("dryness_test", "id", _TEST_COLUMNS),
    "ALTER TABLE specimen ADD COLUMN box TEXT;\n"
    + rejournaled("specimen", "specimen", [*_SPECIMEN_COLUMNS, "groove_mm", "box"]),
    _INDEXES,
    PLAN_ALONE,
    LOGGERS,
    _SECRETS,
    AFTERWARDS
    + rejournaled("specimen", "specimen", [*_SPECIMEN_COLUMNS, "groove_mm", "box", "lot"]),
    AWAY,
    TOLD,
    "ALTER TABLE event ADD COLUMN day TEXT;\n",
    PEOPLE,
    LINKS,
    IN_SESSION,
    # What phones were told that only a plan knew; `scheduler/feed/passed.py` explains it.
    "ALTER TABLE event ADD COLUMN said TEXT;\n",
    SHORT_TRIGGERS,
)
