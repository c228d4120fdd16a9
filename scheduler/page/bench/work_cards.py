"""The tasks at the bench now, a card for each, in the order of the work. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from scheduler.looks.today import PutIn, Step, Today
from scheduler.view import View

CardKind = Literal["test", "off", "mount", "in"]
_BY_ANSWER: dict[str, CardKind] = {"test it now": "test", "take off": "off"}

BEHIND, AHEAD = 2, 8
"""How many cards before and after the one on top are in the page: these turn without reception."""


class WorkCard(NamedTuple):
    """One task; `at` is the id by which it is found again, even after it was tested stiff."""

    kind: CardKind
    at: str
    board: str = ""
    session: str = ""
    step: Step | None = None
    put_in: PutIn | None = None

    @property
    def specimen(self) -> str:
        """Return its specimen; of several that go into the chamber, the first."""
        return self.put_in.specimens[0] if self.put_in else self.at


class Turned(NamedTuple):
    """The cards that are in a page, from number `first` of `all` on.

    `at` is the number of the one on top, from 0; it is `all` after the last one. `gone` names the
    card that was asked for, where it is done or no longer for today.
    """

    cards: tuple[WorkCard, ...]
    first: int
    at: int
    all: int
    gone: str


def work_cards(view: View, day: Today) -> tuple[WorkCard, ...]:
    """Return the cards of a day: tests and what comes off, then mounting, then the chamber.

    The board with the stoutest body comes first; what was tested stiff stays where its test was.
    """
    boards = {d.board for d in day.test} | {o.board for o in day.off}
    tests = [
        (s.body_mm, board, s.specimen, _BY_ANSWER[s.answer])
        for board in boards
        for s in view.answer(board).specimens
        if s.answer in _BY_ANSWER
    ]
    stoutest: dict[str, float] = {}
    for body_mm, board, *_ in tests:
        stoutest[board] = max(body_mm, stoutest.get(board, 0.0))
    tests.sort(key=lambda t: (-stoutest[t[1]], t[1], -t[0], t[2]))
    return (
        *(WorkCard(kind, specimen, board) for _, board, specimen, kind in tests),
        *(
            WorkCard("mount", step.specimen, step.board, bench.session, step)
            for bench in day.benches
            for step in bench.mount
        ),
        *(
            WorkCard("in", f"in {p.specimens[0]}", session=p.session, put_in=p)
            for p in _into_chamber(day)
        ),
    )


def how_many_cards(day: Today) -> int:
    """Return how many cards a day has."""
    on_boards = sum(len(d.specimens) for d in day.test) + sum(len(o.specimens) for o in day.off)
    return on_boards + sum(len(b.mount) for b in day.benches) + len(_into_chamber(day))


def _into_chamber(day: Today) -> list[PutIn]:
    return [p for p in day.put_in if p.by.date() <= day.at.date() and not p.late]


def turned_to(cards: Sequence[WorkCard], at: str, then: str, over: bool = False) -> Turned:
    """Return the cards around `at`; where that is gone, around `then`, else around the first.

    `over` asks for the place after the last card.
    """
    where = {card.at: number for number, card in enumerate(cards)}
    here = len(cards) if over else where.get(at, where.get(then, 0))
    gone = at.removeprefix("in ") if at and at not in where else ""
    first = max(0, here - BEHIND)
    return Turned(tuple(cards[first : here + AHEAD + 1]), first, here, len(cards), gone)
