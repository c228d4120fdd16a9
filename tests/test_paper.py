"""What is printed: true to scale, in a font of its own, word for word what the record says.

mm are read back out of the PDF (1/72 inch a point, ISO 32000-1, 8.3.2.3). Sizes and content of
labels: S1 (USDA, Collecting and Preserving Insects and Mites), pp. 46-48.
"""

from __future__ import annotations

import io
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import pdfplumber
import pypdfium2  # type: ignore[import-untyped]
import pytest
import zxingcpp
from bench_cases import Desk, planned, weekend
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.paper.fitting import LEAST_PT, Fitted, Misfit, fit_label
from scheduler.paper.labels import LABEL_KINDS, LabelSize, label_pages, lay_labels
from scheduler.paper.pages import unprintable
from scheduler.words.label import LabelPart, data_label, missing, name_label, roman
from scheduler.words.records import Specimen

MM = 25.4 / 72
WITHIN_MM = 0.2
SATURDAY = "2027-05-08T12:00"
REARED = Specimen(
    "R-01",
    taxon="Sphinx ligustri",
    sex="male",
    label={
        "country": "Fernland", "stateProvince": "Öre", "locality": "Česká Grava, sand pit",
        "decimalLatitude": "55.87100", "decimalLongitude": "-3.412",
        "minimumElevationInMeters": "14", "eventDate": "2027-06-12", "lifeStage": "larva",
        "emerged_on": "2027-07-20", "recordedBy": "Wren Tallow",
        "associatedTaxa": "host: Ligustrum vulgare", "host_seen": "fed",
        "identifiedBy": "Ivo Marrack", "dateIdentified": "2027-08-01",
        "catalogNumber": "FM 4711",
    },
)  # fmt: skip
"""An invented specimen, reared in an invented country."""


def opened(pdf: bytes) -> Any:
    return pdfplumber.open(io.BytesIO(pdf))


def printed(specimens: list[Specimen], size: LabelSize | None = None) -> bytes:
    size = size or LabelSize()
    labels, troubles = lay_labels(specimens, LABEL_KINDS, size)
    assert troubles == []
    return label_pages(labels, size).to_bytes()


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


# --- what a label says ----------------------------------------------------------------------


def test_where_when_who_in_that_order_then_the_host() -> None:
    # S1 p. 47: both dates of what was reared; "ex" where feeding was seen; Roman months.
    assert data_label(REARED).text == (
        "Fernland: Öre, Česká Grava, sand pit 55.87100°N 3.412°W 14 m"
        " larva 12.VI.2027, em. 20.VII.2027 leg. Wren Tallow ex Ligustrum vulgare"
    )


def test_a_plant_it_was_only_found_on_is_no_host_it_came_from() -> None:
    found = Specimen("X", label={**REARED.label, "host_seen": "found"})
    assert data_label(found).text.endswith(" on Ligustrum vulgare")
    unsaid = {k: v for k, v in REARED.label.items() if k != "host_seen"}
    assert data_label(Specimen("X", label=unsaid)).text.endswith(" on Ligustrum vulgare")


@pytest.mark.parametrize(
    ("iso", "said"),
    [
        ("1980-06-10", "10.VI.1980"),  # S1 p. 47: pupa 10.VI.1980, em. 24.III.1981
        ("1981-03-24", "24.III.1981"),
        ("2027-06-12/14", "12.-14.VI.2027"),
        ("2027-06-28/2027-07-02", "28.VI.-2.VII.2027"),
        ("2026-12-30/2027-01-02", "30.XII.2026-2.I.2027"),
        ("2027-06", "VI.2027"),
        ("2027", "2027"),
        ("2027-06-12T22:30", "12.VI.2027"),
    ],
)
def test_a_date_is_day_roman_month_year(iso: str, said: str) -> None:
    assert roman(iso) == said


def test_the_second_label_says_name_sex_and_who_determined_it() -> None:
    assert [p.text for p in name_label(REARED)] == ["Sphinx ligustri", "♂", "det. Ivo Marrack 2027"]


def test_what_a_label_cannot_do_without_is_named() -> None:
    assert missing({}) == ("locality", "date", "collector")
    assert missing({"verbatimLocality": "moor", "eventDate": "2027", "recordedBy": "x"}) == ()


# --- fitting ----------------------------------------------------------------------------------


def test_nothing_is_under_four_points_and_a_label_that_fits_is_not_shortened() -> None:
    fitted = fit_label(data_label(REARED).groups, 30, 14)
    assert isinstance(fitted, Fitted)
    assert fitted.shortened == ()
    assert " ".join(fitted.lines) == data_label(REARED).text
    assert fitted.size_pt > LEAST_PT


def test_shortening_follows_its_order_and_says_so() -> None:
    several = {**REARED.label, "recordedBy": "Wren Araminta Tallow | Ivo Marrack"}
    tight = fit_label(data_label(REARED._replace(label=several)).groups, 18, 8)
    assert isinstance(tight, Fitted)
    assert tight.size_pt >= LEAST_PT
    assert tight.shortened == ("forenames as initials",)
    assert "leg. W. A. Tallow & I. Marrack" in " ".join(tight.lines)


