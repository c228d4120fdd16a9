"""Specimens recorded at the bench, without a file."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk, rules, weekend
from verb_cases import journal, recorded, refused, snapshot

from scheduler.drying import fit
from scheduler.words.records import Specimen


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def specimen(desk: Desk, name: str) -> Specimen:
    return snapshot(desk).specimens[name]


def test_twelve_owlets_from_the_trap(desk: Desk) -> None:
    run = recorded(desk, "add", "owlet", "--count", "12", "--wingspan", "38", "--fresh")
    new = [s for s in snapshot(desk).specimens.values() if s.specimen.startswith("O-")]
    assert [s.specimen for s in new] == [f"O-{n:02}" for n in range(1, 13)]
    assert {s.wingspan_mm for s in new} == {38.0}
    assert {(s.state, str(s.available)) for s in new} == {("fresh", "2027-05-05")}
    # The word is short for the group that the rules know.
    assert {rules().family(s.family, s.group).family for s in new} == {"Noctuidae"}
    assert run.out.startswith("added O-01 to O-12, 12 specimens: owlet (owlet moth), fresh\n")
    assert "rules of Noctuidae, by the group owlet moth" in run.out
    assert "body 6.25 mm (4.4-7.5) from wingspan 38 mm (shape of" in run.out
    assert "mount by" in run.out
    assert run.err == ""


def test_the_numbers_go_on_after_the_highest(desk: Desk) -> None:
    last = max(int(s[2:]) for s in snapshot(desk).specimens if s.startswith("M-"))
    run = recorded(desk, "add", "moth", "--as", "M", "--wingspan", "30", "--dried")
    assert f"added M-{last + 1}: moth, dried" in run.out


def test_ids_are_free_among_all_kinds(desk: Desk) -> None:
    # SAT-08 is a session.
    recorded(desk, "add", "moth", "--as", "sat", "--wingspan", "30", "--dried")
    assert "sat-09" in snapshot(desk).specimens


def test_yesterday_s_catch_waits_from_yesterday(desk: Desk) -> None:
    words = ("add", "owlet", "--wingspan", "38", "--fresh", "--at", "2027-05-04T23:30")
    recorded(desk, *words)
    assert str(specimen(desk, "O-01").available) == "2027-05-04"
    assert journal(desk)[-3].happened_at.isoformat() == "2027-05-04T21:30:00+00:00"


def test_from_the_freezer_with_and_without_a_date(desk: Desk) -> None:
    recorded(desk, "add", "owlet", "--wingspan", "38", "--frozen", "2026-09-01")
    assert str(specimen(desk, "O-01").frozen_on) == "2026-09-01"
    run = recorded(desk, "add", "owlet", "--wingspan", "38", "--frozen")
    assert specimen(desk, "O-02").frozen_on is None
    assert "nobody said since when it is frozen" in run.out


@pytest.mark.parametrize(
    ("option", "value", "column"),
    [
        ("--body", "5.5", "body_mm"),
        ("--forewing", "18", "forewing_mm"),
        ("--size", "very stout", "size"),
        ("--groove", "7", "groove_mm"),
    ],
)
def test_any_word_about_the_size_will_do(desk: Desk, option: str, value: str, column: str) -> None:
    recorded(desk, "add", "beetle", option, value, "--dried")
    new = specimen(desk, "B-01")
    assert str(getattr(new, column)).removesuffix(".0") == value
    assert fit.size_of(new, rules()) is not None


def test_the_group_alone_will_do_where_the_rules_know_its_usual_size(desk: Desk) -> None:
    run = recorded(desk, "add", "hawkmoths", "--dried")
    assert "from the usual size of Sphingidae" in run.out


def test_nothing_to_judge_the_size_by(desk: Desk) -> None:
    said = refused(desk, "add", "springtail", "--dried", status=2)
    assert "--body: there is nothing to judge the size by. Give --body, or --wingspan" in said


def test_a_group_nobody_listed_answers_as_any_insect(desk: Desk) -> None:
    run = recorded(desk, "add", "hawkmot", "--wingspan", "60", "--dried")
    assert "the rules know no 'hawkmot': they answer as for any insect." in run.err
    assert "Did you mean hawk moth?" in run.problems
    assert specimen(desk, "H-01").group == "hawkmot"


def test_a_family_that_is_given_speaks_for_an_unlisted_group(desk: Desk) -> None:
    run = recorded(desk, "add", "dagger", "--family", "Noctuidae", "--wingspan", "38", "--dried")
    assert run.err == ""


def test_all_that_goes_with_them(desk: Desk) -> None:
    recorded(
        desk, "add", "owlet", "--wingspan", "38", "--fresh", "--taxon", "Noctua comes",
        "--priority", "7", "--wanted-by", "2027-06-20", "--spoils-by", "2027-05-09",
        "--label", "locality=Alder Carr, Saltmere (invented)", "--label", "EVENTDATE=2027-05-04",
    )  # fmt: skip
    new = specimen(desk, "O-01")
    assert (new.taxon, new.priority) == ("Noctua comes", 7)
    assert (str(new.wanted_by), str(new.spoils_by)) == ("2027-06-20", "2027-05-09")
    assert new.label == {
        "locality": "Alder Carr, Saltmere (invented)",
        "eventDate": "2027-05-04",
    }


def test_nobody_said_how_they_came(desk: Desk) -> None:
    said = refused(desk, "add", "owlet", "--wingspan", "38", status=2)
    assert "--fresh, --frozen [DATE] or --dried" in said
    said = refused(desk, "add", "owlet", "--wingspan", "38", "--fresh", "--dried", status=2)
    assert "two states at once" in said


def test_everything_wrong_is_said_at_once(desk: Desk) -> None:
    said = refused(
        desk, "add", "owlet", "--count", "0", "--wingspan", "38mm", "--frozen", "2027-02",
        "--priority", "11", "--label", "locallity=Moor", "--label", "Moor", "--as", "a b",
        status=2,
    )  # fmt: skip
    assert "--count: is outside 1 to 500" in said
    assert "--wingspan: carries a unit" in said
    assert "--frozen: is not a date" in said
    assert "--priority: is outside 1 to 10" in said
    assert 'Did you mean "locality"?' in said
    assert "is not term=value" in said
    assert "--as: is not an id" in said


def test_a_group_without_a_letter_needs_a_prefix(desk: Desk) -> None:
    said = refused(desk, "add", "12", "--wingspan", "38", "--dried", status=2)
    assert "--as: is not given, and the group has no letter. Give --as PREFIX" in said
    assert "1 problem; nothing was recorded" in said


def test_sizes_and_dates_that_contradict_each_other(desk: Desk) -> None:
    said = refused(
        desk, "add", "owlet", "--wingspan", "38", "--body", "25", "--fresh",
        "--wanted-by", "2027-05-01", status=2,
    )  # fmt: skip
    assert "--body: is more than half of the wingspan, 38 mm" in said
    assert "--wanted-by: is before it is available" in said
