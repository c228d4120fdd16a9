"""Where each reading came from, and what is known of sensors: corrected, in conflict, stuck."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from bench_cases import Desk, local, seen, weekend
from hypothesis import given
from hypothesis import strategies as st
from verb_cases import changes_nothing, image, journal, recorded, refused, snapshot

from scheduler.air.hours import Hours
from scheduler.air.sensors import Offset, heard
from scheduler.deeds.reading_days import whence
from scheduler.deeds.sensors import SALT_PCT
from scheduler.looks.sensor_worries import sensor_worries
from scheduler.record.migrations import MIGRATIONS
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.words.records import Dial, Room

BEGIN = datetime(2027, 5, 3)  # noqa: DTZ001
DAY = date(2027, 5, 3)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def log(
    folder: Path, name: str, humidity: Callable[[int], float], hours: int = 24, skip: int = 0
) -> str:
    """A logger's file from midnight of 3 May 2027 on, by the hour."""
    lines = ["Time,RH (%),Temp (C)"]
    lines += [
        f"{BEGIN + timedelta(hours=n):%Y-%m-%d %H:%M},{humidity(n):.1f},20.0"
        for n in range(skip, hours)
    ]
    path = folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return str(path)


def waves(mean: float) -> Callable[[int], float]:
    return lambda n: mean + (n % 6) / 2


def air_of(desk: Desk) -> tuple[float | None, ...]:
    return Hours(snapshot(desk).air_days["study"][DAY]).rh_pct


def words(text: str) -> str:
    return " ".join(text.split())


# The preview


def test_a_script_without_yes_sees_the_preview_and_records_nothing(
    desk: Desk, tmp_path: Path
) -> None:
    before = image(desk)
    run = desk("readings", log(tmp_path, "a.csv", waves(60)), "--room", "study")
    assert (run.status, image(desk)) == (2, before)
    assert "a.csv: 24 readings, 3 May 2027 00:00 to 3 May 2027 23:00" in run.out
    assert "Give --yes to record it" in run.problems


