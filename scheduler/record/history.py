"""The journal of one specimen: every line that changed anything of it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from scheduler.record import rows
from scheduler.record.journal import JournalLine, read_journal
from scheduler.record.store import Store

_OF_SPECIMEN = ("placement", "chamber_stay", "keeping", "afterwards", "photo")
_OF_PLACEMENT = ("dryness_test", "droop")

# What is in the record is found by its keys; what was taken back, by its last image.
_LINES = f"""
WITH mine(of_table, key) AS (
  SELECT 'specimen', :specimen
  {"".join(f" UNION SELECT '{t}', id FROM {t} WHERE specimen = :specimen" for t in _OF_SPECIMEN)}
  {
    "".join(
        f" UNION SELECT '{t}', {t}.id FROM {t} JOIN placement ON placement.id = {t}.placement"
        " WHERE placement.specimen = :specimen"
        for t in _OF_PLACEMENT
    )
}
  UNION SELECT of_table, key FROM change
    WHERE after IS NULL AND of_table IN {_OF_SPECIMEN}
      AND json_extract(before, '$.specimen') = :specimen
  UNION SELECT of_table, key FROM change
    WHERE after IS NULL AND of_table IN {_OF_PLACEMENT}
      AND json_extract(before, '$.placement') IN (
        SELECT id FROM placement WHERE specimen = :specimen
      )
)
SELECT DISTINCT line FROM change JOIN mine USING (of_table, key) ORDER BY line
"""


def history(store: Store, specimen: str) -> tuple[JournalLine, ...]:
    """Return the journal lines that changed anything of a specimen, the earliest first.

    Lines that were taken back are among them.
    """
    lines = {row[0] for row in store.db.execute(_LINES, {"specimen": specimen})}
    return tuple(entry for entry in read_journal(store) if entry.line in lines)


def lost_at(store: Store) -> Mapping[str, datetime]:
    """Return, by id, since when each specimen that is gone counts as lost."""
    found = store.db.execute(
        "SELECT specimen, max(happened_at) AS at FROM specimen"
        " JOIN change ON of_table = 'specimen' AND key = specimen"
        " JOIN journal USING (line)"
        " WHERE gone IS NOT NULL AND json_extract(after, '$.gone') = gone"
        " AND json_extract(before, '$.gone') IS NULL GROUP BY specimen"
    )
    return {row["specimen"]: rows.moment_of(row["at"]) for row in found}


def known_since(store: Store) -> Mapping[str, datetime]:
    """Return, by id, since when the record knows each specimen."""
    found = store.db.execute(
        "SELECT key, min(happened_at) AS at FROM change JOIN journal USING (line)"
        " WHERE of_table = 'specimen' GROUP BY key"
    )
    return {row["key"]: rows.moment_of(row["at"]) for row in found}
