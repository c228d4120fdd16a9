"""What holds for the whole record, entered by hand: time zone, chamber, protected species."""

from __future__ import annotations

import zoneinfo
from collections.abc import Mapping
from typing import Any

from scheduler.deeds.outcome import Outcome, told
from scheduler.intake.batch.cells import CellFault
from scheduler.intake.batch.settings import READERS
from scheduler.intake.typed import Words
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.words.records import Settings


def set_settings(store: Store, texts: Mapping[str, str], when: When) -> Outcome:
    """Record settings, by their key, as they were typed.

    Keys that are missing or empty stay as they are; `protected` takes names with commas between.
    Raises BadInput with all that is wrong.
    """
    words = Words("settings")
    values = {k: _setting(k, text, words) for k, text in texts.items() if text.strip()}
    words.raise_if_any()
    with store.deed(when, "settings") as deed:
        known: Settings = store.facts().settings
        wanted = known._replace(**values)
        said = rows.settings_rows(wanted)
        changed = [k for k in values if deed.put("setting", {"key": k, "value": said[k]})]
        deed.text = "; ".join(f"{key.replace('_', ' ')} {_shown(wanted, key)}" for key in changed)
    return told(deed, lambda: Outcome((deed.text or "it says that already",)))


def known_zones() -> tuple[str, ...]:
    """Return the names of the time zones that can be chosen."""
    return tuple(sorted(z for z in zoneinfo.available_timezones() if "/" in z or z == "UTC"))


def _setting(key: str, text: str, words: Words) -> Any:
    given: object = text.strip()
    if key == "chamber_places" and text.strip().isdecimal():
        given = int(text)
    elif key == "protected":
        given = [name.strip() for name in text.split(",") if name.strip()]
    try:
        value = READERS[key](given)
    except CellFault as fault:
        words.fault(key.replace("_", " "), text, fault.reason, fault.remedy)
        return None
    return value.key if key == "timezone" else value


def _shown(settings: Settings, key: str) -> str:
    value = getattr(settings, key)
    if key == "protected":
        return ", ".join(value)
    return f"{value:%H:%M}" if key == "chamber_time" else str(value)
