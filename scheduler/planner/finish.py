"""From a plan in the making to a proposal: placements, figures and reasons.

Slots are pushed to the left: a proof finds any positions, but a person wants the first free ones,
and the free groove in one piece.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from typing import NamedTuple

from scheduler.drying.softening import hours_after
from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.market import Prices
from scheduler.planner.chamber import mount_moment, relax_from
from scheduler.planner.explain import reasons
from scheduler.planner.problem import Plan, Planned, Quality, Scarce
from scheduler.planner.quality import quality
from scheduler.planner.state import PlanState, Spot, lowest, spread
from scheduler.words.names import natural_order


def scarce(bench: PlanBench, prices: Prices) -> Scarce:
    """Return, from the prices of a bound, what one more minute or mm of groove would save."""
    least_min = max(1, bench.problem.take_off_min)
    minute = {
        s.session: float(price)
        for s, price in zip(bench.sessions, prices.minute, strict=True)
        if s.minutes >= least_min
    }
    first = [bench.boards[boards[0]] for boards in bench.boards_of]
    mm = {b.board: float(each.sum()) for b, each in zip(first, prices.mm, strict=True)}
    return Scarce(minute, mm)


class Candidate(NamedTuple):
    """A finished plan, not yet explained."""

    name: str
    state: PlanState
    placements: tuple[Planned, ...]
    off: Mapping[str, str]
    quality: Quality

    @property
    def rank(self) -> tuple[int, int, int, Quality]:
        """Return the key by which plans are compared; the lowest is the best.

        After the first two tiers, fewer placements in air that gives no time are better: such a
        board is only for what would spoil otherwise.
        """
        no_time = sum(p.clear is None for p in self.placements)
        q = self.quality
        return q.spoiled_priority, q.weighted_waiting_days, no_time, q


def made(name: str, state: PlanState, lost: Sequence[str]) -> Candidate:
    """Return a plan with its figures; `lost` are the specimens that no plan could save."""
    placements, off = as_placements(state), taken_off(state)
    reached = quality(state.bench.problem, placements, off, lost=lost)
    return Candidate(name, state, placements, off, reached)


def explained(one: Candidate, grooves: Mapping[str, float]) -> Plan:
    """Return the plan with the reason for everything that is not in it."""
    return Plan(one.placements, reasons(one.state, grooves), one.quality, off=one.off)


def tiers(state: PlanState) -> tuple[int, int]:
    """Return the first two tiers of a plan: priority let spoil, weighted days of waiting."""
    bench = state.bench
    spoiled = 0
    waits = sum(bench.left_days(s, off) for s, off in enumerate(state.stand_off))
    for n, spot in enumerate(state.spots):
        if spot is None:
            spoiled += bench.waiting[n].priority if bench.would_spoil[n] else 0
            waits += bench.waits_on(n)
        else:
            waits += bench.waits(n, spot.session, spot.choice)
    return spoiled, waits


def state_of(
    bench: PlanBench, spots: Sequence[Spot | None], offs: Sequence[int] | None = None
) -> PlanState:
    """Return the plan with these spots; `offs` as in `PlanState`."""
    state = PlanState(bench, offs)
    for n, spot in enumerate(spots):
        if spot is not None:
            state.insert(n, *spot)
    return state


def taken_off(state: PlanState) -> dict[str, str]:
    """Return the session at which each specimen, standing or planned, comes off, if at any."""
    bench, sessions = state.bench, state.bench.sessions
    stands = zip((s.specimen for s in bench.stands), state.stand_off, strict=True)
    planned = ((bench.waiting[n].specimen, s.off_at) for n, s in enumerate(state.spots) if s)
    return {name: sessions[off].session for name, off in (*stands, *planned) if off < len(sessions)}


def kept_offs(bench: PlanBench, kept: Plan) -> list[int]:
    """Return the session at which each standing one comes off by a plan, where still possible.

    One that the plan does not name comes off in time for what is planned on its slot.
    """
    session = {s.session: k for k, s in enumerate(bench.sessions)}
    wanted = [session.get(kept.off.get(s.specimen, ""), -1) for s in bench.stands]
    there: dict[str, list[Planned]] = {}
    for one in kept.placements:
        there.setdefault(one.board, []).append(one)
    for s, stands in enumerate(bench.stands):
        used = [
            session.get(one.session, len(session))
            for one in (there.get(stands.board, ()) if wanted[s] < 0 else ())
            if one.from_mm < stands.to_mm and stands.from_mm < one.to_mm
        ]
        left = bool(kept.off) and wanted[s] < 0 and len(session) not in used
        wanted[s] = min(used, default=len(session) if left else wanted[s])
    return spread(bench, wanted)


def kept_spots(
    bench: PlanBench, kept: Plan, pinned: frozenset[str] = frozenset()
) -> dict[int, Spot]:
    """Return the spots of a plan that are still possible beside `kept_offs`.

    Each is tried where it was: same session, board and mm. The `pinned` ones come first, then what
    is in the chamber and has to come out, then the others in the order of the plan: of two that
    now exclude each other the earlier one stays.
    """
    number = {w.specimen: n for n, w in enumerate(bench.waiting)}
    session = {s.session: k for k, s in enumerate(bench.sessions)}
    state = PlanState(bench, kept_offs(bench, kept))
    found: dict[int, Spot] = {}

    def stays(one: Planned) -> bool:
        n, k = number.get(one.specimen), session.get(one.session)
        board = bench.board_number.get(one.board)
        if n is None or k is None or board is None or n in found:
            return False
        for spot in _as_kept(state, n, k, board, one, session.get(kept.off.get(one.specimen, ""))):
            if state.allows(n, spot):
                state.insert(n, *spot)
                found[n] = spot
                return True
        return False

    inside = {w.specimen for w in bench.waiting if w.chamber_since is not None}
    waits: list[Planned] = []
    for one in sorted(
        kept.placements, key=lambda p: (p.specimen not in pinned, p.specimen not in inside)
    ):
        if not stays(one):
            waits += [one] if one.specimen in pinned else []
        elif one.specimen in inside and waits:
            # Mounting this one may have freed a place in the chamber.
            waits = [p for p in waits if not stays(p)]
    return found


def _as_kept(
    state: PlanState, number: int, session: int, board: int, one: Planned, off: int | None
) -> Iterator[Spot]:
    """Yield the spots where one was: coming off as planned, else at the first session it can."""
    for menu in (state.bench.menus[number], state.bench.refused_menus[number]):
        choice = menu.by_board.get(board)
        if choice is not None:
            if off is not None:
                yield Spot(session, choice, one.from_mm, off)
            yield Spot(session, choice, one.from_mm, state.off_at(session, choice.plan_days))


def as_placements(state: PlanState) -> tuple[Planned, ...]:
    """Return what is planned, by session and board; the board with the stoutest body comes first.

    A person who runs out of minutes then leaves a slender one, which soon finds another slot.
    """
    planned = [(n, spot) for n, spot in enumerate(state.spots) if spot is not None]
    as_read = [natural_order(b.board) for b in state.bench.boards]
    stoutest: dict[tuple[int, int], float] = {}
    for n, spot in planned:
        there, body_mm = (spot.session, spot.choice.board), state.bench.waiting[n].body_mm
        stoutest[there] = max(body_mm, stoutest.get(there, 0.0))

    def order(one: tuple[int, Spot]) -> tuple[object, ...]:
        _, (session, choice, from_mm, _) = one
        return session, -stoutest[session, choice.board], as_read[choice.board], from_mm

    planned.sort(key=order)
    return tuple(_placement(state.bench, number, spot) for number, spot in planned)


def _placement(bench: PlanBench, number: int, spot: Spot) -> Planned:
    problem, w = bench.problem, bench.waiting[number]
    session = bench.sessions[spot.session]
    days = bench.days(number, spot.choice.board)
    since, mount_at = relax_from(w, session, problem), mount_moment(session, problem.now)
    to_mm = spot.from_mm + w.slot_mm
    return Planned(
        specimen=w.specimen,
        session=session.session,
        board=bench.boards[spot.choice.board].board,
        from_mm=spot.from_mm,
        to_mm=to_mm,
        relax_from=since,
        out_by=None if since is None else hours_after(since, w.phase(mount_at).most_hours),
        mount_at=mount_at,
        due=None if days is None else session.on + timedelta(days=days.min_days),
        clear=None if days is None else session.on + timedelta(days=days.plan_days),
        min_days=None if days is None else days.min_days,
        plan_days=None if days is None else days.plan_days,
        rule_ids=() if days is None else days.rule_ids,
        basis=None if days is None else days.basis,
        minutes=w.minutes,
        after=_after(bench, spot, to_mm),
    )


def _after(bench: PlanBench, spot: Spot, to_mm: int) -> tuple[str, ...]:
    """Return what stands on these mm now and must be taken off first."""
    return tuple(
        s.specimen
        for s in bench.standing_on[spot.choice.board]
        if s.from_mm < to_mm and spot.from_mm < s.to_mm
    )


def tidied(state: PlanState, fixed: frozenset[int] = frozenset()) -> PlanState:
    """Return the plan with the slots of every board laid anew from the left, except `fixed` ones.

    They are laid by session, then by position. Where that leaves no place for the last ones, the
    board's slots are only pushed to the left one by one.
    """
    tidy = state.copy()
    boards: dict[int, list[tuple[int, Spot]]] = {}
    for number, spot in enumerate(tidy.spots):
        if spot is not None and number not in fixed:
            boards.setdefault(spot.choice.board, []).append((number, spot))
    for _, laid in sorted(boards.items()):
        laid.sort(key=lambda one: (one[1].session, one[1].from_mm, one[0]))
        if not _laid_anew(tidy, laid):
            _pushed(tidy, laid)
    return tidy


def _laid_anew(tidy: PlanState, laid: list[tuple[int, Spot]]) -> bool:
    """Lay a board's slots anew; say whether all found a place, else put them back as they were."""
    for number, _ in laid:
        tidy.remove(number)
    new: list[int] = []
    for number, spot in laid:
        place = lowest(tidy.slots(number, spot.session, spot.choice, spot.off_at))
        if place < 0:
            break
        tidy.insert(number, spot.session, spot.choice, place, spot.off_at)
        new.append(number)
    if len(new) == len(laid):
        return True
    for number in new:
        tidy.remove(number)
    for number, spot in laid:
        tidy.insert(number, *spot)
    return False


def _pushed(tidy: PlanState, laid: list[tuple[int, Spot]]) -> None:
    """Move each slot as far to the left as the others now allow."""
    for number, spot in laid:
        tidy.remove(number)
        place = lowest(tidy.slots(number, spot.session, spot.choice, spot.off_at))
        # Its own place is free again; `slots` finds none only where minutes are lacking.
        left = spot.from_mm if place < 0 else place
        tidy.insert(number, spot.session, spot.choice, left, spot.off_at)
