"""From SQLite rows to records and back: the one place that knows how a value is written down.

Moments are UTC text to the second ("2027-05-08T07:00:00Z"), so that text order is time order;
dates are ISO; the label is a JSON object. No library does this: to import cattrs or msgspec takes
about as long as to import click, and a whole quick question may take two and a half times that.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from typing import Any

from scheduler.record.state_tables import BLOB_COLUMNS
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

Value = str | int | float | bytes | None


def moment_text(moment: datetime) -> str:
    """Return an aware moment as the record writes it; raise ValueError for a naive one."""
    if moment.tzinfo is None:
        raise ValueError(f"a moment without a zone: {moment!r}")
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def moment_of(text: str) -> datetime:
    """Return the aware UTC moment of a text in the record."""
    return datetime.fromisoformat(text)


def _moment_or_none(text: str | None) -> datetime | None:
    return None if text is None else moment_of(text)


def _date_or_none(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def settings_from(pairs: Mapping[str, str]) -> Settings:
    """Return the settings written in the record, with defaults for those that are not."""
    places = pairs.get("chamber_places")
    return Settings(
        timezone=pairs.get("timezone", "UTC"),
        chamber_places=None if places is None else int(places),
        chamber_time=time.fromisoformat(pairs.get("chamber_time", "20:00")),
        protected=tuple(json.loads(pairs.get("protected", "[]"))),
        dry_share_pct=int(pairs.get("dry_share_pct", Settings().dry_share_pct)),
    )


def settings_rows(settings: Settings) -> dict[str, str]:
    """Return the settings as the record keeps them; what is None has no row."""
    rows = {
        "timezone": settings.timezone,
        "chamber_time": settings.chamber_time.strftime("%H:%M"),
        "dry_share_pct": str(settings.dry_share_pct),
    }
    if settings.chamber_places is not None:
        rows["chamber_places"] = str(settings.chamber_places)
    if settings.protected:
        rows["protected"] = json.dumps(settings.protected, ensure_ascii=False)
    return rows


def room_from(row: sqlite3.Row) -> Room:
    """Return a room from its row."""
    return Room(row["room"], row["regime"], row["rh_pct"], row["temp_c"])


def room_row(room: Room) -> dict[str, Value]:
    """Return a room as a row."""
    return {"room": room.room, "regime": room.regime, "rh_pct": room.rh_pct, "temp_c": room.temp_c}


def board_from(row: sqlite3.Row) -> Board:
    """Return a board from its row."""
    return Board(
        row["board"],
        row["groove_mm"],
        row["span_mm"],
        row["length_mm"],
        bool(row["out"]),
        row["refill"],
    )


def board_row(board: Board) -> dict[str, Value]:
    """Return a board as a row."""
    return {
        "board": board.board,
        "groove_mm": board.groove_mm,
        "span_mm": board.span_mm,
        "length_mm": board.length_mm,
        "out": int(board.out),
        "refill": board.refill,
    }


def stay_from(row: sqlite3.Row) -> BoardStay:
    """Return a board's stay from its row."""
    return BoardStay(row["board"], row["room"], moment_of(row["since"]))


def specimen_from(row: sqlite3.Row) -> Specimen:
    """Return a specimen from its row."""
    return Specimen(
        specimen=row["specimen"],
        family=row["family"],
        group=row["in_group"],
        taxon=row["taxon"],
        sex=row["sex"],
        body_mm=row["body_mm"],
        size=row["size"],
        forewing_mm=row["forewing_mm"],
        wingspan_mm=row["wingspan_mm"],
        groove_mm=row["groove_mm"],
        state=row["state"],
        frozen_on=_date_or_none(row["frozen_on"]),
        available=_date_or_none(row["available"]),
        wanted_by=_date_or_none(row["wanted_by"]),
        spoils_by=_date_or_none(row["spoils_by"]),
        priority=row["priority"],
        minutes=row["minutes"],
        box=row["box"],
        lot=row["lot"],
        label=json.loads(row["label"]),
    )


def specimen_row(s: Specimen) -> dict[str, Value]:
    """Return a specimen as a row, without `gone`, which is written only when one is lost."""
    return {
        "specimen": s.specimen,
        "family": s.family,
        "in_group": s.group,
        "taxon": s.taxon,
        "sex": s.sex,
        "body_mm": s.body_mm,
        "size": s.size,
        "forewing_mm": s.forewing_mm,
        "wingspan_mm": s.wingspan_mm,
        "groove_mm": s.groove_mm,
        "state": s.state,
        "frozen_on": _iso(s.frozen_on),
        "available": _iso(s.available),
        "wanted_by": _iso(s.wanted_by),
        "spoils_by": _iso(s.spoils_by),
        "priority": s.priority,
        "minutes": s.minutes,
        "box": s.box,
        "lot": s.lot,
        "label": json.dumps(dict(s.label), ensure_ascii=False, sort_keys=True),
    }


