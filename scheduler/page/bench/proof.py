"""What stands behind a specimen's dates, as terms and texts for the page of its board. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from scheduler.drying.answer import SpecimenAnswer
from scheduler.drying.evidence import Evidence
from scheduler.faces.evidence import (
    assumed_said,
    learned_said,
    measured_said,
    so_far_said,
    spells_said,
)


def proof_said(e: Evidence, s: SpecimenAnswer, today: date) -> Iterator[tuple[str, str]]:
    """Give a term and its text for what is known of the time so far."""
    yield "So far", f"{so_far_said(e)}; {measured_said(e)}"
    yield from (("Damp", text) for text in spells_said(e, today))
    if text := learned_said(s, e, today):
        yield "Own tests", text
    yield from (("Assumed", text) for text in assumed_said(s, e, today))
