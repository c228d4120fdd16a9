"""What a session needs on paper: chamber, tests, mounting order, boards afterwards, pins."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING

from scheduler.feed.hands import hands, is_in_hands
from scheduler.looks.air_worries import too_damp_today
from scheduler.view import View
from scheduler.words import names
from scheduler.words.problems import BadInput
from scheduler.words.records import Board, Session, Specimen
from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.planner.problem import Planned


class PaperSlip(NamedTuple):
    """What is written beside one specimen; `test_from` is None when this air gives no date.

    `standing`: it is mounted already.
    """

    specimen: Specimen
    board: Board
    from_mm: int
    to_mm: int
    mounted_on: date
    test_from: date | None
    pin: str
    standing: bool


class SessionDay(NamedTuple):
    """A session; `off` has, by board, what is tested and taken off first.

    `minutes` is the time that testing and mounting take together.
    """

    session: Session
    start: datetime
    into_chamber: tuple[tuple[datetime, datetime, tuple[str, ...]], ...]
    limp: tuple[str, ...]
    off: Mapping[str, tuple[str, ...]]
    mount: tuple[Planned, ...]
    slips: tuple[PaperSlip, ...]
    boards: Mapping[str, tuple[PaperSlip, ...]]
    pins: tuple[tuple[str, int], ...]
    minutes: int


def session_asked(view: View, asked: str | None) -> Session:
    """Return the session that is named; None: the next one for which something is planned.

    Raises BadInput when nothing is planned.
    """
    if asked is not None:
        return names.find(asked, view.sessions, "session")
    ahead = [s for s in view.sessions_ahead if view.planned_at(s.session)]
    if not ahead:
        raise BadInput("nothing is planned. `wingrest plan` plans the sessions ahead")
    return ahead[0]


def session_day(view: View, session: Session) -> SessionDay:
    """Return what a session needs, by the kept plan."""
    mount = view.planned_at(session.session)
    start = view.local(session.start)
    slips = tuple(slip_of(view, p) for p in mount)
    chamber: dict[tuple[datetime, datetime], list[str]] = {}
    for p in mount:
        if p.relax_from is not None and p.out_by is not None:
            chamber.setdefault((view.local(p.relax_from), view.local(p.out_by)), []).append(
                p.specimen
            )
    off = off_first(view, session)
    offs = sum(map(len, off.values())) + _off_later(view, session)
    used = dict.fromkeys([*(p.board for p in mount), *off])
    pins = Counter(s.pin for s in slips)
    return SessionDay(
        session,
        start,
        tuple((since, out, tuple(those)) for (since, out), those in sorted(chamber.items())),
        tuple(p.specimen for p in mount if p.relax_from is None),
        off,
        mount,
        slips,
        {board: board_then(view, board, slips, off.get(board, ())) for board in used},
        tuple(sorted(pins.items())),
        sum(p.minutes for p in mount) + view.rules.take_off_min * offs,
    )


def slip_of(view: View, planned: Planned) -> PaperSlip:
    """Return the slip of what is planned."""
    specimen = view.specimens[planned.specimen]
    on = view.local(planned.mount_at).date()
    return PaperSlip(
        specimen, view.boards[planned.board], planned.from_mm, planned.to_mm, on, planned.due,
        _pin(view, specimen), standing=False,
    )  # fmt: skip


def standing_slips(view: View, board: str | None = None) -> tuple[PaperSlip, ...]:
    """Return the slips of what stands on a board, None: on every board."""
    return tuple(
        PaperSlip(
            one.specimen, one.board, one.placement.from_mm, one.placement.to_mm,
            one.placement.mounted_on, one.told(view.now.date()).due,
            _pin(view, one.specimen), standing=True,
        )
        for one in view.standing(board)
    )  # fmt: skip


def board_then(
    view: View, board: str, planned: Iterable[PaperSlip], off: Iterable[str] = ()
) -> tuple[PaperSlip, ...]:
    """Return what lies on a board after the mounting, from left to right."""
    gone = set(off)
    stays = [s for s in standing_slips(view, board) if s.specimen.specimen not in gone]
    comes = [s for s in planned if s.board.board == board]
    return tuple(sorted([*stays, *comes], key=lambda s: s.from_mm))


def _pin(view: View, specimen: Specimen) -> str:
    size = view.size(specimen)
    return "?" if size is None else view.rules.pin(size.body_mm).pin


def off_first(view: View, session: Session) -> dict[str, tuple[str, ...]]:
    """Return, by board, what stands now and must be off by a session, by plan or to make room.

    Only boards that are in nobody else's hands then count. What stays today is left out: the air
    may have been read after the plan was made.
    """
    dealt = hands(view, session)
    wanted = _off_by(view, session)
    if view.local(session.start).date() == view.now.date():
        wanted -= stays_today(view, wanted)
    found: dict[str, list[str]] = {}
    for one in view.standing():
        if one.specimen.specimen in wanted and is_in_hands(one.board.board, session, dealt):
            found.setdefault(one.board.board, []).append(one.specimen.specimen)
    return {board: tuple(those) for board, those in found.items()}


def stays_today(view: View, names: Iterable[str]) -> frozenset[str]:
    """Return which of the named stay on their boards today.

    They are not due, or the air is known to be too damp.
    """
    answers = (view.answer_of(one) for one in map(view.on_board, names) if one is not None)
    return frozenset(
        s.specimen
        for s in answers
        if s.answer in ("not yet", "cannot say") or too_damp_today(view, s)
    )


def _off_by(view: View, session: Session) -> set[str]:
    """Return what the plan has off by a session, without what an earlier session takes off."""
    room = {name for p in view.planned_at(session.session) for name in p.after}
    if view.kept is None:
        return room
    before = {s.session for s in view.sessions_ahead if s.start < session.start}
    off = view.kept.plan.off
    return {n for n in room | view.kept.off_by(session.start) if off.get(n) not in before}


def _off_later(view: View, session: Session) -> int:
    """Return how many come off at a session that are mounted only before it."""
    if view.kept is None:
        return 0
    mounted = {p.specimen for p in view.planned}
    return sum(at == session.session and n in mounted for n, at in view.kept.plan.off.items())


class InBox(NamedTuple):
    """The specimens that lie in one box of the freezer."""

    box: str
    specimens: tuple[str, ...]


def in_boxes(view: View, specimens: Iterable[str]) -> tuple[InBox, ...]:
    """Return where to find specimens whose box is known, by box."""
    found: dict[str, list[str]] = {}
    for name in specimens:
        if box := view.specimens[name].box:
            found.setdefault(box, []).append(name)
    boxes = sorted(found, key=names.natural_order)
    return tuple(InBox(box, tuple(found[box])) for box in boxes)


class Pull(NamedTuple):
    """One specimen to take out of its box for the chamber, and the session for which it is."""

    box: str
    specimen: Specimen
    session: str
    since: datetime


def pull_list(view: View, session: str | None = None) -> tuple[Pull, ...]:
    """Return what to take out of the freezer, by box: for a session, or the next chamber evening.

    What is in the chamber already is left out.
    """
    inside = {s.specimen for s in view.facts.in_chamber()}
    wanted = [p for p in view.planned if p.relax_from is not None and p.specimen not in inside]
    if session is not None:
        wanted = [p for p in wanted if p.session == session]
    elif wanted:
        today = view.now.date()
        days = {p.specimen: max(today, view.local(_relax(p)).date()) for p in wanted}
        first = min(days.values())
        wanted = [p for p in wanted if days[p.specimen] == first]
    found = []
    for p in wanted:
        specimen = view.specimens[p.specimen]
        found.append(Pull(specimen.box or "", specimen, p.session, view.local(_relax(p))))
    return tuple(sorted(found, key=_by_box))


def _by_box(one: Pull) -> tuple[bool, object, object]:
    ids = names.natural_order(one.specimen.specimen)
    return one.box == "", names.natural_order(one.box), ids


def _relax(planned: Planned) -> datetime:
    assert planned.relax_from is not None
    return planned.relax_from
