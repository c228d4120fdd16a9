"""Photos outlive the disk as the record does: with every snapshot, every backup, every restore."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from bench_cases import Desk, weekend

from scheduler.record.pictures import copy_pictures, photos_folder
from scheduler.record.snapshots import Snapshots

JPEG = b"\xff\xd8\xff\xe0 invented, and no picture of anything"
MORNING, NOON = "2027-05-08T08:00", "2027-05-08T12:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    folder = tmp_path / "here"
    folder.mkdir()
    return weekend(folder)


def photographed(desk: Desk, specimen: str, data: bytes, now: str = MORNING) -> str:
    """Keep a photo; return the name of its file."""
    picture = desk.store.parent / "taken.jpg"
    picture.write_bytes(data)
    said = desk.did("photo", specimen, picture, now=now)
    return said.split()[-1]


def test_a_snapshot_takes_the_photos_along_and_a_new_disk_gets_them_back(
    desk: Desk, tmp_path: Path
) -> None:
    second = tmp_path / "second disk"
    second.mkdir()
    desk.did("backup", "--into", second)
    files = [photographed(desk, "M-14", JPEG + bytes([n])) for n in (1, 2)]
    desk.did("backup", now=NOON)
    shutil.rmtree(desk.store.parent)  # the disk died
    said = desk.did("restore", max(second.glob("*.sqlite.gz")))
    assert "2 photos came back with it" in said
    for number, file in enumerate(files, 1):
        assert (photos_folder(desk.store) / file).read_bytes() == JPEG + bytes([number])
    assert "2 photos, all there" in desk("check").out


def test_a_photo_that_is_not_to_be_found_is_named(desk: Desk) -> None:
    file = photographed(desk, "M-14", JPEG)
    desk.did("backup", now=NOON)
    for folder in (photos_folder(desk.store), Snapshots(desk.store).photos()):
        shutil.rmtree(folder)
    assert f"not in {photos_folder(desk.store)}: {file}" in " ".join(desk("check").out.split())
    run = desk("restore", str(Snapshots(desk.store).listed()[-1].file))
    assert run.status == 0
    assert f"1 photo not found beside it: {file}" in run.problems


def test_a_backup_in_a_file_of_ones_own_has_its_photos_beside_it(
    desk: Desk, tmp_path: Path
) -> None:
    file = photographed(desk, "M-14", JPEG)
    stick = tmp_path / "stick"
    stick.mkdir()
    desk.did("backup", stick / "may.sqlite.gz")
    assert (stick / "may-photos" / file).read_bytes() == JPEG
    other = Desk(tmp_path / "elsewhere" / "record.sqlite")
    other.did("restore", stick / "may.sqlite.gz")
    assert (photos_folder(other.store) / file).read_bytes() == JPEG


def test_on_one_disk_a_photo_and_its_copy_take_room_once(desk: Desk) -> None:
    file = photographed(desk, "M-14", JPEG)
    desk.did("backup", now=NOON)
    copy = Snapshots(desk.store).photos() / file
    assert os.path.samefile(copy, photos_folder(desk.store) / file)
    (photos_folder(desk.store) / file).unlink()
    assert copy.read_bytes() == JPEG


def test_what_a_copy_did_not_reach_in_time_it_takes_up_the_next_time(tmp_path: Path) -> None:
    source, into = tmp_path / "photos", tmp_path / "copies"
    source.mkdir()
    for n in range(3):
        (source / f"{n}.jpg").write_bytes(JPEG)
    with pytest.raises(TimeoutError):
        copy_pictures(source, into, most_seconds=-1.0)
    (source / ".half.part").write_bytes(b"being written")
    assert copy_pictures(source, into) == 3
    assert sorted(p.name for p in into.iterdir()) == ["0.jpg", "1.jpg", "2.jpg"]
