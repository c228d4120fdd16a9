"""By which names a family is found: genera, former families, German and English words."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from bench_cases import Desk, weekend

from scheduler.rulebook import check_rules, load_rulebook, rules_dir
from scheduler.words.problems import BadInput
from scheduler.words.records import Specimen

RULES = load_rulebook()


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("Saturnia pavonia", "Saturniidae, by the genus Saturnia"),
        ("Schwärmer", "Sphingidae, by the group Schwärmer"),
        ("schwaermer", "Sphingidae, by the group schwaermer"),
        ("SCHWARMER", "Sphingidae, by the group SCHWARMER"),
        ("Bläulinge", "Lycaenidae, by the group Bläulinge"),
        ("Eulen", "Noctuidae, by the group Eulen"),
        ("Spanner", "Geometridae, by the group Spanner"),
        ("Stabschrecken", "Phasmida, by the group Stabschrecken"),
        ("Phasmatodea", "Phasmida, by the group Phasmatodea"),
        ("bumblebees", "Apidae, by the group bumblebees"),
        ("slug moth", "Limacodidae, by the group slug moth"),
        ("Arctiidae", "Erebidae, by the former family Arctiidae"),
        ("Lymantriidae", "Erebidae, by the former family Lymantriidae"),
        ("Satyridae", "Nymphalidae, by the former family Satyridae"),
        ("danaidae", "Nymphalidae, by the former family Danaidae"),
        ("Heliconiidae", "Nymphalidae, by the former family Heliconiidae"),
        ("Attacidae", "Saturniidae, by the former family Attacidae"),
        ("Macroglossinae", "Sphingidae, by the subfamily Macroglossinae"),
        ("Inachis io", "Nymphalidae, by the former genus Inachis"),
        ("Lucanus cervus", "Coleoptera, by the genus Lucanus of the Lucanidae"),
        ("Lucanidae", "Coleoptera, by the family Lucanidae"),
        ("Eupterotidae", "Eupterotidae"),
        ("moth", "any insect, by the group moth"),
    ],
)
def test_whatever_people_write(word: str, said: str) -> None:
    kin = RULES.kinship.of(word)
    assert (kin.said, kin.known, kin.unknown) == (said, True, ())


@pytest.mark.parametrize(
    ("specimen", "family"),
    [
        (Specimen("M1", taxon="Saturnia pavonia"), "Saturniidae"),
        (Specimen("M1", group="moth", taxon="Saturnia pavonia"), "Saturniidae"),
        (Specimen("M1", "Nosuchidae", "hawkmoth"), "Sphingidae"),
        (Specimen("M1", "Nosuchidae", taxon="Hyles × Deilephila"), "Sphingidae"),
        (Specimen("M1", taxon="Hawkmoth"), "Sphingidae"),
        (Specimen("M1", "Noctuidae", taxon="Saturnia pavonia"), "Noctuidae"),
        # The first word of a group is no genus: Iris is one of mantids.
        (Specimen("M1", group="Iris of the moor"), "any"),
    ],
)
def test_family_before_group_before_genus(specimen: Specimen, family: str) -> None:
    assert RULES.kin(specimen).row.family == family


def test_what_nobody_knows_is_named() -> None:
    kin = RULES.kin(Specimen("M1", "Sphingydae", "thing", "Nosuchus vulgaris"))
    assert (kin.known, kin.unknown) == (False, ("Sphingydae", "thing", "Nosuchus vulgaris"))
    assert RULES.kinship.nearest("Sphingydae")[0] == "Sphingidae"


def test_many_genera_and_each_is_answered_for_by_name() -> None:
    with (rules_dir() / "genera.csv").open(newline="", encoding="utf-8") as lines:
        names = list(csv.DictReader(lines))
    assert sum(row["rank"] == "genus" for row in names) >= 400
    for row in names:
        kin = RULES.kinship.of(None, None, f"{row['name']} sp.")
        assert kin.row.family in (row["family"], row["order"]), row


def test_genera_as_other_lists_have_them() -> None:
    # Read in the Lepidoptera Atlas of Belgium, one genus of each family that was read there.
    seen = {
        "Geometra": "Geometridae", "Eupithecia": "Geometridae", "Nola": "Nolidae",
        "Cerura": "Notodontidae", "Phalera": "Notodontidae", "Stauropus": "Notodontidae",
        "Aglais": "Nymphalidae", "Apatura": "Nymphalidae", "Vanessa": "Nymphalidae",
        "Iphiclides": "Papilionidae", "Papilio": "Papilionidae", "Aporia": "Pieridae",
        "Gonepteryx": "Pieridae", "Psyche": "Psychidae",
    }  # fmt: skip
    assert {genus: RULES.kinship.of(genus).row.family for genus in seen} == seen


def test_ready_words_of_the_command(desk: Desk) -> None:
    run = desk(
        "rules", "explain", "--family", "Saturnia pavonia", "--body-mm", "8", "--rh-pct", "50"
    )
    assert run.out.startswith("For Saturniidae, by the genus Saturnia.\nTest from day 28")
    former = desk(
        "rules", "explain", "--family", "Lymantriidae", "--body-mm", "8", "--rh-pct", "50"
    )
    assert "now the subfamily Lymantriinae" in " ".join(former.out.split())


@pytest.mark.parametrize(
    "verb", [["rules"], ["rules", "explain", "--body-mm", "8", "--rh-pct", "50"]]
)
def test_a_family_that_nobody_knows_is_refused_with_the_nearest(
    desk: Desk, verb: list[str]
) -> None:
    run = desk(*verb, "--family", "Sphngidae")
    assert (run.status, run.out) == (2, "")
    assert "no family, group or genus 'Sphngidae'. Did you mean Sphingidae" in run.problems


def test_an_own_genus_joins_and_a_wrong_one_is_named(tmp_path: Path) -> None:
    table = tmp_path / "genera.csv"
    header = "name,rank,family,order,source_id,note\n"
    table.write_text(header + "Nosuchus,genus,Sphingidae,,OLD-NAMES,\n", encoding="utf-8")
    assert load_rulebook(tmp_path).kinship.of("Nosuchus").row.family == "Sphingidae"
    table.write_text(header + "Nosuchus,genus,Nosuchidae,,NOBODY,\n", encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        load_rulebook(tmp_path)
    assert [p.column for p in caught.value.problems] == ["source_id", "family"]
    assert [p.column for p in check_rules(rules_dir(), tmp_path)] == ["source_id", "family"]


def test_a_list_names_those_whose_family_nobody_knows(desk: Desk, tmp_path: Path) -> None:
    rows = ["S-1,Xyzzia ignota", "S-2,Sphinx", "S-3,", "S-4,", "S-5,Sphingidae", "S-6,Sphynx"]
    text = "\n".join(["specimen,taxon,body_mm", *(f"{row},8" for row in rows)])
    (tmp_path / "list").mkdir()
    (tmp_path / "list" / "specimens.csv").write_text(text + "\n", encoding="utf-8")
    said = " ".join(desk("load", tmp_path / "list").err.split())
    none = "no family is known of it, so it counts as any insect"
    assert f'"Xyzzia ignota" (1): {none}' in said
    assert f'"Sphynx" (1): {none}. Did you mean Sphinx' in said
    assert f"S-3 and S-4, without family, group or name: {none}" in said
    assert "1 counted as Sphingidae: by the genus Sphinx" in said
