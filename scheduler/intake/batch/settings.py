"""From settings.toml to the record's settings and the moment at which a demonstration starts."""

from __future__ import annotations

import tomllib
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.intake.batch import cells
from scheduler.intake.batch.cells import CellFault
from scheduler.intake.batch.columns import SETTINGS_FILE
from scheduler.intake.batch.findings import Findings, did_you_mean
from scheduler.intake.batch.folder import settings_path
from scheduler.table import TableFault, decoded, read_bytes
from scheduler.words.records import Settings
from scheduler.words.repeats import EXAMPLE, Repeat, RepeatFault, parse_repeat


@dataclass(frozen=True, slots=True)
class GivenSettings:
    """What settings.toml says. `given` names the keys that it really holds."""

    zone: ZoneInfo
    settings: Settings | None = None
    now: datetime | None = None
    given: frozenset[str] = frozenset()
    repeats: tuple[Repeat, ...] = ()


def read_settings(path: Path | None, known_zone: str | None, findings: Findings) -> GivenSettings:
    """Read settings.toml; the record's zone, else UTC, is used where it has no usable zone.

    A key that is left out has the default of `Settings`; by `given` the caller decides which of the
    record's own settings to replace.
    """
    standing = ZoneInfo(known_zone or "UTC")
    if path is None:
        return GivenSettings(standing)
    content = _content(path, findings)
    if content is None:
        return GivenSettings(standing)
    for key in content.keys() - READERS.keys():
        guess = did_you_mean(key, READERS.keys() - content.keys())
        findings.note(f'"{key}" is unknown and not read{guess}', SETTINGS_FILE)
    values = {
        key: value
        for key, read in READERS.items()
        if key in content and (value := _read(key, content[key], read, findings)) is not None
    }
    zone: ZoneInfo = values.get("timezone", standing)
    settings = Settings(
        timezone=zone.key,
        chamber_places=values.get("chamber_places"),
        chamber_time=values.get("chamber_time", Settings().chamber_time),
        protected=values.get("protected", ()),
        dry_share_pct=values.get("dry_share_pct", Settings().dry_share_pct),
    )
    now = _localised_now(values.get("now"), zone, findings)
    given = frozenset(content.keys() & READERS.keys())
    return GivenSettings(zone, settings, now, given, values.get("sessions", ()))


def folder_zone(folder: Path) -> ZoneInfo:
    """Return the time zone that a batch names, UTC when it names none that can be used."""
    return read_settings(settings_path(folder), None, Findings()).zone


def demo_now(folder: Path) -> datetime | None:
    """Return the moment at which a demonstration of the batch begins.

    It is None when settings.toml names none or cannot be read; reading the batch reports why.
    """
    return read_settings(settings_path(folder), None, Findings()).now


def _content(path: Path, findings: Findings) -> dict[str, Any] | None:
    try:
        return tomllib.loads(decoded(read_bytes(path))[0])
    except TableFault as fault:
        findings.problem(SETTINGS_FILE, fault.row, None, None, fault.reason, fault.remedy)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        reason = f"is not TOML ({error})"
        remedy = 'Write lines such as timezone = "Europe/Berlin"'
        findings.problem(SETTINGS_FILE, None, None, None, reason, remedy)
    return None


def _read(key: str, value: Any, read: Callable[[Any], Any], findings: Findings) -> Any:
    try:
        return read(value)
    except CellFault as fault:
        findings.problem(SETTINGS_FILE, None, key, str(value), fault.reason, fault.remedy)
        return None


def _localised_now(now: datetime | None, zone: ZoneInfo, findings: Findings) -> datetime | None:
    if now is None:
        return None
    try:
        return cells.localise(now, zone)[0]
    except CellFault as fault:
        findings.problem(SETTINGS_FILE, None, "now", now.isoformat(), fault.reason, fault.remedy)
        return None


def _timezone(value: Any) -> ZoneInfo:
    remedy = 'Write a name of the time zone database, as in "Europe/Berlin"'
    if not isinstance(value, str):
        raise CellFault("is not text", remedy)
    try:
        return ZoneInfo(value)
    except (KeyError, ValueError, OSError):
        guess = did_you_mean(value, zoneinfo.available_timezones())
        raise CellFault(f"is not a time zone{guess.rstrip('?')}", remedy) from None


def _places(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= 10_000:
        raise CellFault(
            "is not a whole number from 1 to 10000",
            "Write how many specimens the chamber holds, or leave the line out",
        )
    return value


def _share(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 50 <= value <= 95:
        remedy = "Write 70, or 85 if you are careful: so many % of those called due shall be dry"
        raise CellFault("is not a whole number from 50 to 95", remedy)
    return value


def _clock(value: Any) -> time:
    return value if isinstance(value, time) else cells.clock(str(value))


def _now(value: Any) -> datetime:
    if isinstance(value, datetime):
        return cells.calendar_moment(value.isoformat(timespec="seconds"))
    return cells.calendar_moment(value.isoformat() if isinstance(value, date) else str(value))


def _repeats(value: Any) -> tuple[Repeat, ...]:
    remedy = f'Write a list of texts: sessions = ["{EXAMPLE}"]'
    if not isinstance(value, list) or not all(isinstance(text, str) for text in value):
        raise CellFault("is not a list of texts", remedy)
    found = []
    for text in value:
        try:
            repeat = parse_repeat(text)
        except RepeatFault as fault:
            raise CellFault(f'"{text}": {fault.reason}', fault.remedy) from None
        if repeat.minutes is None or repeat.until is None:
            raise CellFault(f'"{text}" lacks its minutes or its last day', remedy)
        found.append(repeat)
    return tuple(found)


def _taxa(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(text, str) for text in value):
        remedy = 'Write a list of names: protected = ["Parnassius apollo", "Zerynthia"]'
        raise CellFault("is not a list of texts", remedy)
    return tuple(" ".join(text.split()) for text in value if text.strip())


READERS: dict[str, Callable[[Any], Any]] = {
    "timezone": _timezone,
    "chamber_places": _places,
    "chamber_time": _clock,
    "now": _now,
    "sessions": _repeats,
    "protected": _taxa,
    "dry_share_pct": _share,
}
