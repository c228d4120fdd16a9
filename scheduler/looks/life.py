"""A specimen's life: where it is, since when, what is next and why. Data, with little wording."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import TYPE_CHECKING, Literal, TypeVar

from scheduler.drying.answer import SpecimenAnswer
from scheduler.drying.bags import Bag, bags_of
from scheduler.drying.evidence import Evidence
from scheduler.record.told_then import ToldDates
from scheduler.rulebook.rulings import rows_said, under_ruling
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.label import missing
from scheduler.words.names import natural_order
from scheduler.words.records import Afterwards, DoneWith, Keeping, Photo, Placement, Specimen

if TYPE_CHECKING:
    from scheduler.planner.problem import Planned

_Of = TypeVar("_Of", Afterwards, Photo)

Stage = Literal["waits", "in the chamber", "on a board", "off", "handed over", "lost"]


@dataclass(frozen=True)
class Life:
    """One specimen as it is now.

    `placement` is its last one; `gone` says how it was lost, None when it was not.
    """

    view: View
    specimen: Specimen
    placement: Placement | None
    afterwards: tuple[Afterwards, ...]
    photos: tuple[Photo, ...]
    gone: str | None

    @cached_property
    def stage(self) -> Stage:
        """Return how far it has come."""
        if self.gone is not None:
            return "lost"
        if self.placement is not None:
            if self.placement.released_at is None:
                return "on a board"
            return "handed over" if self.done("handed over") else "off"
        return "in the chamber" if self._chamber_since else "waits"

    def done(self, step: DoneWith) -> Afterwards | None:
        """Return what was recorded when a step was last taken with it, None when never."""
        return next((a for a in reversed(self.afterwards) if a.step == step), None)

    @property
    def _chamber_since(self) -> datetime | None:
        return self.view.facts.chamber_since(self.specimen.specimen)

    @cached_property
    def since(self) -> datetime | date | None:
        """Return since when it is where it is, None when nobody said."""
        if self.placement is not None:
            off = self.placement.released_at
            if self.stage == "handed over" and (given := self.done("handed over")):
                return self.view.local(given.at)
            return self.view.local(off or self.placement.mounted_at)
        if self.stage == "in the chamber" and self._chamber_since:
            return self.view.local(self._chamber_since)
        kept = self._kept
        return self.view.local(kept.since) if kept else self.specimen.frozen_on

    @cached_property
    def place(self) -> str:
        """Return where it is, in words."""
        p, s = self.placement, self.specimen
        if self.stage == "lost":
            return f"lost: {self.gone}"
        if self.stage == "on a board" and p is not None:
            room = self.view.room_of(p.board)
            about = "about " if p.estimated else ""
            where = f"on {p.board} at {about}{p.from_mm}-{p.to_mm} mm"
            return where + (f", in {room.room}" if room else "")
        if self.stage == "handed over" and (given := self.done("handed over")):
            return f"handed over to {given.whom}"
        if self.stage == "off" and p is not None:
            bag = self.bag
            return f"off {p.board}" + (
                ", bagged and in the freezer" if bag and bag.shut(self.view.now) else ""
            )
        if self.stage == "in the chamber":
            return "in the relaxing chamber"
        box = s.box and (s.box if s.box[0].isalpha() else f"box {s.box}")
        return ", ".join(filter(None, (f"waits, {s.state}", box, self.lies)))

    @cached_property
    def _kept(self) -> Keeping | None:
        return next(reversed(self.view.facts.keeping_of(self.specimen.specimen)), None)

    @property
    def lies(self) -> str:
        """Return where a waiting specimen is kept, "" when nobody said."""
        kept = self._kept
        if kept is not None:
            return "out of the cold" if kept.place == "thawed" else f"in the {kept.place}"
        return "in the freezer" if self.specimen.state == "frozen" else ""

    @property
    def still_to_do(self) -> tuple[str, ...]:
        """Return what must still be done with one that is off its board, in a word or two each."""
        steps = (
            ("say where, when, who", bool(self.missing)),
            ("label", self.done("labelled") is None),
            ("bag", self.bag is None),
        )
        return tuple(step for step, open_ in steps if open_) or ("drawer",)

    @cached_property
    def days_frozen(self) -> int | None:
        """Return for how many days it has been frozen; None if it does not wait or nobody knows."""
        if self.stage != "waits" or self.specimen.frozen_on is None:
            return None
        return (self.view.now.date() - self.specimen.frozen_on).days

    @cached_property
    def planned(self) -> Planned | None:
        """Return where it is planned, None when nowhere."""
        return self.view.planned_for(self.specimen.specimen)

    @cached_property
    def why_not(self) -> str | None:
        """Return why it is not planned; None when it is planned or does not wait."""
        if self.planned is not None or self.stage not in ("waits", "in the chamber"):
            return None
        kept = self.view.kept
        if kept is None:
            return "no plan was made yet"
        return kept.reasons.get(self.specimen.specimen, "it came after the last plan")

    @cached_property
    def answer(self) -> SpecimenAnswer | None:
        """Return whether it may come off; None when it stands on no board."""
        one = self.view.on_board(self.specimen.specimen)
        return self.view.answer_of(one) if one else None

    @cached_property
    def told(self) -> ToldDates | None:
        """Return what was told at its last mounting, None when that is not known."""
        return None if self.placement is None else self.view.told.of(self.placement.id)

    @property
    def told_otherwise(self) -> bool:
        """Say whether other dates were told than those that hold now."""
        told, a = self.told, self.answer
        return told is not None and a is not None and (told.due, told.clear) != (a.due, a.clear)

    @property
    def ruled_then(self) -> tuple[str, ...]:
        """Return in words what the rules of its last mounting said, as far as these are kept."""
        if self.told is None or self.placement is None:
            return ()
        book = under_ruling(self.view.rules, self.view.told.tables(self.told.ruling))
        return rows_said(book, self.placement.rule_ids)

    @cached_property
    def evidence(self) -> Evidence | None:
        """Return what its dates rest on; None when it stands on no board."""
        one = self.view.on_board(self.specimen.specimen)
        return self.view.evidence(one) if one else None

    @cached_property
    def missing(self) -> tuple[str, ...]:
        """Return what its label lacks of locality, date and collector."""
        return missing(self.specimen.label)

    @cached_property
    def bag(self) -> Bag | None:
        """Return the bag in which it was frozen before the cabinet, None without one."""
        bagged = self.done("bagged")
        return bags_of([bagged], self.view.rules, self.view.zone)[0] if bagged else None

    @property
    def next_step(self) -> str:
        """Return what must be done next, and why."""
        if self.stage in ("lost", "handed over"):
            return "nothing"
        if self.stage == "on a board":
            return _next_on_board(self)
        if self.stage == "off":
            return _next_off(self)
        return _next_waiting(self)


def bags(view: View) -> tuple[Bag, ...]:
    """Return every bag that was ever put into the freezer, the earliest first."""
    return bags_of(view.facts.afterwards, view.rules, view.zone)


def _next_on_board(life: Life) -> str:
    a, today = life.answer, life.view.now.date()
    assert a is not None
    if a.answer == "not yet":
        return f"test from {wording.day(a.due, today)}: {_days_said(a)}" if a.due else "wait"
    if a.answer == "cannot say":
        return f"cannot say: {a.note or 'this air gives no date'}"
    said = {
        "test it now": "test it: its minimum board time is over",
        "take off": "take it off: it was tested stiff",
        "dry, but not today": "leave it today: dry, but the air would soften it again",
    }
    return said.get(a.answer, a.answer)


def _days_said(a: SpecimenAnswer) -> str:
    days = f"at least {wording.days_said(a.min_days)}" if a.min_days else "its time"
    return f"{days} on the board, {a.basis}" if a.basis else f"{days} on the board"


def _next_off(life: Life) -> str:
    name, steps = life.specimen.specimen, []
    if life.missing:
        steps.append(f"say its {wording.listed(life.missing)}: `wingrest amend {name} TERM=VALUE`")
    if life.done("labelled") is None:
        steps.append(f"label it: `wingrest print labels {name}`")
    bag = life.bag
    if bag is None:
        steps.append(f"freeze it in a bag before the cabinet: `wingrest bag {name}`")
    elif bag.shut(life.view.now):
        steps.append(f"open its bag from {wording.moment(bag.open_at, life.view.now)}")
    return "; ".join(steps) or "into its drawer, or `wingrest handover`"


def _next_waiting(life: Life) -> str:
    p, today = life.planned, life.view.now.date()
    if p is None:
        return f"not planned: {life.why_not}"
    local = life.view.local
    mount = f"mount on {p.board} on {wording.day(local(p.mount_at).date(), today)}"
    if p.relax_from is None or life.stage == "in the chamber":
        return f"{mount} ({p.session})"
    return (
        f"into the chamber {wording.moment(local(p.relax_from), today)}, then {mount} ({p.session})"
    )


def lives(view: View, names: Iterable[str] | None = None) -> tuple[Life, ...]:
    """Return the lives of the specimens named, None: of all; ordered by id."""
    facts = view.facts
    wanted = sorted(facts.specimens if names is None else names, key=natural_order)
    last = last_placements(facts.placements)
    steps = _by_specimen(facts.afterwards)
    photos = _by_specimen(facts.photos)
    found = dict(facts.specimens.items()) if names is None else facts.specimens
    return tuple(
        Life(
            view,
            found[name],
            last.get(name),
            tuple(steps.get(name, ())),
            tuple(photos.get(name, ())),
            facts.gone.get(name),
        )
        for name in wanted
    )


def _by_specimen(things: Iterable[_Of]) -> dict[str, list[_Of]]:
    found: dict[str, list[_Of]] = {}
    for thing in things:
        found.setdefault(thing.specimen, []).append(thing)
    return found


def last_placements(placements: Sequence[Placement]) -> Mapping[str, Placement]:
    """Return the last placement of every specimen that ever stood on a board."""
    return {p.specimen: p for p in sorted(placements, key=lambda p: p.mounted_at)}
