"""What a specimen's dates rest on, in words: one maker for the terminal and for the page."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.drying.answer import SpecimenAnswer
from scheduler.drying.evidence import Evidence, Spell
from scheduler.words import wording

SPELL_SAID_DAYS = 1.0
"""A damp spell that cost less is left to the JSON."""


def evidence_said(s: SpecimenAnswer, e: Evidence) -> str:
    """Return progress, damp spells, what was measured, and the date by the assumed air alone."""
    parts = [so_far_said(e), *(f"damp {text}" for text in spells_said(e))]
    parts += [measured_said(e)]
    return "; ".join(parts + [f"by the assumed air alone {text}" for text in assumed_said(s, e)])


def so_far_said(e: Evidence) -> str:
    """Return how long it has stood, and what that is worth."""
    of = f" of {e.days_at_50}" if e.days_at_50 else ""
    return f"{wording.days_said(e.days)} so far, worth {e.worth_days:.1f}{of} at 50 %"


def spells_said(e: Evidence) -> Iterator[str]:
    """Yield the damp spells that cost a day or more: from when to when, and what they cost."""
    yield from (_spell_said(spell) for spell in e.spells if spell.lost_days >= SPELL_SAID_DAYS)


def measured_said(e: Evidence) -> str:
    """Return how much of the time so far was measured."""
    dial = f", {e.known.dial_pct:.0f} % by the dial," if e.known.dial_pct else ""
    return f"measured {e.known.logger_pct:.0f} %{dial} of the time"


def assumed_said(s: SpecimenAnswer, e: Evidence) -> Iterator[str]:
    """Yield the date by the assumed air alone where it is another."""
    if e.assumed_due != s.due:
        yield wording.day(e.assumed_due) if e.assumed_due else "no date"


def _spell_said(spell: Spell) -> str:
    pct = f"{spell.rh_pct:.0f} %"
    if spell.counts_pct - spell.rh_pct >= 1:
        pct += f", counts as {spell.counts_pct:.0f} %"
    first, last = wording.day(spell.first), wording.day(spell.last)
    return f"from {first} to {last} ({pct}), {spell.lost_days:.1f} days lost"
