"""A specimen's page on the phone: found by words or by its slip's code, with its photos."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from bench_cases import Desk, planned, weekend
from page_cases import Phone, phones
from verb_cases import journal, recorded, refused

from scheduler.record.pictures import photos_folder

JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF" + bytes(200)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.fixture
def phone(desk: Desk) -> Phone:
    return phones(desk)[0]


def sent(phone: Phone, specimen: str, data: bytes) -> int:
    """What a phone's camera sends from a specimen's page; the status that it is answered with."""
    phone.look(f"specimen?name={specimen}")
    form = phone.form("Keep photo")
    fields: dict[str, object] = {n: v for n, v in form.fields if n != "picture"}
    fields["picture"] = (io.BytesIO(data), "photo.jpg")
    return phone._client.post(
        form.action, data=fields, content_type="multipart/form-data"
    ).status_code


def test_its_page_says_where_it_is_what_is_next_and_what_was_recorded(
    desk: Desk, phone: Phone
) -> None:
    first = planned(desk, "SAT-08")[0]
    page = phone.look(f"specimen?name={first.specimen}")
    assert f"then mount on {first.board}" in page
    assert "loaded first_weekend" in page
    assert phone.look("specimen?name=m-07").count("on B8 at 0-40 mm") == 1


def test_it_is_found_by_words_and_by_the_code_on_its_slip(phone: Phone) -> None:
    assert "specimen?name=M-24" in phone.look("find?q=sphinx+lig")
    assert "specimen?name=M-24" in phone.look("find?q=wingrest:M-24")
    assert "Similar" in phone.look("find?q=sphynx")


def test_what_is_typed_is_never_taken_for_a_tag(phone: Phone) -> None:
    assert "<script>alert" not in phone.look("find?q=<script>alert(1)</script>")


def test_a_photo_is_kept_beside_the_record_and_shown(desk: Desk, phone: Phone) -> None:
    assert sent(phone, "M-14", JPEG) == 303
    (file,) = photos_folder(desk.store).iterdir()
    assert file.read_bytes() == JPEG
    assert f"photo?file={file.name}" in phone.look("specimen?name=M-14")
    answer = phone._client.get(f"{phone.start}photo?file={file.name}")
    assert (answer.status_code, answer.mimetype, answer.data) == (200, "image/jpeg", JPEG)
    assert journal(desk)[-1].text == f"kept a photo of M-14: {file.name}"
    assert file.name in desk.did("show", "M-14")


def test_a_photo_may_be_larger_than_any_other_form(
    phone: Phone,
) -> None:
    assert sent(phone, "M-14", JPEG + bytes(450_000)) == 303
    phone.look("board?name=B8")
    assert phone.send(phone.form("Stiff M-07"), more="x" * 100_000).status_code == 413


@pytest.mark.parametrize("data", [b"", b"<html>", b"GIF89a" + bytes(50)], ids=repr)
def test_what_is_no_picture_is_not_kept(desk: Desk, phone: Phone, data: bytes) -> None:
    assert sent(phone, "M-14", data) == 400
    assert not photos_folder(desk.store).exists()


@pytest.mark.parametrize("file", ["../record.sqlite", "record.sqlite", "", "..%2Frecord.sqlite"])
def test_no_other_file_is_sent(desk: Desk, phone: Phone, file: str) -> None:
    photos_folder(desk.store).mkdir()
    assert phone._client.get(f"{phone.start}photo?file={file}").status_code == 404


def test_a_photo_from_the_desk_is_the_same_and_twice_is_once(desk: Desk, tmp_path: Path) -> None:
    picture = tmp_path / "mine.jpg"
    picture.write_bytes(JPEG)
    recorded(desk, "photo", "m-14", str(picture))
    assert "kept already" in desk.did("photo", "M-14", picture)
    text = tmp_path / "no.txt"
    text.write_text("no picture", "utf-8")
    assert "no picture" in refused(desk, "photo", "M-14", str(text), status=2)


def test_an_export_takes_the_photos_along_and_brings_them_back(desk: Desk, tmp_path: Path) -> None:
    picture = tmp_path / "mine.jpg"
    picture.write_bytes(JPEG)
    desk.did("photo", "M-14", picture)
    assert "1 photo in" in desk.did("export", tmp_path / "all")
    other = Desk(tmp_path / "elsewhere" / "other.sqlite")
    other.store.parent.mkdir()
    other.did("load", tmp_path / "all")
    (kept,) = photos_folder(other.store).iterdir()
    assert kept.read_bytes() == JPEG
    assert kept.name in other.did("show", "M-14")