def test_what_fits_in_no_way_is_given_back_whole() -> None:
    text = "a locality that goes on and on " * 9
    assert fit_label([[LabelPart(text)]], 18, 8) == Misfit(text)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text("abc ÄŽŠλя♂°.", min_size=1, max_size=30), min_size=1, max_size=6))
def test_no_letter_is_ever_lost(texts: list[str]) -> None:
    fitted = fit_label([[LabelPart(t)] for t in texts], 18, 8)
    whole = "".join("".join(texts).split())
    if isinstance(fitted, Fitted):
        assert "".join("".join(fitted.lines).split()) == whole
    else:
        assert "".join(fitted.text.split()) == whole


# --- the sheet of labels ---------------------------------------------------------------------


def test_labels_are_as_large_as_they_say() -> None:
    """Cutting marks stand at the corners of 18 x 8 mm."""
    with opened(printed([REARED])) as pdf:
        page = pdf.pages[0]
        assert (float(page.width) * MM, float(page.height) * MM) == pytest.approx(
            (210, 297), abs=WITHIN_MM
        )
        upright = [e for e in page.lines if abs(e["x0"] - e["x1"]) < 0.01 and e["top"] < 100]
        xs = sorted({round(e["x0"] * MM, 1) for e in upright})
        assert [b - a for a, b in pairwise(xs)] == pytest.approx([18, 18, 18], abs=WITHIN_MM)
        tops = sorted(e["bottom"] for e in upright if e["bottom"] - e["top"] > 3)
        level = sorted(
            {
                round(e["top"] * MM, 1)
                for e in page.lines
                if e["top"] == e["bottom"] and e["top"] < 100
            }
        )
        assert level[1] - level[0] == pytest.approx(8, abs=WITHIN_MM)
        assert tops


def test_no_letter_reaches_over_the_edge_of_its_label() -> None:
    """Narrower letters are as wide as was reckoned: the data label is the first on the sheet."""
    with opened(printed([REARED])) as pdf:
        page = pdf.pages[0]
        first = [c for c in page.chars if c["fontname"].endswith("Condensed") and c["size"] < 6]
        data = [c for c in first if c["top"] * MM < 21 and c["x0"] * MM < 28]
        assert len(data) > 80
        assert max(c["x1"] for c in data) * MM <= 10 + 18
        assert max(c["x1"] for c in data) * MM > 10 + 15


def test_every_page_has_a_scale_bar_of_a_hundred_mm_and_says_how_to_print() -> None:
    with opened(printed([REARED] * 1)) as pdf:
        page = pdf.pages[0]
        bar = max(page.lines, key=lambda e: e["x1"] - e["x0"])
        assert (bar["x1"] - bar["x0"]) * MM == pytest.approx(100, abs=WITHIN_MM)
        assert "print at 100 %" in page.extract_text()
        assert "card of 160-200 g" in page.extract_text()


def test_fonts_are_embedded_and_no_type_on_a_label_is_under_four_points() -> None:
    pdf_bytes = printed([REARED])
    with opened(pdf_bytes) as pdf:
        chars = pdf.pages[0].chars
        assert {c["fontname"].split("+")[1] for c in chars} == {
            "DejaVuSansCondensed", "DejaVuSansCondensed-Oblique",
        }  # fmt: skip
        assert min(c["size"] for c in chars) >= LEAST_PT
    assert pdf_bytes.count(b"/FontFile2") == 2


def test_the_text_read_back_is_the_records() -> None:
    places = "Škocjan|Ἀθῆναι, Πάρνηθα|Москва, Лосиный остров|Đà Nẵng|Þingvellir|Łódź".split("|")
    said = {"eventDate": "2027-05-01", "recordedBy": "Ťuhýk Ångström"}
    specimens = [Specimen(p, label={"locality": p, **said}) for p in places]
    size = LabelSize()
    labels, troubles = lay_labels(specimens, ["data"], size)
    assert troubles == []
    with opened(label_pages(labels, size).to_bytes()) as pdf:
        words = " ".join(
            w["text"] for w in pdf.pages[0].extract_words(use_text_flow=True, x_tolerance=1)
        )
    for specimen in specimens:
        assert data_label(specimen).text in words


def test_the_font_knows_latin_greek_cyrillic_and_the_signs() -> None:
    every = "".join(map(chr, [*range(0xC0, 0x180), *range(0x400, 0x460), *range(0x1EA0, 0x1EFA)]))
    assert unprintable(every + "αβγδεζηθικλμνξοπρστυφχψω♂♀°№") == ""
    assert unprintable("漢 x") == "漢"


def test_letters_the_font_lacks_are_reported_and_nothing_is_printed(
    desk: Desk, tmp_path: Path
) -> None:
    desk.did("amend", "M-01", "locality=漢", now=SATURDAY)
    out = tmp_path / "l.pdf"
    run = desk("print", "labels", "M-01", "-o", out, now=SATURDAY)
    assert run.status == 2
    assert "M-01, data: the font has no 漢 (U+6F22)" in run.problems
    assert not out.exists()


