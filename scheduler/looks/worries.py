"""What needs seeing to: specimens that may be lost, air that spoils the work, a plan grown old."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import datetime, timedelta

from scheduler.drying.answer import BoardAnswer
from scheduler.drying.softening import hours_after
from scheduler.looks.ahead import Ahead, ends_at, waiting
from scheduler.looks.air_worries import room_worries, stalled_worries
from scheduler.looks.worry import Worry, WorryKind
from scheduler.record.kept import Kept
from scheduler.words import wording

__all__ = ["Worry", "WorryKind", "worries"]

SOON_DAYS = 7
"""What is lost within so many days is worth a word today; no source, a week of sessions."""


def worries(ahead: Ahead, boards: Sequence[BoardAnswer]) -> tuple[Worry, ...]:
    """Return every worry, what may be lost first."""
    stalled = tuple(stalled_worries(ahead, boards))
    return (
        *_too_long(ahead),
        *_will_spoil(ahead),
        *_not_recorded(ahead),
        *_plan(ahead, boards),
        *stalled,
        *_no_date(boards, {name for w in stalled for name in w.names}),
        *room_worries(ahead, boards),
        *_boards_out(ahead, boards),
    )


def _inside_too_long(ahead: Ahead) -> dict[str, float]:
    """Return what is in the chamber longer than it may be, with the hours that it may."""
    found = {}
    for stay in ahead.snap.chamber:
        if stay.until is None:
            most = ahead.softening(ahead.snap.specimens[stay.specimen]).most_hours
            if hours_after(stay.since, most) < ahead.now:
                found[stay.specimen] = most
    return found


def _too_long(ahead: Ahead) -> Iterator[Worry]:
    found = _inside_too_long(ahead)
    if found:
        names = tuple(sorted(found))
        text = (
            f"{wording.listed(names)}: in the chamber for more than {min(found.values()):g} h."
            " Look for mould and decay, mount at once"
        )
        yield Worry("too long in the chamber", names, text, _mount(names))


def _mount(names: Iterable[str]) -> str:
    return f"wingrest mount BOARD: {' '.join(names)}"


def _will_spoil(ahead: Ahead) -> Iterator[Worry]:
    said_already = _inside_too_long(ahead)
    soon = ahead.now + timedelta(days=SOON_DAYS)
    lost: dict[datetime, list[str]] = {}
    for specimen in waiting(ahead.snap):
        clock = ahead.softening(specimen).clock
        if clock is None or clock.lost_at > soon or specimen.specimen in said_already:
            continue
        planned = ahead.of(specimen.specimen)
        if planned is None or planned.mount_at > clock.lost_at:
            lost.setdefault(clock.lost_at, []).append(specimen.specimen)
    for moment, found in sorted(lost.items()):
        names = tuple(found)
        when = wording.moment(ahead.snap.local(moment))
        if moment < ahead.now:
            text = f"{wording.listed(names)}: should have been mounted by {when}. Look, then"
            yield Worry("will spoil", names, text, f"wingrest lost {names[0]} REASON")
        else:
            text = f"{wording.listed(names)}: lost after {when}, and not planned before"
            yield Worry("will spoil", names, text, _way_out(ahead, names, moment))


def _way_out(ahead: Ahead, names: tuple[str, ...], lost_at: datetime) -> str:
    """Return what to do for what will spoil: plan again, unless the plan knew and had no place."""
    if ahead.kept is None:
        return "wingrest plan"
    without = {name for name, _ in ahead.kept.plan.unplaced}
    knew = {w.specimen for w in ahead.kept.problem.waiting if w.lost_at == lost_at}
    knew |= set(ahead.kept.problem.misfits)
    return _mount(names) if set(names) <= (knew & without) else "wingrest plan"


def _not_recorded(ahead: Ahead) -> Iterator[Worry]:
    """Say which sessions are over without what was planned for them being recorded."""
    waits = {s.specimen for s in waiting(ahead.snap)}
    for session in sorted(ahead.snap.sessions.values(), key=lambda s: s.start):
        if not session.minutes or ends_at(session) > ahead.now:
            continue
        placements = ahead.kept.placements if ahead.kept else ()
        names = tuple(
            p.specimen for p in placements if p.session == session.session and p.specimen in waits
        )
        if names:
            text = (
                f"{session.session} is over, not recorded: {_some(names)}. What was not mounted"
                " is left out with --except, or planned again"
            )
            at = ahead.snap.local(session.start)
            command = f"wingrest mount {session.session} --at {at:%Y-%m-%dT%H:%M}"
            yield Worry("not recorded", names, text, command)


def _plan(ahead: Ahead, boards: Sequence[BoardAnswer]) -> Iterator[Worry]:
    """Say when the kept plan no longer answers the record."""
    if not ahead.sessions() or not waiting(ahead.snap):
        return
    if ahead.kept is None:
        yield Worry("plan", (), "Nothing is planned yet", "wingrest plan")
        return
    why = [
        *_new_to(ahead, ahead.kept),
        *_boards_otherwise(ahead, ahead.kept),
        *_stands_otherwise(ahead.kept, boards),
    ]
    if why:
        text = f"The plan is older than this: {'; '.join(why)}"
        yield Worry("plan", (), text, "wingrest plan")


def _new_to(ahead: Ahead, kept: Kept) -> Iterator[str]:
    known = {w.specimen for w in kept.problem.waiting} | set(kept.problem.misfits)
    new = [s.specimen for s in waiting(ahead.snap) if s.specimen not in known]
    if new:
        yield f"{_some(new)} came since"
    starts = {s.session: s.start for s in kept.problem.sessions}
    last = max(starts.values(), default=ahead.now)
    changed = [
        s.session
        for s in ahead.sessions()
        if starts.get(s.session, s.start if s.start > last else None) != s.start
    ]
    changed += [p.session for p in kept.placements if _cancelled(ahead, p.session)]
    if changed:
        yield f"{_some(dict.fromkeys(changed))} changed"


def _cancelled(ahead: Ahead, session: str) -> bool:
    found = ahead.snap.sessions.get(session)
    return found is None or not found.minutes


def _boards_otherwise(ahead: Ahead, kept: Kept) -> Iterator[str]:
    rooms = {b.board: b.room for b in kept.problem.boards}
    for name in dict.fromkeys(p.board for p in ahead.planned):
        board, room = ahead.snap.boards.get(name), ahead.snap.room_of(name)
        if board is None or board.out:
            yield f"{name} is out of use"
        elif room is not None and room.room != rooms.get(name):
            yield f"{name} stands in {room.room} now"


def _stands_otherwise(kept: Kept, boards: Sequence[BoardAnswer]) -> Iterator[str]:
    standing = {s.specimen: s for s in kept.problem.standing}
    planned = {(p.specimen, p.board, p.from_mm) for p in kept.placements}
    otherwise, longer = [], []
    for s in (s for b in boards for s in b.specimens):
        was = standing.get(s.specimen)
        if was is None:
            if (s.specimen, s.board, s.from_mm) not in planned:
                otherwise.append(s.specimen)
        elif was.clear is not None and (s.clear is None or s.clear > was.clear):
            longer.append(s.specimen)
    if otherwise:
        verb = "stands" if len(otherwise) == 1 else "stand"
        yield f"{_some(otherwise)} {verb} where it had not planned"
    if longer:
        yield f"{_some(longer)} dr{'ies' if len(longer) == 1 else 'y'} longer"


def _some(names: Iterable[str]) -> str:
    every = list(names)
    return wording.listed(every) if len(every) <= 4 else f"{', '.join(every[:3])} and others"


def _no_date(boards: Sequence[BoardAnswer], said: Collection[str]) -> Iterator[Worry]:
    for b in boards:
        lost = [s for s in b.specimens if s.due is None and s.specimen not in said]
        lost = [s for s in lost if s.air and (s.air.regime != "room" or s.air.rh_pct is not None)]
        if lost:
            names = tuple(s.specimen for s in lost)
            text = f"{wording.listed(names)} on {b.board}: no date in the air of {lost[0].air}"
            yield Worry("no date", names, text, f"wingrest move {b.board} ROOM")


def _boards_out(ahead: Ahead, boards: Sequence[BoardAnswer]) -> Iterator[Worry]:
    for b in boards:
        if ahead.snap.boards[b.board].out and b.specimens:
            text = f"{b.board} is out of use with {_some(s.specimen for s in b.specimens)} on it"
            yield Worry("board out", (b.board,), text, f"wingrest board {b.board} in")
