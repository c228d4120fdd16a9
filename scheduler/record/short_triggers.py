"""The migration that writes the journal's triggers in fewer words.

SQLite reads all of them anew for every process that opens a record, which took a quick question a
twentieth of its time. A strict table holds in a column what its type says, so only a real has to be
written with 17 digits and only a blob in hexadecimal. What is noted stays the same to the letter.
"""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.record.triggers import noting, untriggered

_COLUMNS = {
    "setting": "key value",
    "room": "room regime rh_pct temp_c",
    "board": "board groove_mm span_mm length_mm out refill",
    "board_stay": "id board room since",
    "specimen": "specimen family in_group taxon sex body_mm size forewing_mm wingspan_mm state"
    " frozen_on available wanted_by spoils_by priority minutes label gone groove_mm box lot",
    "session": "session start minutes who",
    "placement": "id specimen board from_mm to_mm mounted_at mounted_on released_at early_reason"
    " estimated rule_ids in_session",
    "chamber_stay": "id specimen since until",
    "dryness_test": "id placement tested_at verdict progress_pct rh_pct temp_c due_on",
    "keeping": "id specimen place since",
    "dial": "id room read_at rh_pct temp_c",
    "room_day": "id room logger day readings hours origins",
    "droop": "id placement seen_at note",
    "afterwards": "id specimen step at whom note",
    "photo": "id specimen file taken_at",
    "reading_file": "id room logger file digest read_at",
    "sensor_offset": "id room sensor since points",
    "counting_logger": "room logger",
    "away": "id from_day to_day who",
    "told": "placement due clear ruling",
}
"""The columns of every journaled table, its key first, as they were when this was written."""

_REALS = frozenset(
    "rh_pct temp_c groove_mm span_mm body_mm forewing_mm wingspan_mm progress_pct points".split()
)
_BLOBS = frozenset(("readings", "hours"))


def _image(side: str, columns: Sequence[str]) -> str:
    return f"json_object({','.join(_written(side, column) for column in columns)})"


def _written(side: str, column: str) -> str:
    value = f"{side}.{column}"
    if column in _REALS:
        value = f"iif({value} IS NULL,NULL,printf('%!.17g',{value}))"
    elif column in _BLOBS:
        value = f"hex({value})"
    return f"'{column}',{value}"


def _shorter(table: str, columns: Sequence[str]) -> str:
    return untriggered(table) + noting(
        table, columns[0], _image("OLD", columns), _image("NEW", columns)
    )


SHORT_TRIGGERS = "".join(_shorter(table, names.split()) for table, names in _COLUMNS.items())
