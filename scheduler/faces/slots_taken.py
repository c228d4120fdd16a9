"""What is not mounted today because a slot stays taken, in words."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.words import wording


def held_said(names: Sequence[str]) -> str:
    """Say of those planned for a session that their slots stay taken, why, and what to do."""
    what = "whose slot stays" if len(names) == 1 else "whose slots stay"
    return (
        f"Not today: {wording.listed(names)}, {what} taken. What stands there is not due any more,"
        " or the air is too damp. Planning anew may find other places"
    )
