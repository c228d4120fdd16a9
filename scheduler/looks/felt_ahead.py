"""What is worth feeling ahead of a session, because something waits for its slot.

Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from scheduler.drying.felt import may_be_dry_early
from scheduler.drying.fit import fit
from scheduler.view import View
from scheduler.words.records import Board, Session

if TYPE_CHECKING:
    from scheduler.drying.unmounted import Unmounted
    from scheduler.learning.probe import Probe


def felt_for_a_session(view: View, sessions: Sequence[Session]) -> tuple[Probe, ...]:
    """Return what is worth feeling now, because its slot is wanted at the next later session."""
    day = view.now.date()
    coming = next((s for s in sessions if view.local(s.start).date() > day), None)
    if coming is None:
        return ()
    on = view.local(coming.start).date()
    could = [one for one in view.standing() if may_be_dry_early(one, on, view.now)]
    wanted = {board for board in {one.board for one in could} if _is_wanted(view, board, coming)}
    found = [one for one in could if one.board in wanted]
    if not found:
        return ()
    from scheduler.learning.early import worth_feeling  # on most days there is none

    return worth_feeling(found, view.lessons, coming.session, view.now)


def _is_wanted(view: View, board: Board, session: Session) -> bool:
    """Say whether anything could lie on a board that is not planned by a session."""
    return any(
        fit(one.size, slot, board, view.rules).fits
        for one in view.waiting
        if (slot := view.slot_mm(one.specimen)) is not None
        and one.size is not None
        and not _is_placed_by(view, one, session)
    )


def _is_placed_by(view: View, one: Unmounted, session: Session) -> bool:
    planned = view.planned_for(one.specimen.specimen)
    return planned is not None and planned.mount_at <= session.start
