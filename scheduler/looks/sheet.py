"""A session on one sheet: chamber, what comes off first, what goes where. Facts, no wording."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from scheduler.air.latest import Air
from scheduler.feed.hands import at_once, hands, is_in_hands
from scheduler.looks.planning import Planning
from scheduler.looks.session_day import InBox, in_boxes
from scheduler.planner.plan_json import JsonObject, plan_to_json
from scheduler.planner.problem import Planned, PlanSession
from scheduler.view import View
from scheduler.words.names import natural_order
from scheduler.words.records import Basis
from scheduler.words.tuples import NamedTuple


class IntoChamber(NamedTuple):
    """What goes into the chamber at `since` (local) and must be out by `out_by`, by id.

    `inside` are those that are in it already; `boxes` say where the others lie, if that is known.
    """

    since: datetime
    out_by: datetime
    specimens: tuple[str, ...]
    inside: frozenset[str]
    boxes: tuple[InBox, ...] = ()


class FirstOff(NamedTuple):
    """What is tested and taken off first; `needed`: a specimen of this session takes its slot."""

    specimen: str
    board: str
    from_mm: int
    to_mm: int
    needed: bool


class AsWell(NamedTuple):
    """What stands on a board and may come off too, by id; the plan has it later or never."""

    board: str
    specimens: tuple[str, ...]


class ToMount(NamedTuple):
    """One specimen to mount, with `minutes` of work; `mounted_on` and `due` go on its strip.

    `pack`: the groove is so wide that it must be packed. `estimated`: how its size was estimated,
    empty when it was measured.
    """

    specimen: str
    board: str
    from_mm: int
    to_mm: int
    pin: str
    minutes: int
    mounted_on: date
    due: date | None
    clear: date | None
    taxon: str
    pack: bool
    estimated: str


class DaysBy(NamedTuple):
    """The days on the board of specimens that are alike, and their rules; None: no time."""

    specimens: tuple[str, ...]
    min_days: int | None
    plan_days: int | None
    rule_ids: tuple[str, ...]
    basis: Basis | None


@dataclass(frozen=True, slots=True)
class SessionSheet:
    """All that must be done for a session and at it, in the order in which to do it.

    `limp` need no chamber. `as_well` may come off if minutes are left. `take_off_min` is the time
    that each of `first` takes. `damp` are boards of `first` in air that, as known now, is above
    `take_off_rh_pct`. `warm`: something goes onto a board in a warm cabinet. `who` is None for
    anybody's session. `asked_on` is the local date of the question.
    """

    session: str
    who: str | None
    start: datetime
    minutes: int
    minutes_used: int
    chamber: tuple[IntoChamber, ...]
    limp: tuple[str, ...]
    first: tuple[FirstOff, ...]
    as_well: tuple[AsWell, ...]
    take_off_min: int
    damp: tuple[tuple[str, Air], ...]
    take_off_rh_pct: float
    mount: tuple[ToMount, ...]
    days: tuple[DaysBy, ...]
    warm: bool
    asked_on: date


def session_sheet(made: Planning, session: PlanSession) -> SessionSheet:
    """Return the sheet of one session of a plan."""
    placements = [p for p in made.plan.placements if p.session == session.session]
    needed = {name for p in placements for name in p.after}
    first = tuple(
        FirstOff(
            off["specimen"], off["board"], off["from_mm"], off["to_mm"], off["specimen"] in needed
        )
        for off in _taken_off(made, session)
    )
    take_off_min = made.problem.take_off_min
    rooms = {b.board: made.view.rooms[b.room] for b in made.problem.boards}
    return SessionSheet(
        session=session.session,
        who=made.view.sessions[session.session].who,
        start=session.start,
        minutes=session.minutes,
        minutes_used=sum(p.minutes for p in placements) + take_off_min * len(first),
        chamber=_into_chamber(placements, made.view),
        limp=tuple(p.specimen for p in placements if p.relax_from is None),
        first=first,
        as_well=_as_well(made, session),
        take_off_min=take_off_min,
        damp=tuple(_damp((off.board for off in first), made.view)),
        take_off_rh_pct=made.view.rules.limit("take_off_rh_pct"),
        mount=_to_mount(placements, made),
        days=_days_by(placements),
        warm=any(rooms[p.board].regime == "warm" for p in placements),
        asked_on=made.view.now.date(),
    )


def _taken_off(made: Planning, session: PlanSession) -> list[JsonObject]:
    """Return what comes off at a session; of several at one time each has its own boards."""
    mine = made.view.sessions[session.session]
    beside, dealt = at_once(made.view, mine), hands(made.view, mine)
    names = {s.session for s in beside} | {session.session}
    return [
        off
        for one in plan_to_json(made.problem, made.plan)["sessions"]
        if one["session"] in names
        for off in one["test_first"]
        if is_in_hands(off["board"], mine, dealt)
    ]


def _as_well(made: Planning, session: PlanSession) -> tuple[AsWell, ...]:
    """Return what stands and is free by a session, but is planned to come off later than at it."""
    mine = made.view.sessions[session.session]
    dealt, start = hands(made.view, mine), {s.session: s.start for s in made.problem.sessions}
    boards: dict[str, list[str]] = {}
    for s in made.problem.standing:
        free = s.free_on is not None and s.free_on <= session.on
        off = made.plan.off.get(s.specimen)
        if free and is_in_hands(s.board, mine, dealt) and (not off or start[off] > session.start):
            boards.setdefault(s.board, []).append(s.specimen)
    return tuple(AsWell(board, tuple(names)) for board, names in boards.items())


def _into_chamber(placements: Sequence[Planned], view: View) -> tuple[IntoChamber, ...]:
    groups: dict[tuple[datetime, datetime], list[str]] = {}
    for p in placements:
        if p.relax_from is not None and p.out_by is not None:
            groups.setdefault((p.relax_from, p.out_by), []).append(p.specimen)
    inside = {s.specimen for s in view.facts.in_chamber()}
    return tuple(
        IntoChamber(
            view.local(since),
            view.local(out_by),
            tuple(sorted(those, key=natural_order)),
            frozenset(those) & inside,
            in_boxes(view, sorted(set(those) - inside, key=natural_order)),
        )
        for (since, out_by), those in sorted(groups.items())
    )


def _damp(boards: Iterable[str], view: View) -> list[tuple[str, Air]]:
    """Return the boards whose air, as it is known now, is too damp to take anything off."""
    limit = view.rules.limit("take_off_rh_pct")
    found = []
    for board in dict.fromkeys(boards):
        room = view.room_of(board)
        air = room and view.air_now(room)
        if air and air.damper_than(limit):
            found.append((board, air))
    return found


def _to_mount(placements: Sequence[Planned], made: Planning) -> tuple[ToMount, ...]:
    waiting = {w.specimen: w for w in made.problem.waiting}
    return tuple(
        ToMount(
            specimen=p.specimen,
            board=p.board,
            from_mm=p.from_mm,
            to_mm=p.to_mm,
            pin=made.view.rules.pin(waiting[p.specimen].body_mm).pin,
            minutes=p.minutes,
            mounted_on=made.view.local(p.mount_at).date(),
            due=p.due,
            clear=p.clear,
            taxon=made.view.specimens[p.specimen].taxon or "",
            pack=p.board in waiting[p.specimen].pack,
            estimated=waiting[p.specimen].estimated,
        )
        for p in placements
    )


def _days_by(placements: Sequence[Planned]) -> tuple[DaysBy, ...]:
    groups: dict[DaysBy, list[str]] = {}
    for p in placements:
        alike = DaysBy((), p.min_days, p.plan_days, p.rule_ids, p.basis)
        groups.setdefault(alike, []).append(p.specimen)
    return tuple(alike._replace(specimens=tuple(names)) for alike, names in groups.items())
