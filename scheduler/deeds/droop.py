"""Record what shows only weeks later: a wing that sank after its specimen came off."""

from __future__ import annotations

from scheduler.deeds.outcome import Outcome, told
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.words import names, wording
from scheduler.words.problems import Refused
from scheduler.words.records import Droop, Placement


def drooped(store: Store, specimen: str, note: str, when: When) -> Outcome:
    """Record that a specimen drooped after it last came off a board.

    Raises Refused for a specimen that stands on a board, never stood on one, or had not come off at
    that moment; and for one that is recorded as drooped already.
    """
    note = note.strip()
    with store.deed(when, "drooped") as deed:
        snap = store.facts()
        name = names.find(specimen, snap.specimens, "specimen").specimen
        placement = _came_off(snap, name, when)
        deed.text = f"{name} drooped{note and f': {note}'}"
        seen_at = rows.moment_text(when.at)
        deed.insert("droop", {"placement": placement.id, "seen_at": seen_at, "note": note})
    return told(deed, lambda: Outcome((deed.text, *_known_then(snap, placement, when))))


def _came_off(snap: Snapshot, name: str, when: When) -> Placement:
    mine = [p for p in snap.placements if p.specimen == name]
    if not mine:
        raise Refused(f"{name} was never on a board: nothing of it can have drooped there")
    last = max(mine, key=lambda p: p.mounted_at)
    if last.released_at is None:
        raise Refused(
            f"{name} stands on {last.board}. What is soft on its board is recorded with"
            f" `wingrest test {name} soft`"
        )
    if last.released_at > when.at:
        off = wording.moment(snap.local(last.released_at), when.now)
        raise Refused(f"{name} came off {last.board} only after that, on {off}. Check --at")
    known = next((d for d in snap.droops if d.placement == last.id), None)
    if known is not None:
        raise Refused(
            f"{name} is already recorded as drooped, {_seen(snap, known, when)}. To correct that, "
            "take its"
            " line back first (`wingrest journal`)"
        )
    return last


def _seen(snap: Snapshot, droop: Droop, when: When) -> str:
    seen = f"seen {wording.moment(snap.local(droop.seen_at), when.now)}"
    return f"{seen}: {droop.note}" if droop.note else seen


def _known_then(snap: Snapshot, placement: Placement, when: When) -> list[str]:
    """Return what was known when it came off, for whoever wonders why it drooped."""
    assert placement.released_at is not None
    days = (snap.local(when.at).date() - snap.local(placement.released_at).date()).days
    lines = [f"  off {placement.board} for {wording.days_said(days)}"]
    if placement.early_reason:
        lines[0] += f", taken off early: {placement.early_reason}"
    tests = snap.tests_of(placement.id)
    if tests:
        said = f"  last tested {tests[-1].verdict}"
        if tests[-1].progress_pct is not None:
            said += f" at {tests[-1].progress_pct:.0f} % of its minimum board time"
        if tests[-1].rh_pct is not None:
            said += f", in air of {tests[-1].rh_pct:.3g} %"
        lines.append(said)
    return lines
