"""What a specimen's dates rest on, as terms and texts for the page of its board. Pure."""

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
    """Yield terms with their texts for what the dates of one on a board rest on."""
    yield "So far", f"{so_far_said(e)}; {measured_said(e)}"
    yield from (("Damp", text) for text in spells_said(e, today))
    if text := learned_said(s, e, today):
        yield "Own tests", text
    yield from (("Assumed", text) for text in assumed_said(s, e, today))
