"""What stands behind a specimen's dates, in words for the page of its board. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from scheduler.drying.answer import SpecimenAnswer
from scheduler.drying.evidence import Evidence, KnownAir, Spell
from scheduler.words import wording


def proof_said(e: Evidence, s: SpecimenAnswer) -> Iterator[tuple[str, str]]:
    """Give a term and its text for what is known of the time so far and of the air to come."""
    so_far = f"{wording.days_said(e.days)} begun, worth {e.worth_days:.1f} at 50 %"
    known = _known_said(e.known)
    yield "So far", f"{so_far}; {known}" if known else so_far
    for spell in e.spells:
        yield "Damp", _spell_said(spell)
    if e.assumed_due != s.due:
        yield "Assumed", f"by the assumed air alone: {_due_said(e.assumed_due)}"


def _known_said(known: KnownAir) -> str:
    parts = (
        (known.logger_pct, "by a logger"),
        (known.dial_pct, "by a dial"),
        (known.assumed_pct, "assumed"),
        (known.regime_pct, "in a box or cabinet"),
    )
    said = [f"{share:.0f} % {how}" for share, how in parts if round(share)]
    return f"its air {wording.listed(said)}" if said else ""


def _spell_said(spell: Spell) -> str:
    when = f"{wording.day(spell.first)} to {wording.day(spell.last)}"
    lost = f"{spell.lost_days:.1f} days lost"
    return f"{spell.room}, {when}: {spell.counts_pct:.0f} % counted, {lost}"


def _due_said(due: date | None) -> str:
    return f"due {wording.weekday(due)}" if due else "never due"
