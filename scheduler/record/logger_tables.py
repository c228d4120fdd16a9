"""The migration that adds the tables of a room's loggers."""

from __future__ import annotations

from scheduler.record.triggers import journaled

# Each reading keeps its logger, file and row, so that a room may have several loggers. `origins`
# are runs of readings in the order of the day: [file, first row, step, count]; file 0 stands for
# what was read before files were kept. Ids are kept, so that old lines can still be taken back.
_TABLES = """
CREATE TABLE logger_day (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  room TEXT NOT NULL REFERENCES room(room),
  logger TEXT NOT NULL DEFAULT 'logger',
  day TEXT NOT NULL,
  readings BLOB NOT NULL,
  hours BLOB NOT NULL CHECK (length(hours) = 144),
  origins TEXT NOT NULL DEFAULT '[]',
  UNIQUE (room, logger, day)
) STRICT;
INSERT INTO logger_day(id, room, day, readings, hours)
  SELECT id, room, day, readings, hours FROM room_day;
DELETE FROM sqlite_sequence WHERE name = 'logger_day';
INSERT INTO sqlite_sequence(name, seq)
  SELECT 'logger_day', seq FROM sqlite_sequence WHERE name = 'room_day';
DROP TABLE room_day;
ALTER TABLE logger_day RENAME TO room_day;
CREATE TABLE reading_file (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  room TEXT NOT NULL REFERENCES room(room),
  logger TEXT NOT NULL,
  file TEXT NOT NULL,
  digest TEXT NOT NULL,
  read_at TEXT NOT NULL
) STRICT;
CREATE TABLE sensor_offset (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  room TEXT NOT NULL REFERENCES room(room),
  sensor TEXT NOT NULL,
  since TEXT NOT NULL,
  points REAL NOT NULL CHECK (points BETWEEN -50 AND 50),
  UNIQUE (room, sensor, since)
) STRICT;
CREATE TABLE counting_logger (
  room TEXT PRIMARY KEY REFERENCES room(room),
  logger TEXT NOT NULL
) STRICT;
"""

LOGGERS = (
    _TABLES
    + journaled("room_day", "id", ["room", "logger", "day", "readings", "hours", "origins"])
    + journaled("reading_file", "id", ["room", "logger", "file", "digest", "read_at"])
    + journaled("sensor_offset", "id", ["room", "sensor", "since", "points"])
    + journaled("counting_logger", "room", ["logger"])
)