def session_from(row: sqlite3.Row) -> Session:
    """Return a session from its row."""
    return Session(row["session"], moment_of(row["start"]), row["minutes"], row["who"])


def session_row(session: Session) -> dict[str, Value]:
    """Return a session as a row."""
    return {
        "session": session.session,
        "start": moment_text(session.start),
        "minutes": session.minutes,
        "who": session.who,
    }


def placement_from(row: sqlite3.Row) -> Placement:
    """Return a placement from its row."""
    return Placement(
        id=row["id"],
        specimen=row["specimen"],
        board=row["board"],
        from_mm=row["from_mm"],
        to_mm=row["to_mm"],
        mounted_at=moment_of(row["mounted_at"]),
        mounted_on=date.fromisoformat(row["mounted_on"]),
        released_at=_moment_or_none(row["released_at"]),
        early_reason=row["early_reason"],
        estimated=bool(row["estimated"]),
        rule_ids=tuple(row["rule_ids"].split()),
        session=row["in_session"],
    )


def placement_row(p: Placement) -> dict[str, Value]:
    """Return a placement as a row without its id, which the database gives."""
    return {
        "specimen": p.specimen,
        "board": p.board,
        "from_mm": p.from_mm,
        "to_mm": p.to_mm,
        "mounted_at": moment_text(p.mounted_at),
        "mounted_on": p.mounted_on.isoformat(),
        "released_at": None if p.released_at is None else moment_text(p.released_at),
        "early_reason": p.early_reason,
        "estimated": int(p.estimated),
        "rule_ids": " ".join(p.rule_ids),
        "in_session": p.session,
    }


def chamber_from(row: sqlite3.Row) -> ChamberStay:
    """Return a stay in the chamber from its row."""
    return ChamberStay(row["specimen"], moment_of(row["since"]), _moment_or_none(row["until"]))


def test_from(row: sqlite3.Row) -> DrynessTest:
    """Return a dryness test from its row."""
    return DrynessTest(
        row["placement"],
        moment_of(row["tested_at"]),
        row["verdict"],
        row["progress_pct"],
        row["rh_pct"],
        row["temp_c"],
        _date_or_none(row["due_on"]),
    )


def droop_from(row: sqlite3.Row) -> Droop:
    """Return a droop from its row."""
    return Droop(row["placement"], moment_of(row["seen_at"]), row["note"])


def away_from(row: sqlite3.Row) -> Away:
    """Return days off from their row."""
    first, last = date.fromisoformat(row["from_day"]), date.fromisoformat(row["to_day"])
    return Away(first, last, row["who"])


def away_row(away: Away) -> dict[str, Value]:
    """Return days off as a row."""
    days = {"from_day": away.from_day.isoformat(), "to_day": away.to_day.isoformat()}
    return {**days, "who": away.who}


def keeping_from(row: sqlite3.Row) -> Keeping:
    """Return where a specimen is kept from its row."""
    return Keeping(row["specimen"], row["place"], moment_of(row["since"]))


def afterwards_from(row: sqlite3.Row) -> Afterwards:
    """Return what was done with a specimen after it came off, from its row."""
    at = moment_of(row["at"])
    return Afterwards(row["specimen"], row["step"], at, row["whom"], row["note"])


def afterwards_row(done: Afterwards) -> dict[str, Value]:
    """Return what was done with a specimen after it came off as a row."""
    return {
        "specimen": done.specimen,
        "step": done.step,
        "at": moment_text(done.at),
        "whom": done.whom,
        "note": done.note,
    }


def photo_from(row: sqlite3.Row) -> Photo:
    """Return a photo from its row."""
    return Photo(row["specimen"], row["file"], moment_of(row["taken_at"]))


def dial_from(row: sqlite3.Row) -> Dial:
    """Return a dial's reading from its row."""
    return Dial(row["room"], moment_of(row["read_at"]), row["rh_pct"], row["temp_c"])


def offset_from(row: sqlite3.Row) -> SensorOffset:
    """Return a sensor's correction from its row."""
    return SensorOffset(row["room"], row["sensor"], moment_of(row["since"]), row["points"])


def values_of(image: str) -> dict[str, Any]:
    """Return the columns of a before- or after-image; real numbers stay texts of 17 digits."""
    loaded: dict[str, Any] = json.loads(image)
    return {c: bytes.fromhex(v) if c in BLOB_COLUMNS and v else v for c, v in loaded.items()}
