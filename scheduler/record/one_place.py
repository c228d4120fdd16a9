"""Refuse what would put a specimen in two places: on a board, in the chamber, or lost."""

from __future__ import annotations

import sqlite3

from scheduler.words.problems import Refused

_TOUCHED = """
SELECT DISTINCT CASE of_table WHEN 'specimen' THEN key
    ELSE json_extract(coalesce(after, before), '$.specimen') END AS specimen
  FROM change WHERE line = ? AND of_table IN ('specimen', 'placement', 'chamber_stay')
"""
_IN_TWO = f"""
SELECT s.specimen, s.gone, p.board, c.since
  FROM ({_TOUCHED}) AS t JOIN specimen AS s ON s.specimen = t.specimen
  LEFT JOIN placement AS p ON p.specimen = s.specimen AND p.released_at IS NULL
  LEFT JOIN chamber_stay AS c ON c.specimen = s.specimen AND c.until IS NULL
  WHERE (s.gone IS NOT NULL) + (p.board IS NOT NULL) + (c.since IS NOT NULL) > 1
  ORDER BY s.specimen
"""
_LAST_SAID = """
SELECT c.line, j.text FROM change AS c JOIN journal AS j ON j.line = c.line
  WHERE c.line <> :line AND (
    c.of_table = 'specimen' AND c.key = :specimen
    OR c.of_table IN ('placement', 'chamber_stay')
      AND json_extract(coalesce(c.after, c.before), '$.specimen') = :specimen)
  ORDER BY c.id DESC LIMIT 1
"""


def refuse_two_places(db: sqlite3.Connection, line: int) -> None:
    """Raise Refused when a line leaves a specimen in two places; name the earlier line."""
    said = [_said(db, line, row) for row in db.execute(_IN_TWO, (line,)).fetchall()]
    if said:
        raise Refused("\n".join([*said, "Nothing was recorded."]))


def _said(db: sqlite3.Connection, line: int, row: sqlite3.Row) -> str:
    name = row["specimen"]
    if row["gone"] is not None:
        where = f"stand on {row['board']}" if row["board"] is not None else "be in the chamber"
        text = f"{name} is lost ({row['gone']}) and cannot {where}."
    else:
        text = f"{name} stands on {row['board']} and cannot be in the chamber too."
    before = db.execute(_LAST_SAID, {"line": line, "specimen": name}).fetchone()
    if before is None:
        return text
    number = before["line"]
    return f"{text} Line {number} says: {before['text']}. Take that back first: undo {number}"