@pytest.mark.parametrize(("count", "pages"), [(1, 1), (40, 1), (1000, 14)])
def test_pages_for_one_forty_and_a_thousand(count: int, pages: int) -> None:
    """Three labels of each: ten columns hold three specimens a row, and a page 25 rows."""
    with opened(printed([REARED._replace(specimen=f"R-{n}") for n in range(count)])) as pdf:
        assert len(pdf.pages) == pages


def test_same_labels_same_bytes() -> None:
    assert printed([REARED]) == printed([REARED])


# --- labels and the record -----------------------------------------------------------------------


def test_a_label_without_its_data_is_refused_and_named(desk: Desk, tmp_path: Path) -> None:
    desk.did("add", "owlet", "--wingspan", "38", "--fresh", "--as", "X")
    out = tmp_path / "l.pdf"
    run = desk("print", "labels", "X-01", "-o", out)
    assert run.status == 2
    assert "X-01: no locality, date and collector" in run.problems
    assert not out.exists()
    desk.did("amend", "X-01", "taxon=Noctua pronuba")
    run = desk("print", "labels", "X-01", "--incomplete", "-o", out)
    assert run.status == 0
    assert "no locality" in run.err


def test_what_is_labelled_leaves_the_list_and_undo_brings_it_back(
    desk: Desk, tmp_path: Path
) -> None:
    desk.did("release", "M-01", now=SATURDAY)
    assert "M-01" in desk.did("list", "unlabelled", now=SATURDAY)
    desk.did("print", "labels", "--label-mm", "18x10", "-o", tmp_path / "l.pdf", now=SATURDAY)
    assert desk.did("list", "unlabelled", now=SATURDAY) == "None.\n"
    desk.did("undo", now=SATURDAY)
    assert "M-01" in desk.did("list", "unlabelled", now=SATURDAY)


# --- slips, strips, sheet, pull list -----------------------------------------------------


def test_a_strip_is_the_groove_one_to_one(desk: Desk, tmp_path: Path) -> None:
    out = tmp_path / "strips.pdf"
    desk.did("print", "strips", "B8", "-o", out)
    places = {p.from_mm: p.to_mm for p in planned(desk, "SAT-08") if p.board == "B8"}
    assert places
    with pdfplumber.open(out) as pdf:
        page = pdf.pages[0]
        left = min(r["x0"] for r in page.rects)
        thick = [e for e in page.lines if e["linewidth"] > 0.7]
        at = sorted({round((e["x0"] - left) * MM, 1) for e in thick})
    for begin, end in places.items():
        assert any(abs(x - begin) <= WITHIN_MM for x in at)
        assert any(abs(x - end) <= WITHIN_MM for x in at)


def test_a_slip_says_who_since_when_and_when_to_test(desk: Desk, tmp_path: Path) -> None:
    out = tmp_path / "slips.pdf"
    desk.did("print", "slips", "-o", out)
    mounted = planned(desk, "SAT-08")
    with pdfplumber.open(out) as pdf:
        text = pdf.pages[0].extract_text()
        wide = {round((r["x1"] - r["x0"]) * MM, 1) for r in pdf.pages[0].rects}
    assert 47.5 in wide
    for p in mounted:
        assert p.specimen in text
        assert isinstance(p.due, date)
    assert "8.V.2027 · test from 23.V." in text


def test_a_session_is_one_page_and_says_what_the_plan_says(desk: Desk, tmp_path: Path) -> None:
    out = tmp_path / "sheet.pdf"
    assert desk.did("print", "sheet", "SUN-09", "-o", out) == f"session SUN-09 on 1 page: {out}\n"
    with pdfplumber.open(out) as pdf:
        text = pdf.pages[0].extract_text()
    for p in planned(desk, "SUN-09"):
        assert f"{p.specimen} {p.board} {p.from_mm}-{p.to_mm}" in text
    for head in ("Into the relaxing chamber", "Test first", "Pins to lay out", "Mind pins"):
        assert head in text


def test_the_pull_list_goes_by_box(desk: Desk, tmp_path: Path) -> None:
    desk.did("amend", "M-24", "box=Dose 2")
    desk.did("amend", "M-16", "box=Dose 2")
    out = tmp_path / "pull.pdf"
    desk.did("print", "pull", "-o", out)
    with pdfplumber.open(out) as pdf:
        text = pdf.pages[0].extract_text()
    first, rest = text.split("box not said")
    assert "Dose 2 (2)" in first
    assert first.index("M-16") < first.index("M-24")
    assert "M-26" in rest


def test_a_general_reader_reads_the_code_on_every_slip(desk: Desk, tmp_path: Path) -> None:
    """ISO/IEC 18004, read by zxing-cpp from the page as it is printed at 300 dpi."""
    out = tmp_path / "slips.pdf"
    desk.did("print", "slips", "-o", out)
    picture = pypdfium2.PdfDocument(out)[0].render(scale=300 / 72).to_pil()
    codes = zxingcpp.read_barcodes(picture)
    said = sorted(code.text for code in codes)
    assert said == sorted(f"wingrest:{p.specimen}" for p in planned(desk, "SAT-08"))
