"""Record what was mounted: a session as planned, or one specimen by hand.

A fact is never refused because it breaks a rule of the trade: it is recorded, with a warning. What
contradicts the record itself (a slot that is taken, a specimen that stands already) is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from scheduler.deeds.lot import specimen_meant
from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.slots import fit_warnings, slot_for
from scheduler.deeds.telling import keep_dates
from scheduler.deeds.whereabouts import end_chamber_stays, refuse_before_chamber
from scheduler.drying.dates import body_on_board
from scheduler.planner.problem import Planned
from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.kept import kept_plan
from scheduler.record.quicker import last_line_of
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import names, wording
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Board, Placement, Specimen


def mount_session(
    store: Store, rules: Rulebook, session: str, excepted: Sequence[str], when: When
) -> Outcome:
    """Record a session as the kept plan has it, without those excepted.

    What was mounted by hand meanwhile, or is lost, is left out and told. Raises Refused when
    nothing else is planned, when what should have come off a slot first still stands there, or when
    a board went out of use.
    """
    with store.deed(when, "mount") as deed:
        snap = store.facts()
        planned = _planned(store, snap, session, excepted)
        left = [p for p in planned if _why_over(p.specimen, snap) is None] or planned
        view = View(snap, rules, when.now)
        placements = [_as_placement(p, view, when.at) for p in left]
        refuse_taken(placements, snap)
        _refuse_out_of_use(store, placements, view)
        tell = record(store, deed, snap, rules, placements, f"session {session}: ")
    over = _left_out([p.specimen for p in planned if p not in left], snap)
    return told(deed, lambda: tell(over))


def mount_one(
    store: Store,
    rules: Rulebook,
    specimen: str,
    board: str,
    slot: tuple[int | None, int | None],
    when: When,
) -> Outcome:
    """Record one specimen mounted by hand.

    `slot` is (from_mm, to_mm). Without to_mm the rules' slot length counts. Without both, the first
    free stretch of that length is taken and noted as estimated.
    """
    with store.deed(when, "mount") as deed:
        snap = store.facts()
        who = specimen_meant(snap, specimen)
        where = names.find(board, snap.boards, "board")
        from_mm, to_mm = slot_for(snap, rules, who, where, slot)
        estimated = slot[0] is None
        placement = new_placement(snap, rules, who, where, (from_mm, to_mm), when, estimated)
        refuse_taken([placement], snap)
        tell = record(store, deed, snap, rules, [placement])
    return told(deed, tell)


def new_placement(
    snap: Snapshot,
    rules: Rulebook,
    specimen: Specimen,
    board: Board,
    slot: tuple[int, int],
    when: When,
    estimated: bool,
) -> Placement:
    """Return the placement of a specimen that is being mounted."""
    return Placement(
        id=0,
        specimen=specimen.specimen,
        board=board.board,
        from_mm=slot[0],
        to_mm=slot[1],
        mounted_at=when.at,
        mounted_on=snap.local(when.at).date(),
        estimated=estimated,
        rule_ids=rule_ids(View(snap, rules, when.now), specimen, board),
    )


def _planned(store: Store, snap: Snapshot, session: str, excepted: Sequence[str]) -> list[Planned]:
    specimen = names.lookup(session, snap.specimens)
    if specimen is not None:
        raise BadInput(f"{specimen.specimen} is a specimen. Say where it stands: --board")
    wanted = names.find(session, snap.sessions, "session")
    kept = kept_plan(store)
    if kept is None:
        raise Refused("no plan is kept. `wingrest plan` makes one")
    planned = [p for p in kept.placements if p.session == wanted.session]
    if not planned:
        raise Refused(f"the kept plan mounts nothing at {wanted.session}. `wingrest plan` shows it")
    ids = {p.specimen.casefold() for p in planned}
    lost = {name.casefold() for name in snap.gone}  # these are left out anyway
    strange = [name for name in excepted if name.casefold() not in ids | lost]
    if strange:
        raise names.unknown(strange, [p.specimen for p in planned], "planned specimen")
    left_out = {name.casefold() for name in excepted}
    kept_in = [p for p in planned if p.specimen.casefold() not in left_out]
    if not kept_in:
        raise BadInput(f"--except leaves nothing to mount at {wanted.session}. Leave fewer out")
    return kept_in


def _as_placement(planned: Planned, view: View, at: datetime) -> Placement:
    specimen, board = view.specimens[planned.specimen], view.boards[planned.board]
    return Placement(
        id=0,
        specimen=planned.specimen,
        board=planned.board,
        from_mm=planned.from_mm,
        to_mm=planned.to_mm,
        mounted_at=at,
        mounted_on=view.local(at).date(),
        # Its dates follow the present air; the plan may not know yet what was read since.
        rule_ids=rule_ids(view, specimen, board),
        session=planned.session,
    )


def _refuse_out_of_use(store: Store, placements: Sequence[Placement], view: View) -> None:
    """Raise Refused where a session's plan does not know yet that a board went out of use."""
    out = [b for b in dict.fromkeys(p.board for p in placements) if view.boards[b].out]
    if out:
        said = [f"{b} is out of use (line {last_line_of(store.db, 'board', b)})" for b in out]
        raise Refused(
            f"{wording.listed(said)}, and the kept plan still mounts there. `wingrest plan` puts "
            f"them elsewhere; if you mounted there all the same: wingrest mount {out[0]}: SPECIMENS"
        )