def test_what_is_open_is_asked_even_with_yes(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "unclear.csv"
    path.write_text("Time,RH\n03/04/2027 10:00,61.5\n", encoding="utf-8")
    run = desk("readings", path, "--room", "study", "--yes")
    assert run.status == 2
    assert "Answer dates=day-first" in run.problems
    recorded(desk, "readings", str(path), "--room", "study", "--answer", "dates=day-first", "--yes")
    assert list(snapshot(desk).air_days["study"]) == [date(2027, 4, 3)]


# Where it came from


def test_each_reading_keeps_its_file_and_row(desk: Desk, tmp_path: Path) -> None:
    recorded(desk, "readings", log(tmp_path, "a.csv", waves(60), 12), "--room", "study", "--yes")
    recorded(
        desk, "readings", log(tmp_path, "b.csv", waves(60), 24, skip=12), "--room", "study", "--yes"
    )
    with Store(desk.store) as store:
        assert whence(store.db, "study", "logger", DAY, 0) == ("a.csv", 2)
        assert whence(store.db, "study", "logger", DAY, 11) == ("a.csv", 13)
        assert whence(store.db, "study", "logger", DAY, 12) == ("b.csv", 2)


def test_a_corrected_file_replaces_what_that_logger_said(desk: Desk, tmp_path: Path) -> None:
    desk.did("readings", log(tmp_path, "a.csv", waves(60)), "--room", "study", "--yes")
    better = log(tmp_path, "b.csv", waves(63))
    asked = desk("readings", better, "--room", "study", "--yes")
    assert asked.status == 2
    assert "24 of 24 values differ, by 3.0 points in the middle, 3.0 at most" in asked.problems
    run = recorded(desk, "readings", better, "--room", "study", "--logger", "logger", "--yes")
    assert "24 of 24 values differ, by 3.0 points" in words(run.out)
    assert air_of(desk)[0] == 63
    desk.did("undo")
    assert air_of(desk)[0] == 60


def test_what_a_corrected_file_no_longer_has_is_gone_and_what_it_is_silent_of_stays(
    desk: Desk, tmp_path: Path
) -> None:
    desk.did("readings", log(tmp_path, "a.csv", waves(60), 48), "--room", "study", "--yes")
    lines = Path(log(tmp_path, "b.csv", waves(60), 24)).read_text(encoding="utf-8").splitlines()
    del lines[6]  # one hour is no gap of a file that speaks every hour
    (tmp_path / "b.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    run = desk("readings", tmp_path / "b.csv", "--room", "study", "--logger", "logger", "--yes")
    assert "1 recorded ones are not in the file, and are taken out" in words(run.out)
    assert air_of(desk)[5] is None
    assert len(snapshot(desk).air_days["study"]) == 2


def test_the_preview_says_whose_dates_a_file_will_move(desk: Desk, tmp_path: Path) -> None:
    run = desk("readings", log(tmp_path, "a.csv", waves(60), 66), "--room", "study")
    assert run.status == 2
    assert "M-05: test from" in run.out


def test_a_batch_folder_that_contradicts_the_record_is_refused(desk: Desk, tmp_path: Path) -> None:
    folder = tmp_path / "batch"
    folder.mkdir()
    (folder / "rooms.csv").write_text("room,regime,rh_pct\nstudy,room,52\n", encoding="utf-8")
    log(folder, "readings-study.csv", waves(60))
    desk.did("readings", log(tmp_path, "a.csv", waves(75)), "--room", "study", "--yes")
    said = words(refused(desk, "load", str(folder), status=2))
    assert "differs from what was read in study before" in said


# Two loggers of one room


@pytest.fixture
def two(desk: Desk, tmp_path: Path) -> Desk:
    desk.did("readings", log(tmp_path, "a.csv", waves(60)), "--room", "study", "--yes")
    path = log(tmp_path, "b.csv", waves(75))
    desk.did(
        "readings", path, "--room", "study", "--yes",
        "--answer", "logger=another", "--answer", "agreement=as-read",
    )  # fmt: skip
    return desk


def test_a_second_logger_is_asked_about_and_kept_by_name(desk: Desk, tmp_path: Path) -> None:
    desk.did("readings", log(tmp_path, "a.csv", waves(60)), "--room", "study", "--yes")
    path = log(tmp_path, "b.csv", waves(75))
    asked = desk("readings", path, "--room", "study", "--yes").problems
    assert "Which logger wrote this file?" in asked
    asked = desk("readings", path, "--room", "study", "--yes", "--logger", "shelf").problems
    assert "The humidity is 15 points above logger" in asked
    desk.did(
        "readings", path, "--room", "study", "--yes",
        "--logger", "shelf", "--answer", "agreement=as-read",
    )  # fmt: skip
    assert set(snapshot(desk).loggers["study"]) == {"logger", "shelf"}
    assert "all known already" in changes_nothing(desk, "readings", path, "--room", "study")


def test_of_two_the_damper_counts_until_one_is_named(two: Desk) -> None:
    assert air_of(two)[0] == 75
    assert "logger counts" in recorded(two, "air", "study", "--logger", "logger").out
    assert air_of(two)[0] == 60
    recorded(two, "air", "study", "--logger", "damper")
    assert air_of(two)[0] == 75


def test_two_that_disagree_are_a_worry_until_one_is_named(two: Desk) -> None:
    def told() -> str:
        snap = snapshot(two)
        return " ".join(w.text for w in sensor_worries(seen(snap)))

    assert "logger and logger 2 are 15 points apart" in told()
    assert "The damper one counts, logger 2" in told()
    two.did("air", "study", "--logger", "logger 2")
    assert "points apart" not in told()


humid = st.lists(st.floats(5, 100), min_size=24, max_size=24)


@given(humid, humid, st.integers(0, 23), st.floats(0, 30))
def test_a_damper_reading_never_makes_the_room_drier(
    first: list[float], second: list[float], hour: int, more: float
) -> None:
    def room(values: list[float]) -> tuple[float | None, ...]:
        days = {
            name: {DAY: Hours.of(v, [20.0] * 24).packed}
            for name, v in (("a", values), ("b", second))
        }
        return Hours(heard(days, {})[DAY]).rh_pct

    damper = list(first)
    damper[hour] = min(100.0, damper[hour] + more)
    for before, after in zip(room(first), room(damper), strict=True):
        assert before is not None
        assert after is not None
        assert after >= before


# Corrections


def test_a_correction_holds_from_its_hour_on_and_leaves_what_was_read(
    desk: Desk, tmp_path: Path
) -> None:
    desk.did("readings", log(tmp_path, "a.csv", waves(60)), "--room", "study", "--yes")
    run = recorded(desk, "air", "study", "--correct", "+3", "--at", "2027-05-03T12:30")
    assert "study: +3 points on what its logger says, from Mon 3 May 12:30 on" in run.out
    assert (air_of(desk)[11], air_of(desk)[12]) == (62.5, 63.0)
    (raw,) = snapshot(desk).loggers["study"].values()
    assert Hours(raw[DAY]).rh_pct[12] == 60.0
    recorded(desk, "air", "study", "--correct", "0", "--at", "2027-05-03T18:00")
    assert (air_of(desk)[17], air_of(desk)[18]) == (65.5, 60.0)
    changes_nothing(desk, "air", "study", "--correct", "0", "--at", "2027-05-03T18:00")


def test_what_is_read_later_is_corrected_too_and_dates_move(desk: Desk, tmp_path: Path) -> None:
    desk.did("readings", log(tmp_path, "a.csv", waves(60), 24), "--room", "study", "--yes")
    said = desk.did("air", "study", "--correct", "+12", "--at", "2027-05-03T00:00")
    assert "test from" in said
    more = log(tmp_path, "b.csv", waves(60), 48, skip=24)
    desk.did("readings", more, "--room", "study", "--yes")
    tomorrow = snapshot(desk).air_days["study"][DAY + timedelta(days=1)]
    assert Hours(tomorrow).rh_pct[0] == 72


def test_a_dial_is_corrected_where_no_logger_hangs(desk: Desk) -> None:
    desk.did("air", "north", "60", "--at", "2027-05-04T10:00")
    recorded(desk, "air", "north", "--correct", "+4", "--at", "2027-05-04T00:00")
    (dial,) = snapshot(desk).dials_of("north")
    assert dial.rh_pct == 64


def test_a_salt_test_is_reckoned_to_what_salt_gives(desk: Desk, tmp_path: Path) -> None:
    desk.did("readings", log(tmp_path, "a.csv", waves(60)), "--room", "study", "--yes")
    said = desk.did("air", "study", "--salt", "72.5", "--at", "2027-05-03T00:00")
    assert "+3 points" in said
    assert air_of(desk)[0] == 63


@pytest.mark.parametrize(("temp_c", "published"), [(0, 74.9), (10, 75.7), (20, 75.7), (30, 75.6)])
def test_the_salt_figure_is_the_published_one(temp_c: int, published: float) -> None:
    # 0 and 30 deg C: Wexler and Hasegawa 1954, abstract; 10 and 20: Padfield's table.
    assert abs(SALT_PCT - published) <= 0.6, temp_c


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["study", "--correct", "nan"], "is no number"),
        (["study", "--correct", "80"], "more than 50 points"),
        (["study", "--correct", "+3"], "nothing was read in study yet"),
        (["study", "--logger", "attic"], "study has no logger 'attic'"),
        (["study", "60", "--correct", "+3"], "give one of RH, --correct and --salt"),
        (["study", "--salt", "12"], "a sensor reads 50 to 100 %"),
        (["study"], "what about the air of study?"),
    ],
)
def test_what_makes_no_sense_is_refused(desk: Desk, options: list[str], said: str) -> None:
    assert said in words(refused(desk, "air", *options, status=2))


