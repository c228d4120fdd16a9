"""What dryness tests teach: held against scipy on the same tests, against plain simulation, and
against the bounds that a practitioner was promised. Rooms and specimens are invented.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import pairwise
from statistics import quantiles

import numpy as np
import pytest
from air_cases import logged
from bench_cases import local, one_board, rules
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats  # type: ignore[import-untyped]

from scheduler.drying.on_board import OnBoard
from scheduler.learning.posterior import DryBetween, Posterior, Prior, posteriors
from scheduler.learning.taught import Judged, Taught, prior_of, shares_of
from scheduler.learning.witness import Drier
from scheduler.record.snapshot import Snapshot
from scheduler.view import View
from scheduler.words.records import Droop, DrynessTest, Specimen

WIDE = Prior(person=2.0, room=2.0, own=0.2, own_doubt=0.5, keeps=1.0, error=0.0001)
"""So little believed beforehand that the tests decide."""


LONG = 21.0
"""The table's minimum [days] of a stout body."""


def invented(usual: float, own: float, number: int, seed: int = 5) -> list[DryBetween]:
    """Tests a quarter of the minimum apart, from 0.5 of it on, until one is stiff."""
    chance = random.Random(seed)
    found = []
    for _ in range(number):
        dry = math.exp(math.log(usual) + chance.gauss(0, own))
        above, below = 0.0, chance.uniform(0.4, 0.7)
        while below < dry:
            above, below = below, below + 0.25
        found.append(DryBetween(above, below))
    return found


@pytest.mark.parametrize("usual", [0.7, 1.0, 1.4])
def test_the_fit_is_scipys_on_the_same_tests(usual: float) -> None:
    # scipy.stats.norm.fit of interval-censored data is the maximum of the same likelihood.
    tests = invented(usual, 0.2, 300)
    inside = [(math.log(t.above), math.log(t.below)) for t in tests if t.above]
    left = [math.log(t.below) for t in tests if not t.above]
    loc, _scale = stats.norm.fit(stats.CensoredData(interval=np.array(inside), left=left))
    (found,) = posteriors([tests], WIDE)
    # 0.02: the step of the grid, and of 300 tests the prior is worth one.
    assert math.log(found.factor()) == pytest.approx(loc, abs=0.02)


def test_two_rooms_pool_as_scipys_integrals_say() -> None:
    # Both rooms' posterior by sums of scipy's normal distribution on a grid of another step.
    prior = Prior(person=0.3, room=0.2, own=0.18, own_doubt=0.0, keeps=1.0, error=1e-9)
    rooms = [invented(1.3, 0.18, 12, seed=1), invented(1.2, 0.18, 3, seed=2)]
    points = np.linspace(-1.2, 1.2, 193)
    likely = [
        np.prod(
            [
                stats.norm.cdf(math.log(t.below), points, 0.18)
                - (stats.norm.cdf(math.log(t.above), points, 0.18) if t.above else 0.0)
                for t in tests
            ],
            axis=0,
        )
        for tests in rooms
    ]
    near = stats.norm.pdf(points[:, None] - points[None, :], scale=0.2)
    for room, found in enumerate(posteriors(rooms, prior)):
        persons = stats.norm.pdf(points, scale=0.3) * (near @ likely[1 - room])
        weights = (near.T @ persons) * likely[room]
        sums = np.cumsum(weights) / weights.sum()
        for share in (0.1, 0.5, 0.9):
            exact = points[np.searchsorted(sums, share)]
            assert math.log(found.factor(share)) == pytest.approx(exact, abs=0.03)


def test_what_one_room_teaches_another_of_the_same_person_is_believed_a_little() -> None:
    prior = prior_of(rules())
    alone, taught = (
        posteriors([[], tests], prior)[0].factor() for tests in ([], invented(1.5, 0.18, 40))
    )
    assert pytest.approx(alone, abs=0.02) == 1.0
    assert 1.1 < taught < 1.45


progress = st.floats(0.4, 2.5)
several = st.lists(st.builds(lambda a, b: DryBetween(min(a, b), max(a, b)), progress, progress))
SURE = prior_of(rules())._replace(own_doubt=0.0)
"""How much specimens differ is known: else an odd test may tell that they differ more."""


@given(several, progress)
def test_a_soft_test_makes_no_date_sooner_and_a_stiff_one_none_later(
    before: list[DryBetween], at: float
) -> None:
    soft, stiff, none = (
        posteriors([[*before, more]], SURE)[0].progress(0.7)
        for more in (DryBetween(at, math.inf), DryBetween(0, at), DryBetween(0, math.inf))
    )
    assert stiff <= none * (1 + 1e-9) <= soft * (1 + 2e-9)


