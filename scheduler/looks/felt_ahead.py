"""What is worth feeling ahead of a session, because something waits for its slot.

Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from scheduler.drying.answer import BoardAnswer
from scheduler.drying.felt import may_be_dry_early
from scheduler.drying.fit import Size, fit
from scheduler.view import View
from scheduler.words.records import Session

if TYPE_CHECKING:
    from scheduler.learning.probe import Probe

_NOT_DUE = ("not yet", "cannot say")


def felt_for_a_session(
    view: View, sessions: Sequence[Session], boards: Iterable[BoardAnswer]
) -> tuple[Probe, ...]:
    """Return what is worth feeling now, because its slot is wanted at the next later session.

    boards: the answers for those that are asked about; their specimens' dates are known already.
    """
    day = view.now.date()
    coming = next((s for s in sessions if view.local(s.start).date() > day), None)
    if coming is None:
        return ()
    on = view.local(coming.start).date()
    could = [
        s.on_board
        for b in boards
        for s in b.specimens
        if s.answer in _NOT_DUE and may_be_dry_early(s.on_board, on, view.now)
    ]
    if not could:
        return ()
    unplaced = _unplaced(view, coming)
    alike: dict[tuple[float, float, int], bool] = {}
    found = []
    for one in could:
        board = one.board
        kind = (board.groove_mm, board.span_mm, board.length_mm)
        if kind not in alike:
            alike[kind] = any(fit(size, slot, board, view.rules).fits for size, slot in unplaced)
        if alike[kind]:
            found.append(one)
    if not found:
        return ()
    from scheduler.learning.early import worth_feeling  # on most days there is none

    return worth_feeling(found, view.lessons, coming.session, view.now)


def _unplaced(view: View, session: Session) -> set[tuple[Size, int]]:
    """Return the sizes and slots [mm] of what waits and is not planned by a session."""
    by_then = {p.specimen for p in view.planned if p.mount_at <= session.start}
    return {
        (one.size, slot)
        for one in view.waiting
        if one.specimen.specimen not in by_then
        and one.size is not None
        and (slot := view.slot_mm(one.specimen)) is not None
    }