def test_with_two_loggers_a_correction_names_one(two: Desk) -> None:
    assert "Say which with --logger NAME" in refused(two, "air", "study", "--correct=-5", status=2)
    recorded(
        two, "air", "study", "--correct", "-5", "--logger", "logger 2", "--at", "2027-05-03T00:00"
    )
    assert air_of(two)[0] == 70


@given(humid, st.floats(-50, 50))
def test_a_corrected_humidity_stays_within_0_and_100(values: list[float], points: float) -> None:
    days = {"a": {DAY: Hours.of(values, [20.0] * 24).packed}}
    offsets = {"a": [Offset(BEGIN - timedelta(days=1), points)]}
    assert all(0 <= rh <= 100 for rh in Hours(heard(days, offsets)[DAY]).rh_pct if rh is not None)


# Sensors that cannot be believed


def measured(
    *loggers: tuple[str, str, Callable[[int], float]], days: int = 40, dials: tuple[Dial, ...] = ()
) -> Snapshot:
    """Rooms with loggers that hung there since 3 May 2027: room, logger, humidity by the hour."""
    held: dict[str, dict[str, dict[date, bytes]]] = {}
    for room, name, humidity in loggers:
        held.setdefault(room, {})[name] = {
            DAY + timedelta(days=d): Hours.of(
                [humidity(24 * d + h) for h in range(24)], [20.0] * 24
            ).packed
            for d in range(days)
        }
    rooms = {room: Room(room, "room", 55.0) for room in ("attic", "study")}
    return replace(Snapshot(), rooms=rooms, loggers=held, dials=dials)