@given(several, progress)
def test_after_a_droop_a_room_is_more_careful_at_once(before: list[DryBetween], off: float) -> None:
    shares = shares_of(rules(), 0.7)
    seemed, drooped = (
        Taught(
            posteriors([[one.interval for one in those]], SURE)[0],
            those,
            shares._replace(droop_tests=10),
        )
        for those in (
            [*map(Judged, before), Judged(DryBetween(0, off))],
            [*map(Judged, before), Judged(DryBetween(off, math.inf), True)],
        )
    )
    assert drooped.due(LONG) >= seemed.due(LONG) * (1 - 1e-9)


def test_nothing_is_sooner_than_the_bounds_whatever_was_found() -> None:
    shares = shares_of(rules(), 0.7)
    found = [Judged(DryBetween(0, 0.2))] * 100
    (believed,) = posteriors([[one.interval for one in found]], prior_of(rules()))
    taught = Taught(believed, found, shares)
    assert taught.due(LONG) == 0.6
    late = [Judged(DryBetween(0, 1.0))] * 100
    # Nobody ever saw one stiff before the minimum: 0.85 of it, whatever is believed.
    assert Taught(believed, late, shares).due(LONG) == 0.85


def test_later_is_bounded_too() -> None:
    found = [Judged(DryBetween(3.0, math.inf))] * 50
    (believed,) = posteriors([[one.interval for one in found]], prior_of(rules()))
    assert Taught(believed, found, shares_of(rules(), 0.85)).due(LONG) == 2.0


def test_a_careful_person_tests_later() -> None:
    found = [Judged(one) for one in invented(1.2, 0.18, 30)]
    (believed,) = posteriors([[one.interval for one in found]], prior_of(rules()))
    usual, careful = (Taught(believed, found, shares_of(rules(), s)) for s in (0.7, 0.85))
    assert 1.0 < usual.due(LONG) < careful.due(LONG) <= careful.clear(LONG)


def test_stiff_long_after_its_time_tells_nothing() -> None:
    assert not Judged(DryBetween(0, 1.8)).tells
    assert not Judged(DryBetween(0.3, 1.8)).tells
    assert Judged(DryBetween(1.2, 1.8)).tells
    assert Judged(DryBetween(0, 1.2)).tells


# From here on through a record.

MOUNTED = date(2027, 5, 1)
NOW = local("2027-08-01T10:00")


def record_of(found: list[tuple[float, str]], body_mm: float = 4.5, read: bool = True) -> Snapshot:
    """One specimen for each (days on the board, verdict), off the board when stiff; one stands.

    read: a logger hangs in the room for five weeks.
    """
    names = [f"M-{n}" for n in range(len(found) + 1)]
    snap = one_board(*(Specimen(name, "Noctuidae", body_mm=body_mm) for name in names))
    tests, placements = [], []
    for p, (days, verdict) in zip(snap.placements, [*found, (0, "")], strict=True):
        at = p.mounted_at + timedelta(days=days)
        if verdict:
            tests.append(DrynessTest(p.id, at, "stiff" if verdict == "stiff" else "soft"))
        placements.append(p._replace(released_at=at if verdict == "stiff" else None))
    snap = replace(snap, tests=tuple(tests), placements=tuple(placements))
    return logged(snap, "study", MOUNTED, [50.0] * 35) if read else snap


def last(snap: Snapshot, table_only: bool = False) -> OnBoard:
    view = View(snap, rules(), NOW, table_only=table_only)
    return view.of(snap.placements[-1])


@pytest.mark.parametrize("number", range(5))
def test_with_fewer_than_five_tests_the_table_stands_to_the_day(number: int) -> None:
    snap = record_of([(15.0, "soft")] * number)
    one = last(snap)
    assert one.taught is None
    assert one.dates == one.table_dates == last(snap, table_only=True).dates


def test_five_soft_tests_move_the_dates() -> None:
    snap = record_of([(18.0, "soft")] * 5)
    one, table = last(snap), last(snap, table_only=True)
    assert one.dates.due is not None
    assert table.dates.due is not None
    assert one.dates.due > table.dates.due
    assert one.table_dates == table.dates


def test_what_was_undone_and_percentages_that_were_noted_teach_nothing() -> None:
    snap = record_of([(18.0, "soft")] * 8)
    odd = tuple(t._replace(progress_pct=30.0, due_on=date(2030, 1, 1)) for t in snap.tests)
    assert last(replace(snap, tests=odd)).dates == last(snap).dates
    assert last(replace(snap, tests=())).taught is None


