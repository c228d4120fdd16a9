"""What a day at the bench asks for, as data: from the record, the kept plan, rules and now.

Pure. Every entry carries the command that records it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING

from scheduler.drying import answer as answers
from scheduler.drying.softening import hours_after
from scheduler.feed.cold import for_the_cold
from scheduler.feed.hands import at_once, hands, is_in_hands
from scheduler.looks.felt_ahead import felt_for_a_session
from scheduler.looks.session_day import InBox, in_boxes, off_first, stays_today
from scheduler.looks.worries import worries
from scheduler.looks.worry import Worry
from scheduler.view import View
from scheduler.words.names import natural_order
from scheduler.words.people import may_work_at
from scheduler.words.records import Place, Session
from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.learning.probe import Probe

_TESTABLE: answers.Answer = "test it now"


class Due(NamedTuple):
    """A board and its specimens that are due, the stoutest first; `rest` is not due yet."""

    board: str
    specimens: tuple[str, ...]
    rest: tuple[str, ...]
    body_mm: float
    command: str

    @property
    def look(self) -> bool:
        """Say whether somebody must read a dial before anything comes off."""
        return self.command.startswith("wingrest air")


class Off(NamedTuple):
    """What comes off a board: tested stiff, or planned to come off at a session."""

    board: str
    specimens: tuple[str, ...]
    command: str


class PutIn(NamedTuple):
    """What is planned to go into the chamber by the moment `by`.

    If it goes in after `latest`, it is not soft in time for its session; `late`: that moment has
    passed. `boxes` say where in the freezer it lies, if that is known.
    """

    specimens: tuple[str, ...]
    session: str
    by: datetime
    latest: datetime
    late: bool
    command: str
    boxes: tuple[InBox, ...] = ()


class PutAway(NamedTuple):
    """What keeps in the cold until a session can take it: into `place`, by a moment."""

    specimens: tuple[str, ...]
    place: Place
    by: datetime
    command: str


class TakeOut(NamedTuple):
    """What is in the chamber: look at it from `look_at` on; it must be out by `out_by`.

    `session` is the one for which it is planned, None when there is none before `out_by`.
    """

    specimens: tuple[str, ...]
    since: datetime
    look_at: datetime
    out_by: datetime
    overdue: bool
    session: str | None
    command: str


class Step(NamedTuple):
    """One specimen to mount; those in `after` must come off its slot first.

    `limp`: it needs no chamber.
    """

    specimen: str
    board: str
    from_mm: int
    to_mm: int
    minutes: int
    after: tuple[str, ...]
    limp: bool


class Bench(NamedTuple):
    """A session: what comes off first, then what is mounted, in the plan's order.

    `who` is None for anybody's session. `held` are planned for it too, but what stands on their
    slots stays today.
    """

    session: str
    start: datetime
    minutes: int
    who: str | None
    off: tuple[Off, ...]
    mount: tuple[Step, ...]
    command: str
    held: tuple[str, ...] = ()


class NextDue(NamedTuple):
    """The next date on which something is due, and the boards on which it is."""

    due: date
    boards: tuple[str, ...]


class Today(NamedTuple):
    """One day at the bench; every moment is local.

    `wait` is due or tested stiff, but nothing may come off: the air is too damp, or must be read
    first. `benches` are today's next session and those at the same time; `next_bench` is the next
    later one for which something is planned. `who`: the person for whom alone it is, None:
    everybody.
    """

    at: datetime
    who: str | None
    test: tuple[Due, ...]
    wait: tuple[Due, ...]
    off: tuple[Off, ...]
    put_in: tuple[PutIn, ...]
    put_away: tuple[PutAway, ...]
    take_out: tuple[TakeOut, ...]
    benches: tuple[Bench, ...]
    next_bench: Bench | None
    next_due: NextDue | None
    worries: tuple[Worry, ...]
    probes: tuple[Probe, ...] = ()

    @property
    def bench(self) -> Bench | None:
        """Return today's next session, the first of those at the same time; None without one."""
        return self.benches[0] if self.benches else None

    @property
    def waits(self) -> bool:
        """Say whether anything on a board or in the chamber waits to be done."""
        return bool(self.test or self.wait or self.off or self.take_out)


def today(view: View, who: str | None = None, worried: bool = True) -> Today:
    """Return what the day asks of everybody or of one person; `worried`: with all worries."""
    day, there = view.now.date(), {one.board.board for one in view.standing()}
    boards = [view.answer(b) for b in sorted(there, key=natural_order)]
    mine = [s for s in view.sessions_ahead if may_work_at(s, who)]
    now = next((s for s in mine if view.local(s.start).date() <= day), None)
    dealt = hands(view, now) if now is not None and who is not None else {}
    boards_of = [b for b in boards if now is None or is_in_hands(b.board, now, dealt)]
    at_now = at_once(view, now) if now is not None else ()
    benches = [_bench(view, s) for s in at_now if s in mine]
    later = (_bench(view, s) for s in mine if view.local(s.start).date() > day)
    return Today(
        at=view.now,
        who=who,
        test=_due(boards_of, _TESTABLE),
        wait=_due(boards_of, "dry, but not today"),
        off=_off(boards_of),
        put_in=tuple(p for p in _put_in(view) if may_work_at(view.sessions[p.session], who)),
        put_away=_put_away(view),
        take_out=tuple(
            t
            for t in _take_out(view, {b.session: b.command for b in benches})
            if t.session is None or may_work_at(view.sessions[t.session], who)
        ),
        benches=tuple(benches),
        next_bench=next((b for b in later if b.mount), None),
        next_due=_next_due(boards, day),
        worries=worries(view, boards) if worried else (),
        probes=(*felt_for_a_session(view, mine, boards_of), *_probes(view, boards_of)),
    )