def worries(snap: Snapshot) -> list[str]:
    return [w.text for w in sensor_worries(seen(snap, local("2027-06-12T00:00")))]


def test_a_sensor_that_never_changes_is_stuck() -> None:
    (told,) = worries(measured(("study", "logger", lambda _: 61.5)))
    assert told.startswith(
        "study's logger has said 61.5 % for 40 days without a change: it is stuck"
    )
    assert not worries(measured(("study", "logger", waves(61))))


@pytest.mark.parametrize("low", [3.0, 0.6])
def test_a_room_as_dry_as_no_room_is_implausible(low: float) -> None:
    (told,) = worries(measured(("study", "logger", lambda n: low + n % 3 / 10)))
    assert f"study's logger said {low:g} %: no ordinary room is so dry" in told
    dial = Dial("attic", local("2027-06-10T10:00"), low)
    (told,) = worries(replace(measured(), dials=(dial,)))
    assert told.startswith("attic's dial said")


def test_sensors_that_drift_apart_are_named() -> None:
    snap = measured(("study", "a", waves(50)), ("study", "b", lambda n: waves(50)(n) + n / 100))
    (told,) = worries(snap)
    assert "a and b drift apart" in told


def read_off(room: str, *humidities: float) -> tuple[Dial, ...]:
    return tuple(Dial(room, local(f"2027-06-0{n}T10:00"), rh) for n, rh in enumerate(humidities, 1))


def test_a_logger_far_from_the_dial_is_named() -> None:
    snap = measured(("study", "logger", waves(50)), dials=read_off("study", 66, 67, 66))
    (told,) = worries(snap)
    assert "points below the dial: one of them is wrong" in told


def test_loggers_that_follow_each_others_dials_are_swapped() -> None:
    dials = (*read_off("study", 76, 77), *read_off("attic", 51, 52))
    snap = measured(("study", "logger", waves(50)), ("attic", "logger", waves(75)), dials=dials)
    (told,) = worries(snap)
    assert "The loggers of attic and study read like each other's dials" in told


# Records of before


def test_a_record_of_before_keeps_its_readings_and_its_old_lines_can_be_taken_back(
    tmp_path: Path,
) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    (tmp_path / "rooms.csv").write_text("room,regime,rh_pct\nstudy,room,52\n", encoding="utf-8")
    version = next(n for n, m in enumerate(MIGRATIONS) if "logger_day" in m)
    old = sqlite3.connect(desk.store, isolation_level=None)
    for migration in MIGRATIONS[:version]:
        old.executescript(migration)
    old.execute(f"PRAGMA user_version = {version}")
    old.execute("INSERT INTO meta(key, value) VALUES ('namespace', 'n')")
    hours = Hours.of([60.0] * 24, [20.0] * 24).packed
    for line, sql in enumerate(
        (
            "INSERT INTO room(room, regime, rh_pct) VALUES ('study', 'room', 52)",
            "INSERT INTO room_day(room, day, readings, hours) VALUES ('study', '2027-05-03', x'00',"
            f" x'{hours.hex()}')",
        ),
        1,
    ):
        old.execute(
            "INSERT INTO journal(line, recorded_at, happened_at, command, text)"
            " VALUES (?, '2027-05-04T10:00:00+00:00', '2027-05-04T10:00:00+00:00', 'x', 'x')",
            (line,),
        )
        old.execute("INSERT INTO writing(one, line) VALUES (1, ?)", (line,))
        old.execute(sql)
        old.execute("DELETE FROM writing")
    old.close()
    assert Hours(snapshot(desk).air_days["study"][DAY]).rh_pct[0] == 60.0
    before = image(desk)
    desk.did("undo", "2")
    assert "study" not in snapshot(desk).air_days or not snapshot(desk).air_days["study"]
    desk.did("undo", str(journal(desk)[-1].line))
    assert image(desk) == before
