"""The record at one moment, each part read when it is asked for: a question reads what it needs.

All of it comes from one read transaction, so that it is the record at one moment, whatever
anybody writes meanwhile.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from functools import cached_property
from typing import TypeVar

from scheduler.record import rows
from scheduler.record.by_id import ById
from scheduler.record.measured import by_logger, dials_right, heard_in
from scheduler.record.snapshot import ByLogger, Snapshot, grouped
from scheduler.words.records import (
    Afterwards,
    Away,
    Board,
    BoardStay,
    ChamberStay,
    Dial,
    Droop,
    DrynessTest,
    Keeping,
    Photo,
    Placement,
    Room,
    SensorOffset,
    Session,
    Settings,
    Specimen,
)

_T = TypeVar("_T")


class Recorded(Snapshot):
    """The record as one read transaction of `db` sees it; each part is read when asked for."""

    def __init__(self, db: sqlite3.Connection) -> None:
        object.__setattr__(self, "db", db)

    db: sqlite3.Connection

    def whole(self) -> Snapshot:
        """Return the whole record, all of it read."""
        return self.but()

    # What is small, or usually asked for as a whole.

    @cached_property
    def settings(self) -> Settings:
        return rows.settings_from(dict(self.db.execute("SELECT key, value FROM setting")))

    @cached_property
    def rooms(self) -> Mapping[str, Room]:
        return {r.room: r for r in self._all("SELECT * FROM room", rows.room_from)}

    @cached_property
    def boards(self) -> Mapping[str, Board]:
        return {b.board: b for b in self._all("SELECT * FROM board", rows.board_from)}

    @cached_property
    def latest(self) -> datetime | None:
        last = "SELECT recorded_at FROM journal ORDER BY line DESC LIMIT 1"
        return next((rows.moment_of(row[0]) for row in self.db.execute(last)), None)

    @cached_property
    def namespace(self) -> str:
        sql = "SELECT value FROM meta WHERE key = 'namespace'"
        return str(self.db.execute(sql).fetchone()[0])

    @cached_property
    def gone(self) -> Mapping[str, str]:
        sql = "SELECT specimen, gone FROM specimen WHERE gone IS NOT NULL"
        return dict(self.db.execute(sql))

    @cached_property
    def specimens(self) -> ById[Specimen]:
        return ById(self.db, "specimen", rows.specimen_from)

    @cached_property
    def sessions(self) -> ById[Session]:
        return ById(self.db, "session", rows.session_from, "start, session")

    # Whole tables, for questions about the past.

    @cached_property
    def stays(self) -> tuple[BoardStay, ...]:
        return self._all("SELECT * FROM board_stay ORDER BY since, id", rows.stay_from)

    @cached_property
    def placements(self) -> tuple[Placement, ...]:
        return self._all("SELECT * FROM placement ORDER BY id", rows.placement_from)

    @cached_property
    def chamber(self) -> tuple[ChamberStay, ...]:
        return self._all("SELECT * FROM chamber_stay ORDER BY since, id", rows.chamber_from)

    @cached_property
    def tests(self) -> tuple[DrynessTest, ...]:
        return self._all("SELECT * FROM dryness_test ORDER BY tested_at, id", rows.test_from)

    @cached_property
    def keeping(self) -> tuple[Keeping, ...]:
        return self._all("SELECT * FROM keeping ORDER BY since, id", rows.keeping_from)

    @cached_property
    def dials(self) -> tuple[Dial, ...]:
        every = self._all("SELECT * FROM dial ORDER BY read_at, id", rows.dial_from)
        return dials_right(every, self)

    @cached_property
    def droops(self) -> tuple[Droop, ...]:
        return self._all("SELECT * FROM droop ORDER BY id", rows.droop_from)

    @cached_property
    def afterwards(self) -> tuple[Afterwards, ...]:
        return self._all("SELECT * FROM afterwards ORDER BY at, id", rows.afterwards_from)

    @cached_property
    def photos(self) -> tuple[Photo, ...]:
        return self._all("SELECT * FROM photo ORDER BY taken_at, id", rows.photo_from)

    @cached_property
    def away(self) -> tuple[Away, ...]:
        return self._all("SELECT * FROM away ORDER BY from_day, id", rows.away_from)

    @cached_property
    def air_days(self) -> Mapping[str, Mapping[date, bytes]]:
        return {room: self.air_days_of(room) for room in self.rooms}

    @cached_property
    def loggers(self) -> Mapping[str, ByLogger]:
        found = {room: self.loggers_of(room) for room in self.rooms}
        return {room: loggers for room, loggers in found.items() if loggers}

    @cached_property
    def offsets(self) -> tuple[SensorOffset, ...]:
        return self._all("SELECT * FROM sensor_offset ORDER BY since, id", rows.offset_from)

    @cached_property
    def counting_loggers(self) -> Mapping[str, str]:
        return dict(self.db.execute("SELECT room, logger FROM counting_logger"))

    # What stands, and what waits.

    def standing(self, board: str | None = None) -> tuple[Placement, ...]:
        """Return what stands on `board` (on every board when None), from left to right."""
        if board is None:
            return self._every_standing
        if board not in self._on_boards:
            self._on_boards[board] = self._stand("board = ?", board)
        return self._on_boards[board]

    @cached_property
    def _every_standing(self) -> tuple[Placement, ...]:
        every = self._stand("TRUE")
        self._on_boards.update(dict.fromkeys(self.boards, ()))
        self._on_boards.update(grouped(every, lambda p: p.board))
        return every

    @cached_property
    def _on_boards(self) -> dict[str, tuple[Placement, ...]]:
        return {}

    def _stand(self, where: str, *given: object) -> tuple[Placement, ...]:
        """Read what stands, and with it its specimens and tests."""
        sql = f"SELECT * FROM placement WHERE released_at IS NULL AND {where}"
        found = self._all(f"{sql} ORDER BY board, from_mm, id", rows.placement_from, *given)
        self.specimens.fetch(p.specimen for p in found)
        ids = [p.id for p in found]
        tests = self._of("dryness_test", "placement", ids, "tested_at, id", rows.test_from)
        self._tested.update(dict.fromkeys(ids, ()))
        self._tested.update(grouped(tests, lambda t: t.placement))
        return found

    @cached_property
    def _tested(self) -> dict[int, tuple[DrynessTest, ...]]:
        return {}

    def tests_of(self, placement: int) -> tuple[DrynessTest, ...]:
        """Return the dryness tests of a placement, the earliest first."""
        if placement not in self._tested:
            self._tested[placement] = self._of(
                "dryness_test", "placement", [placement], "tested_at, id", rows.test_from
            )
        return self._tested[placement]

    def stays_of(self, board: str) -> tuple[BoardStay, ...]:
        """Return the rooms a board has stood in, the earliest first."""
        if board not in self._stood:
            self._stood[board] = self._of("board_stay", "board", [board], "since", rows.stay_from)
        return self._stood[board]

    @cached_property
    def _stood(self) -> dict[str, tuple[BoardStay, ...]]:
        return {}

    def waiting(self) -> tuple[Specimen, ...]:
        """Return the specimens that were never mounted and are not gone, by id."""
        return self._waiting

    @cached_property
    def _waiting(self) -> tuple[Specimen, ...]:
        found = self.db.execute(
            "SELECT * FROM specimen WHERE gone IS NULL AND NOT EXISTS"
            " (SELECT 1 FROM placement WHERE placement.specimen = specimen.specimen)"
        )
        every = self.specimens.keep(found)
        names = [s.specimen for s in every]
        self._read_whereabouts(names)
        return tuple(sorted(every, key=lambda s: s.specimen))

    def keeping_of(self, specimen: str) -> tuple[Keeping, ...]:
        """Return where a specimen was kept, by moment, and at one moment as recorded."""
        if specimen not in self._kept_in:
            self._read_whereabouts([specimen])
        return self._kept_in[specimen]

    def chamber_of(self, specimen: str) -> tuple[ChamberStay, ...]:
        """Return a specimen's stays in the chamber, the earliest first."""
        if specimen not in self._stayed:
            self._read_whereabouts([specimen])
        return self._stayed[specimen]

    def _read_whereabouts(self, names: Sequence[str]) -> None:
        stays = self._of("chamber_stay", "specimen", names, "since, id", rows.chamber_from)
        kept = self._of("keeping", "specimen", names, "since, id", rows.keeping_from)
        self._stayed.update(dict.fromkeys(names, ()))
        self._stayed.update(grouped(stays, lambda s: s.specimen))
        self._kept_in.update(dict.fromkeys(names, ()))
        self._kept_in.update(grouped(kept, lambda k: k.specimen))

    @cached_property
    def _stayed(self) -> dict[str, tuple[ChamberStay, ...]]:
        return {}

    @cached_property
    def _kept_in(self) -> dict[str, tuple[Keeping, ...]]:
        return {}

    def in_chamber(self) -> tuple[ChamberStay, ...]:
        """Return the stays in the chamber that are not over, the earliest first."""
        return self._inside

    @cached_property
    def _inside(self) -> tuple[ChamberStay, ...]:
        sql = "SELECT * FROM chamber_stay WHERE until IS NULL ORDER BY since, id"
        found = self._all(sql, rows.chamber_from)
        self.specimens.fetch(s.specimen for s in found)
        self._read_whereabouts([s.specimen for s in found])
        return found

    def placements_from(self, moment: datetime) -> tuple[Placement, ...]:
        """Return what was mounted or came off at or after a moment, and all that stands."""
        begin = rows.moment_text(moment)
        where = "released_at IS NULL OR released_at >= ? OR mounted_at >= ?"
        sql = f"SELECT * FROM placement WHERE {where} ORDER BY id"
        found = self._all(sql, rows.placement_from, begin, begin)
        self.specimens.fetch(p.specimen for p in found)
        return found

    def sessions_from(self, moment: datetime) -> tuple[Session, ...]:
        """Return the sessions that end after a moment, the earliest first."""
        sql = "SELECT * FROM session WHERE strftime('%s', start) + 60 * minutes > ?"
        found = self.sessions.keep(self.db.execute(sql, (moment.timestamp(),)))
        return tuple(sorted(found, key=lambda s: (s.start, s.session)))

    # The air.

    def first_mounted(self) -> date | None:
        """Return the earliest mounting date of what stands, None where nothing stands."""
        sql = "SELECT min(mounted_on) FROM placement WHERE released_at IS NULL"
        found = self.db.execute(sql).fetchone()[0]
        return None if found is None else date.fromisoformat(found)

    def last_air(self, room: str) -> date | None:
        """Return the last date with a reading in a room, of a dial by UTC; None without any."""
        last: list[date] = []
        for sql in (
            "SELECT max(day) FROM room_day WHERE room = ?",
            "SELECT max(substr(read_at, 1, 10)) FROM dial WHERE room = ?",
        ):
            found = self.db.execute(sql, (room,)).fetchone()[0]
            last += [] if found is None else [date.fromisoformat(found)]
        return max(last, default=None)

    def air_days_of(self, room: str, since: date | None = None) -> Mapping[date, bytes]:
        """Return the packed hours of a room's logged days as they count, from `since` on."""
        return heard_in(room, self.loggers_of(room, since), self)

    def loggers_of(self, room: str, since: date | None = None) -> ByLogger:
        """Return the packed hours of each of a room's loggers, uncorrected, from `since` on."""
        return by_logger(self.db, room, since)

    def dials_of(self, room: str, since: datetime | None = None) -> tuple[Dial, ...]:
        """Return what a room's dial said from `since` on, corrected, the earliest first."""
        sql = "SELECT * FROM dial WHERE room = ? AND read_at >= ? ORDER BY read_at, id"
        begin = "" if since is None else rows.moment_text(since)
        return dials_right(self._all(sql, rows.dial_from, room, begin), self)

    def _all(self, sql: str, make: Callable[[sqlite3.Row], _T], *given: object) -> tuple[_T, ...]:
        return tuple(make(row) for row in self.db.execute(sql, given))

    def _of(
        self,
        table: str,
        column: str,
        of: Sequence[object],
        order: str,
        make: Callable[[sqlite3.Row], _T],
    ) -> tuple[_T, ...]:
        sql = f"SELECT * FROM {table} WHERE {column} IN (SELECT value FROM json_each(?))"
        return self._all(f"{sql} ORDER BY {order}", make, json.dumps(list(of)))
