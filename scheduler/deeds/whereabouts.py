"""Where specimens are at a moment: on a board, in the chamber, or lost.

What contradicts that is refused; all refusals of one call come together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime

from scheduler.record import rows
from scheduler.record.deed import Deed
from scheduler.record.snapshot import Snapshot
from scheduler.words import names, wording
from scheduler.words.problems import Refused
from scheduler.words.records import ChamberStay, Placement, Specimen


def find_all(snap: Snapshot, asked: Sequence[str]) -> list[Specimen]:
    """Return the specimens named, each once. Raises BadInput naming all that are unknown."""
    found = [names.lookup(name, snap.specimens) for name in asked]
    strange = [name for name, specimen in zip(asked, found, strict=True) if specimen is None]
    if strange:
        raise names.unknown(strange, snap.specimens, "specimen")
    every = {s.specimen: s for s in found if s is not None}
    return list(every.values())


def on_board(snap: Snapshot, specimen: str, at: datetime) -> Placement | None:
    """Return where a specimen stood at a moment, None if on no board."""
    return next(
        (
            p
            for p in snap.placements
            if p.specimen == specimen
            and p.mounted_at <= at
            and (p.released_at is None or p.released_at > at)
        ),
        None,
    )


def in_chamber(snap: Snapshot, specimen: str, at: datetime) -> ChamberStay | None:
    """Return the chamber stay that was running at a moment, None without one."""
    return next(
        (
            s
            for s in snap.chamber
            if s.specimen == specimen and s.since <= at and (s.until is None or s.until > at)
        ),
        None,
    )


def end_chamber_stays(deed: Deed, specimens: Iterable[str], at: datetime | None = None) -> None:
    """Record that specimens left the chamber if they were in it, never before they went in.

    They left at the moment of the deed, unless `at` says otherwise.
    """
    for specimen in specimens:
        stays = deed.db.execute(
            "SELECT id, since FROM chamber_stay WHERE specimen = ? AND until IS NULL", (specimen,)
        ).fetchall()
        for stay in stays:
            until = max(stay["since"], rows.moment_text(at or deed.when.at))
            deed.update("chamber_stay", stay["id"], {"until": until})


def refuse_all(
    specimens: Sequence[Specimen], fault: Callable[[Specimen], str | None], remedy: str
) -> None:
    """Raise Refused with everything that `fault` says of the specimens."""
    said = [text for s in specimens if (text := fault(s)) is not None]
    if said:
        raise Refused("\n".join([*said, f"Nothing was recorded. {remedy}"]))


def refuse_before_chamber(placements: Sequence[Placement], snap: Snapshot) -> None:
    """Raise Refused for what would have been mounted before it went into the chamber."""
    said = [
        f"{p.specimen} went into the chamber after that, on"
        f" {wording.moment(snap.local(since), p.mounted_at)}"
        for p in placements
        if (since := snap.chamber_since(p.specimen)) is not None and since > p.mounted_at
    ]
    if said:
        raise Refused("\n".join(said) + "\nNothing was recorded. Check --at")


def elsewhere(snap: Snapshot, specimen: Specimen, at: datetime) -> str | None:
    """Return why a specimen cannot be handled off the boards at a moment; None if it can."""
    name = specimen.specimen
    if name in snap.gone:
        return f"{name} is lost ({snap.gone[name]})"
    standing = on_board(snap, name, at)
    if standing is not None:
        since = wording.moment(snap.local(standing.mounted_at), at)
        return f"{name} stands on {standing.board} since {since}"
    return None