def _why_over(specimen: str, snap: Snapshot) -> str | None:
    """Return why a planned specimen is not to be mounted any more, None if it is."""
    if specimen in snap.gone:
        return f"is lost ({snap.gone[specimen]})"
    board = next((p.board for p in snap.standing() if p.specimen == specimen), None)
    return board and f"stands on {board} already"


def _left_out(specimens: Sequence[str], snap: Snapshot) -> list[str]:
    stands = {p.specimen: p.board for p in snap.standing()}
    whose: dict[str, list[str]] = {}
    for name in sorted(specimens):
        whose.setdefault(f"on {stands[name]}" if name in stands else "lost", []).append(name)
    return [f"  left out: {wording.listed(names)}, {why} already" for why, names in whose.items()]


def refuse_taken(placements: Sequence[Placement], snap: Snapshot) -> None:
    """Raise Refused for what stands already, is lost, went in later, or whose slot is taken."""
    refuse_before_chamber(placements, snap)
    said = []
    for new in placements:
        over = _why_over(new.specimen, snap)
        if over is not None:
            said.append(f"{new.specimen} {over}")
            continue
        said += [
            f"{new.specimen} cannot go to {new.from_mm}-{new.to_mm} mm of {new.board}:"
            f" {old.specimen} {_stands(old, snap, new.mounted_at)}"
            for old in snap.placements
            if old.board == new.board
            and old.from_mm < new.to_mm
            and new.from_mm < old.to_mm
            and (old.released_at is None or old.released_at > new.mounted_at)
        ]
    if said:
        raise Refused(
            "\n".join(said) + "\nNothing was recorded. Release what came off first"
            " (`wingrest release`), or leave these out with --except"
        )


def _stands(old: Placement, snap: Snapshot, at: datetime) -> str:
    where = f"at {old.from_mm}-{old.to_mm} mm"
    if old.released_at is None:
        return f"still stands {where}"
    return f"stood {where} until {wording.moment(snap.local(old.released_at), at)}"


def rule_ids(view: View, specimen: Specimen, board: Board) -> tuple[str, ...]:
    """Return the ids of the rules that answer for a specimen on a board where that stands now."""
    room = view.room_of(board.board)
    if room is None:
        return ()
    body = body_on_board(specimen, board.groove_mm, view.rules).body_mm
    return view.time_in(specimen, body, room).rule_ids


def record(
    store: Store,
    deed: Deed,
    snap: Snapshot,
    rules: Rulebook,
    placements: Sequence[Placement],
    lead: str = "",
    moved: Sequence[Placement] = (),
) -> Callable[..., Outcome]:
    """Record placements, and those that are re-laid for them.

    Returns a function that tells afterwards what was recorded and what to mind, with further lines
    of the caller's.
    """
    deed.text = f"{lead}mounted {_who_where(placements)}"
    if moved:
        deed.text += "; re-laid " + wording.listed(p.specimen for p in moved)
    _relay(deed, moved, {p.id: p for p in snap.standing()})
    placed = {deed.insert("placement", rows.placement_row(p)): p for p in placements}
    keep_dates(deed, View(snap, rules, deed.when.now), placed)
    end_chamber_stays(deed, [p.specimen for p in placements])
    after = view_of(store, rules, deed.when.now)

    def tell(more: Sequence[str] = ()) -> Outcome:
        stands = {p.specimen: p for p in after.facts.standing()}
        strips = [f"  {_strip(stands[p.specimen], after)}" for p in placements]
        return Outcome(
            (deed.text, *strips, *(_relaid(p) for p in moved), *more),
            tuple(w for p in [*placements, *moved] for w in fit_warnings(p, snap, rules)),
        )

    return tell


def _who_where(placements: Sequence[Placement]) -> str:
    boards = {p.board for p in placements}
    if len(boards) == 1:
        return f"{wording.listed(p.specimen for p in placements)} on {boards.pop()}"
    return wording.listed(f"{p.specimen} on {p.board}" for p in placements)


def _relay(deed: Deed, moved: Sequence[Placement], was: dict[int, Placement]) -> None:
    """Move slots one after the other, each once the slot to which it goes is free.

    Their order on the board does not change, so one of them can always go.
    """
    left = list(moved)
    while left:
        ready = next(p for p in left if not any(_meet(p, was[o.id]) for o in left if o is not p))
        deed.update("placement", ready.id, {"from_mm": ready.from_mm, "to_mm": ready.to_mm})
        left.remove(ready)


def _meet(a: Placement, b: Placement) -> bool:
    return a.from_mm < b.to_mm and b.from_mm < a.to_mm


def _relaid(placement: Placement) -> str:
    slot = f"{placement.from_mm}-{placement.to_mm} mm"
    return f"  {placement.specimen} now counts at {slot} of {placement.board} (estimated)"


def _strip(placement: Placement, view: View) -> str:
    due = view.of(placement).told(view.now.date()).due
    return wording.strip(placement.specimen, placement.mounted_on, due)