def _probes(view: View, boards: Sequence[answers.BoardAnswer]) -> tuple[Probe, ...]:
    """Return what is worth feeling early, on boards on which something is tested anyway."""
    tested = [b.board for b in boards if any(s.answer == _TESTABLE for s in b.specimens)]
    if not tested or view.lessons is None:
        return ()
    from scheduler.learning.probes import probes  # most records have no lessons

    return probes(view.lessons, view.standing(), tested, view.now)


def _due(boards: Sequence[answers.BoardAnswer], which: answers.Answer) -> tuple[Due, ...]:
    found = []
    for b in boards:
        due = [s for s in b.specimens if s.answer == which]
        if due:
            rest = tuple(s.specimen for s in b.specimens if s.answer == "not yet")
            names = tuple(s.specimen for s in due)
            found.append(Due(b.board, names, rest, due[0].body_mm, _doing(due[0], b.board)))
    return tuple(sorted(found, key=lambda t: (-t.body_mm, natural_order(t.board))))


def _doing(s: answers.SpecimenAnswer, board: str) -> str:
    """Return the command that comes next: a test, a look at a dial, or a drier room."""
    if s.answer == _TESTABLE:
        return f"wingrest test {board} stiff"
    if s.air is not None and s.air.unread:
        return f"wingrest air {s.air.room} RH"
    return f"wingrest move {board} ROOM"


def _off(boards: Sequence[answers.BoardAnswer]) -> tuple[Off, ...]:
    found = []
    for b in boards:
        stiff = tuple(s.specimen for s in b.specimens if s.answer == "take off")
        if stiff:
            found.append(Off(b.board, stiff, f"wingrest release {' '.join(stiff)}"))
    return tuple(found)


def _next_due(boards: Sequence[answers.BoardAnswer], day: date) -> NextDue | None:
    coming = [(s.due, b.board) for b in boards for s in b.specimens if s.due and s.due > day]
    if not coming:
        return None
    first = min(due for due, _ in coming)
    return NextDue(first, tuple(dict.fromkeys(board for due, board in coming if due == first)))


def _put_in(view: View) -> tuple[PutIn, ...]:
    """Return what is planned to go into the chamber, the earliest first."""
    groups: dict[tuple[datetime, str], list[tuple[str, datetime]]] = {}
    for p in view.planned:
        one = view.waits(view.specimens[p.specimen])
        if p.relax_from is None or one.softening.since or not one.softening.chamber:
            continue
        latest = view.local(hours_after(p.mount_at, -one.first_look_hours(p.mount_at)))
        key = (view.local(p.relax_from), p.session)
        groups.setdefault(key, []).append((p.specimen, latest))
    found = []
    for (by, session), members in sorted(groups.items()):
        names = tuple(sorted((name for name, _ in members), key=natural_order))
        latest = min(moment for _, moment in members)
        command = f"wingrest relax {' '.join(names)}"
        late, boxes = latest < view.now, in_boxes(view, names)
        found.append(PutIn(names, session, by, latest, late, command, boxes))
    return tuple(found)


def _put_away(view: View) -> tuple[PutAway, ...]:
    """Return what would spoil before its session and keeps in the cold; the most urgent first."""
    return tuple(
        PutAway(c.specimens, c.place, c.by, f"wingrest putback {' '.join(c.specimens)} {c.place}")
        for c in for_the_cold(view)
    )


def _take_out(view: View, now: Mapping[str, str]) -> tuple[TakeOut, ...]:
    """Return what is in the chamber, the most urgent first; `now`: the commands of sessions."""
    groups: dict[tuple[datetime, datetime, datetime, str], list[str]] = {}
    for stay in view.facts.in_chamber():
        soft = view.waits(view.specimens[stay.specimen]).softening
        since = view.local(stay.since)
        out_by = soft.clock.lost_at if soft.clock else hours_after(since, soft.most_hours)
        planned = view.planned_for(stay.specimen)
        session = planned.session if planned and planned.mount_at <= out_by else ""
        key = (view.local(out_by), since, soft.soft_at(since), session)
        groups.setdefault(key, []).append(stay.specimen)
    found = []
    for (out_by, since, look_at, session), members in sorted(groups.items()):
        names = tuple(sorted(members, key=natural_order))
        kept = f"wingrest putback {' '.join(names)} fridge"
        command = now.get(session, f"wingrest mount {session}") if session else kept
        late = out_by < view.now
        found.append(TakeOut(names, since, look_at, out_by, late, session or None, command))
    return tuple(found)


def _bench(view: View, session: Session) -> Bench:
    standing = {p.specimen for p in view.facts.standing()}
    steps = tuple(
        Step(
            p.specimen,
            p.board,
            p.from_mm,
            p.to_mm,
            p.minutes,
            tuple(name for name in p.after if name in standing),
            p.relax_from is None,
        )
        for p in view.planned_at(session.session)
    )
    start = view.local(session.start)
    after = {name for s in steps for name in s.after} if start.date() == view.now.date() else ()
    stays = stays_today(view, after)
    held = tuple(s.specimen for s in steps if not stays.isdisjoint(s.after))
    steps = tuple(s for s in steps if s.specimen not in held)
    command = " --except ".join((f"wingrest mount {session.session}", *held))
    off = tuple(
        Off(board, tuple(names), f"wingrest release {' '.join(names)}")
        for board, names in off_first(view, session).items()
    )
    return Bench(session.session, start, session.minutes, session.who, off, steps, command, held)
