"""Choose which of many boards to show: by room, groove or name, a handful at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from scheduler.looks.today import Due, Off, Today
from scheduler.view import View
from scheduler.words.names import natural_order

SHOWN_MOST = 8
"""The most entries of boards shown at once; a longer page takes long, and nobody reads it."""
FEW_BOARDS = 12
"""Up to so many boards are all shown, without a search."""


class Sift(NamedTuple):
    """What is looked for; empty texts mean all. `begin` is how many were shown before."""

    room: str = ""
    groove: str = ""
    name: str = ""
    begin: int = 0

    def asked(self, **other: object) -> dict[str, object]:
        """Return it as the parameters of an address, with `other` values in place of its own."""
        return {k: v for k, v in (self._asdict() | other).items() if v}

    def fits(self, view: View, board: str, specimens: Sequence[str] = ()) -> bool:
        """Say whether a board is looked for, by its room, groove, name or these specimens."""
        here = view.room_of(board) if self.room else None
        if self.room and (here is None or here.room != self.room):
            return False
        if self.groove and f"{view.boards[board].groove_mm:g}" != self.groove:
            return False
        sought = self.name.casefold()
        return not sought or any(sought in n.casefold() for n in (board, *specimens))


class SiftChoices(NamedTuple):
    """The rooms and grooves that can be chosen."""

    rooms: tuple[str, ...]
    grooves: tuple[str, ...]


class Sifted(NamedTuple):
    """The entries of a day that are shown; `all` fit the search, `end` were shown up to here."""

    test: tuple[Due, ...]
    off: tuple[Off, ...]
    wait: tuple[Due, ...]
    all: int
    end: int

    @property
    def boards(self) -> frozenset[str]:
        """Return the boards that are drawn."""
        due = {entry.board for entry in (*self.test, *self.wait)}
        return frozenset(due | {entry.board for entry in self.off})


def sift_of(asked: Mapping[str, str]) -> Sift:
    """Return the search that an address asks for."""
    begin = asked.get("begin", "")
    number = int(begin) if begin.isascii() and begin.isdecimal() and len(begin) < 7 else 0
    room, groove, name = (asked.get(k, "").strip()[:100] for k in ("room", "groove", "name"))
    return Sift(room, groove, name, number)


def sift_choices(view: View) -> SiftChoices | None:
    """Return the rooms and grooves that can be chosen, None where there are few boards."""
    if len(view.boards) <= FEW_BOARDS:
        return None
    grooves = sorted({b.groove_mm for b in view.boards.values()})
    return SiftChoices(tuple(sorted(view.rooms)), tuple(f"{g:g}" for g in grooves))


def sifted(view: View, day: Today, sift: Sift) -> Sifted:
    """Return what is shown of a day: tests first, then what comes off, then what must wait."""
    found: list[tuple[str, Due | Off]] = [
        (kind, entry)
        for kind, entries in (("test", day.test), ("off", day.off), ("wait", day.wait))
        for entry in entries
        if sift.fits(view, entry.board, entry.specimens)
    ]
    most = SHOWN_MOST if len(view.boards) > FEW_BOARDS else len(found)
    shown = found[sift.begin : sift.begin + most]
    return Sifted(
        tuple(e for kind, e in shown if kind == "test" and isinstance(e, Due)),
        tuple(e for kind, e in shown if kind == "off" and isinstance(e, Off)),
        tuple(e for kind, e in shown if kind == "wait" and isinstance(e, Due)),
        len(found),
        sift.begin + len(shown),
    )


class SiftedBoards(NamedTuple):
    """The boards that are shown; `all` fit the search, `end` were shown up to here."""

    boards: frozenset[str]
    all: int
    end: int


def sifted_boards(view: View, sift: Sift, most: int) -> SiftedBoards:
    """Return at most `most` of the boards that are looked for, the narrowest groove first."""
    every = sorted(view.boards.values(), key=lambda b: (b.groove_mm, natural_order(b.board)))
    found = [b.board for b in every if sift.fits(view, b.board, _standing(view, b.board, sift))]
    shown = found[sift.begin : sift.begin + (most if len(every) > FEW_BOARDS else len(every))]
    return SiftedBoards(frozenset(shown), len(found), sift.begin + len(shown))


def _standing(view: View, board: str, sift: Sift) -> Sequence[str]:
    return [s.specimen for s in view.answer(board).specimens] if sift.name else ()
