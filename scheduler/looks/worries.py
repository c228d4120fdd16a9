"""What needs attention: specimens that may be lost, air that spoils the work, an outdated plan."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from scheduler.drying.answer import BoardAnswer
from scheduler.drying.softening import hours_after
from scheduler.looks.air_worries import room_worries, stalled_worries
from scheduler.looks.away_worries import away_worries
from scheduler.looks.beginnings import beginnings
from scheduler.looks.deadlines import deadline_worries
from scheduler.looks.measuring import measure_worries
from scheduler.looks.rooms import lesson_worries
from scheduler.looks.rules_changed import rule_worries
from scheduler.looks.sensor_worries import sensor_worries
from scheduler.looks.worry import Worry
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.names import natural_order

if TYPE_CHECKING:
    from scheduler.record.kept import Kept

MOST_UNDATED = 3
"""More specimens than these that have no date are counted; `ready` names them."""

SOON_DAYS = 7
"""What is lost within so many days is told today; no source, a week of sessions."""


def worries(view: View, boards: Sequence[BoardAnswer]) -> tuple[Worry, ...]:
    """Return every worry; what may be lost comes first."""
    stalled = tuple(stalled_worries(view, boards))
    return (
        *_too_long(view),
        *_will_spoil(view),
        *deadline_worries(view),
        *away_worries(view),
        *_not_recorded(view),
        *_plan(view, boards),
        *rule_worries(view),
        *stalled,
        *_no_date(boards, {name for w in stalled for name in w.names}),
        *room_worries(view, boards),
        *sensor_worries(view),
        *lesson_worries(view),
        *_boards_out(view, boards),
        *beginnings(view),
        *measure_worries(view),
    )


def _inside_too_long(view: View) -> dict[str, float]:
    """Return what is in the chamber longer than it may be, with the hours allowed."""
    found = {}
    for stay in view.facts.in_chamber():
        most = view.waits(view.specimens[stay.specimen]).softening.most_hours
        if hours_after(stay.since, most) < view.now:
            found[stay.specimen] = most
    return found


def _too_long(view: View) -> Iterator[Worry]:
    found = _inside_too_long(view)
    if found:
        names = tuple(sorted(found, key=natural_order))
        text = (
            f"{wording.listed(names)}: in the chamber for more than {min(found.values()):g} h."
            " Look for mould and decay, mount at once"
        )
        yield Worry("too long in the chamber", names, text, _mount(names))


def _mount(names: Iterable[str]) -> str:
    return f"wingrest mount BOARD: {' '.join(names)}"


def _will_spoil(view: View) -> Iterator[Worry]:
    said_already = _inside_too_long(view)
    soon = view.now + timedelta(days=SOON_DAYS)
    lost: dict[datetime, list[str]] = {}
    for one in view.waiting:
        clock, name = one.softening.clock, one.specimen.specimen
        if clock is None or clock.lost_at > soon or name in said_already:
            continue
        if one.cold is not None and clock.lost_at >= view.now:
            continue  # it is put away in time
        planned = view.planned_for(name)
        if planned is None or planned.mount_at > clock.lost_at:
            lost.setdefault(clock.lost_at, []).append(name)
    for moment, found in sorted(lost.items()):
        names = tuple(found)
        when = wording.moment(view.local(moment), view.now)
        if moment < view.now:
            text = (
                f"{wording.listed(names)}: should have been mounted or put away by {when}. Look at"
                " each: what is sound goes into the freezer now"
            )
            yield Worry("will spoil", names, text, f"wingrest putback {' '.join(names)} freezer")
        else:
            text = (
                f"{wording.listed(names)}: lost after {when}, and no session is planned before that"
            )
            yield Worry("will spoil", names, text, _way_out(view, names, moment))


def _way_out(view: View, names: tuple[str, ...], lost_at: datetime) -> str:
    """Return what to do for what will spoil: plan again, unless the plan knew and had no place."""
    if view.kept is None:
        return "wingrest plan"
    kept = view.kept
    knew = all(kept.left_out_for(name, lost_at) for name in names)
    return _mount(names) if knew else "wingrest plan"


def _not_recorded(view: View) -> Iterator[Worry]:
    """Yield sessions that are over although what was planned for them is not recorded."""
    waits = {one.specimen.specimen for one in view.waiting}
    for session in sorted(view.sessions.values(), key=lambda s: s.start):
        if not session.minutes or session.end > view.now:
            continue
        placements = view.kept.placements if view.kept else ()
        names = tuple(
            p.specimen for p in placements if p.session == session.session and p.specimen in waits
        )
        if names:
            text = (
                f"{session.session} is over, and nothing was recorded of {_some(names)}. Leave "
                "out what was not mounted with --except, or plan it again"
            )
            at = view.local(session.start)
            command = f"wingrest mount {session.session} --at {at:%Y-%m-%dT%H:%M}"
            yield Worry("not recorded", names, text, command)


def _plan(view: View, boards: Sequence[BoardAnswer]) -> Iterator[Worry]:
    """Yield a worry when the kept plan no longer answers the record."""
    if not view.sessions_ahead or not view.waiting:
        return
    if view.kept is None:
        yield Worry("plan", (), "Nothing is planned yet", "wingrest plan")
        return
    why = [
        *_new_to(view, view.kept),
        *_boards_otherwise(view, view.kept),
        *_stands_otherwise(view, view.kept, boards),
    ]
    if why:
        text = f"Since the plan was made: {'; '.join(why)}"
        yield Worry("plan", (), text, "wingrest plan")


def _new_to(view: View, kept: Kept) -> Iterator[str]:
    names = kept.names
    new = [n for one in view.waiting if (n := one.specimen.specimen) not in names]
    if new:
        yield f"{_some(new)} came"
    starts = kept.sessions
    last = max(starts.values(), default=view.now)
    changed = [
        s.session
        for s in view.sessions_ahead
        if starts.get(s.session, s.start if s.start > last else None) != s.start
    ]
    changed += [p.session for p in kept.placements if _cancelled(view, p.session)]
    if changed:
        yield f"{_some(dict.fromkeys(changed))} changed"


def _cancelled(view: View, session: str) -> bool:
    found = view.sessions.get(session)
    return found is None or not found.minutes


def _boards_otherwise(view: View, kept: Kept) -> Iterator[str]:
    for name in dict.fromkeys(p.board for p in view.planned):
        board, room = view.boards.get(name), view.room_of(name)
        if board is None or board.out:
            yield f"{name} is out of use"
        elif room is not None and room.room != kept.rooms.get(name):
            yield f"{name} stands in {room.room} now"


def _stands_otherwise(view: View, kept: Kept, boards: Sequence[BoardAnswer]) -> Iterator[str]:
    standing = {s.specimen: s for s in kept.standing}
    # Plans count on the dates that are believed, whether they are told or not.
    clears = {one.specimen.specimen: one.dates.clear for one in view.standing()}
    planned = {(p.specimen, p.board, p.from_mm) for p in kept.placements}
    otherwise, longer = [], []
    for s in (s for b in boards for s in b.specimens):
        was = standing.get(s.specimen)
        if was is None:
            if (s.specimen, s.board, s.from_mm) not in planned:
                otherwise.append(s.specimen)
        elif was.clear is not None and (clears[s.specimen] or date.max) > was.clear:
            longer.append(s.specimen)
    if otherwise:
        verb = "stands" if len(otherwise) == 1 else "stand"
        yield f"{_some(otherwise)} {verb} elsewhere than planned"
    if longer:
        yield f"{_some(longer)} dr{'ies' if len(longer) == 1 else 'y'} longer"


def _some(names: Iterable[str]) -> str:
    every = list(names)
    return wording.listed(every) if len(every) <= 4 else f"{', '.join(every[:3])} and others"


def _no_date(boards: Sequence[BoardAnswer], said: Collection[str]) -> Iterator[Worry]:
    """Yield, for every air, what has no date yet in it."""
    airs: dict[str, dict[str, list[str]]] = {}
    for b in boards:
        for s in b.specimens:
            known = s.air and (s.air.regime != "room" or s.air.rh_pct is not None)
            if known and s.due is None and s.specimen not in said:
                airs.setdefault(str(s.air), {}).setdefault(b.board, []).append(s.specimen)
    for air, here in airs.items():
        names = tuple(name for those in here.values() for name in those)
        where = [f"{wording.listed(those)} on {board}" for board, those in here.items()]
        told = "; ".join(where) if len(names) <= MOST_UNDATED else _counted(names, here)
        text = f"{told}: no date yet in this air, {air}"
        yield Worry("no date", names, text, f"wingrest move {next(iter(here))} ROOM")


def _counted(names: Sequence[str], boards: Iterable[str]) -> str:
    return f"{wording.counted(len(names), 'specimen')} on {wording.listed(boards)}"


def _boards_out(view: View, boards: Sequence[BoardAnswer]) -> Iterator[Worry]:
    for b in boards:
        if view.boards[b.board].out and b.specimens:
            text = f"{b.board} is out of use with {_some(s.specimen for s in b.specimens)} on it"
            yield Worry("board out", (b.board,), text, f"wingrest board {b.board} in")