def test_a_droop_after_a_stiff_test_moves_dates_later() -> None:
    found = [(14.0, "stiff")] * 12
    snap = record_of(found)
    drooped = replace(snap, droops=(Droop(snap.placements[3].id, NOW),))
    assert last(drooped).dates.due >= last(snap).dates.due  # type: ignore[operator]
    view = View(drooped, rules(), NOW)
    assert view.lessons is not None
    (lesson,) = view.lessons.rooms.values()
    assert lesson.taught.drooped_lately
    assert sum(math.isinf(w.found.interval.below) for w in lesson.tested) == 1


def test_nothing_is_learned_for_bodies_of_a_class_that_nobody_tested_there() -> None:
    snap = record_of([(18.0, "soft")] * 8, body_mm=2.5)
    slender, giant = snap.placements[-1], Specimen("G-1", "Saturniidae", body_mm=14.0)
    with_giant = replace(
        snap,
        specimens={**snap.specimens, "G-1": giant},
        placements=(*snap.placements[:-1], slender._replace(specimen="G-1")),
    )
    assert last(snap).taught is not None
    assert last(with_giant).taught is None


def test_what_was_dry_and_softened_again_is_another_matter() -> None:
    snap = record_of([(18.0, "soft")] * 8)
    name = snap.placements[-1].specimen
    again = snap.specimens[name]._replace(state="dried")
    assert last(replace(snap, specimens={**snap.specimens, name: again})).taught is None
    view = View(snap, rules(), NOW)
    assert view.lessons is not None
    assert list(view.lessons.rooms) == [Drier("study", False)]


def test_the_dates_are_those_of_plain_simulation() -> None:
    """The share of simulated specimens that are dry by due is the share that was chosen."""
    snap = record_of([(17.0, "soft"), (16.0, "stiff"), (24.0, "stiff")] * 6)
    damp = [52.0, 58.0, 49.0, 61.0, 55.0] * 3
    snap = logged(snap, "study", MOUNTED + timedelta(days=7), damp)
    name = snap.placements[-1].specimen
    # A body that nobody measured: its size is a word.
    rough = Specimen(name, "Noctuidae", size="medium")
    snap = replace(snap, specimens={**snap.specimens, name: rough})
    one = View(snap, rules(), NOW).of(snap.placements[-1])
    assert one.taught is not None
    assert one.learned is not None
    days = simulated(one, 20_000)
    due, clear = one.dates
    for share, day in [(0.1, one.learned.dry.earliest), (0.9, one.learned.dry.latest), (0.7, due)]:
        exact = quantiles(days, n=100)[round(100 * share) - 1]
        assert day is not None
        # A date is a whole day, counted from the mounting: up.
        assert (day - one.placement.mounted_on).days == pytest.approx(exact + 0.5, abs=0.9), share
    assert clear == one.learned.dry.latest


def simulated(one: OnBoard, number: int) -> list[float]:
    """Draw the day on which such a specimen is dry, by chance alone: room, body, air, its own."""
    chance = random.Random(9)
    taught = one.taught
    assert isinstance(taught, Taught)
    believed = taught.posterior
    mounted = local(one.placement.mounted_at.replace(tzinfo=None).isoformat())
    moments = [mounted + timedelta(days=n / 4) for n in range(4 * 100)]
    progress = [one.progress(m) for m in moments]
    body = one.spread(mounted + timedelta(seconds=1))
    air = [math.sqrt(max(0.0, one.spread(m) ** 2 - body**2)) for m in moments]
    found = []
    for _ in range(number):
        needs = math.log(drawn(believed, chance)) + chance.gauss(0, body)
        side = chance.gauss(0, 1)
        day = next(
            n
            for n, (p, a) in enumerate(zip(progress, air, strict=True))
            if p > 0 and math.log(p) + side * a >= needs
        )
        found.append(day / 4)
    return found


def drawn(believed: Posterior, chance: random.Random) -> float:
    """Draw the progress at which one is dry: a size of `own`, a room, and the specimen."""
    owns, weights = believed._owns, believed._weights
    (own,) = chance.choices(range(len(owns)), [sum(w) for w in weights])
    points = [0.04 * n for n in range(-30, 31)]
    (room,) = chance.choices(points, weights[own])
    return math.exp(room + chance.gauss(0, owns[own]))


def test_the_same_record_gives_the_same_dates_whatever_the_time_is() -> None:
    snap = record_of([(18.0, "soft")] * 6)
    dates = [
        View(snap, rules(), datetime.fromisoformat(f"2027-{month}-01T10:00+02:00"))
        .of(snap.placements[-1])
        .dates
        for month in ("06", "08", "11")
    ]
    assert all(a == b for a, b in pairwise(dates))
