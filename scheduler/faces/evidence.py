"""What a specimen's dates rest on, in words, for the terminal and for the page."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from scheduler.drying.answer import SpecimenAnswer
from scheduler.drying.evidence import Evidence, Spell
from scheduler.drying.teaching import LearnedDates, RoomSays
from scheduler.words import wording

SPELL_SAID_DAYS = 1.0
"""A damp spell that cost fewer days is told in the JSON only."""


def evidence_said(s: SpecimenAnswer, e: Evidence, today: date) -> str:
    """Return progress, damp spells, what was measured, and the date by the assumed air alone."""
    parts = [so_far_said(e), *(f"damp {text}" for text in spells_said(e, today))]
    parts += [measured_said(e)]
    return "; ".join([*parts, *assumed_said(s, e, today)])


def so_far_said(e: Evidence) -> str:
    """Return how long it has stood, and what that is worth."""
    needs = f" (it needs {e.days_at_50})" if e.days_at_50 else ""
    return f"{wording.days_said(e.days)} so far, worth {e.worth_days:.1f} days at 50 %{needs}"


def spells_said(e: Evidence, today: date) -> Iterator[str]:
    """Yield the damp spells that cost `SPELL_SAID_DAYS` or more: when, and what they cost."""
    yield from (
        _spell_said(spell, today) for spell in e.spells if spell.lost_days >= SPELL_SAID_DAYS
    )


def measured_said(e: Evidence) -> str:
    """Return how much of the time so far was measured."""
    logger, dial = e.known.logger_pct, e.known.dial_pct
    by = [
        f"{pct:.0f} % of the time by a {what}"
        for pct, what in ((logger, "logger"), (dial, "dial"))
        if pct
    ]
    return f"measured {wording.listed(by)}" if by else "nothing was measured"


def assumed_said(s: SpecimenAnswer, e: Evidence, today: date) -> Iterator[str]:
    """Yield the date by the assumed air alone, if it differs."""
    if e.assumed_due != (s.learned.table_due if s.learned else s.due):
        date_then = (
            f"due on {wording.day(e.assumed_due, today)}" if e.assumed_due else "without a date"
        )
        yield f"by the assumed air alone it would be {date_then}"


def learned_said(s: SpecimenAnswer, e: Evidence, today: date) -> str:
    """Return what table, air and the room's own tests each bring, and when such specimens are dry.

    The text is empty where the table's dates stand.
    """
    learned = s.learned
    if learned is None:
        return ""
    brought = _brought_said(s, e, learned)
    by = (
        f" by {wording.day(learned.share_dry, today)}"
        if learned.share_dry
        else ", no date in sight"
    )
    span = wording.between(*learned.dry, today)
    eight = f", 8 in 10 {span}" if span else ""
    return f"{brought}; {learned.says.share_pct} % of such are dry{by}{eight}"


def room_says_said(says: RoomSays) -> str:
    """Return what a room's tests say: "1.1 times the table's days (0.95 to 1.25), by ..."."""
    tests = wording.counted(says.tests, "test")
    span = f"{says.low:.2f} to {says.high:.2f}"
    return f"{says.times:.2f} times the table's days ({span}), by {tests}"


def too_few_said(says: RoomSays, least: float) -> str:
    """Return why the table's days stand in a room: so many tests, and how far they count.

    least: as how many they must count.
    """
    tests = wording.counted(says.tests, "test")
    if says.tests < least:
        return f"the table's days stand: {tests} so far, {least:g} are needed"
    return (
        f"the table's days stand: {tests} so far, but what stood at one time in air that nobody "
        f"read is soft or stiff together: they count as {says.counted:.1f}, {least:g} are needed. "
        "Once a dial is read, each counts in full"
    )


def _brought_said(s: SpecimenAnswer, e: Evidence, learned: LearnedDates) -> str:
    room = f"specimens in {learned.says.room} take {room_says_said(learned.says)}"
    if s.due is None or learned.air_due is None or e.days_at_50 is None:
        return room
    air = (learned.air_due - s.mounted_on).days - e.days_at_50
    tests = (s.due - learned.air_due).days
    return f"{e.days_at_50} days by the table, {air:+d} by the air, {tests:+d} by tests: {room}"


def _spell_said(spell: Spell, today: date) -> str:
    pct = f"{spell.rh_pct:.0f} %"
    if spell.counts_pct - spell.rh_pct >= 1:
        pct += f", counts as {spell.counts_pct:.0f} %"
    first, last = wording.day(spell.first, today), wording.day(spell.last, today)
    return f"from {first} to {last} ({pct}), {spell.lost_days:.1f} days lost"
