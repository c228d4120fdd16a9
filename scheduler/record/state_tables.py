"""What a question needs to know of the tables, without the migrations that make them."""

from __future__ import annotations

SCHEMA_VERSION = 18
"""How many migrations there are."""

STATE_TABLES: dict[str, str] = {
    "setting": "key",
    "room": "room",
    "board": "board",
    "board_stay": "id",
    "specimen": "specimen",
    "session": "session",
    "placement": "id",
    "chamber_stay": "id",
    "dryness_test": "id",
    "keeping": "id",
    "dial": "id",
    "room_day": "id",
    "droop": "id",
    "afterwards": "id",
    "photo": "id",
    "reading_file": "id",
    "sensor_offset": "id",
    "counting_logger": "room",
    "away": "id",
    "told": "placement",
}
"""Every journaled table and its key."""

BLOB_COLUMNS = frozenset({"readings", "hours"})
"""Columns that the journal's images hold in hexadecimal."""
