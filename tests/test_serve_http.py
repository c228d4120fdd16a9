"""The calendar over a real port: what RFC 9110 asks, and what readers cannot do without.

Sections in test ids are those of RFC 9110 unless another standard is named. Problems of calendar
programs that no standard covers are named by the case.
"""

from __future__ import annotations

import gzip
import importlib
from collections.abc import Iterator
from datetime import datetime, timedelta
from email.utils import format_datetime, parsedate_to_datetime
from pathlib import Path

import pytest
from bench_cases import Desk, weekend
from calendar_lint import lint
from icalendar import Calendar
from serve_cases import Served, serving

LATE_MAY = "2027-05-28T12:00"
FEEDS = (
    *("all", "releases", "chamber-and-sessions", "sessions", "chamber", "bench-days"),
    "room/study",
)
WRONG = "/calendar/AAAAAAAAAAAAAAAAAAAAAAAA/all.ics"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The first weekend, served; nobody changes it."""
    with serving(weekend(tmp_path_factory.mktemp("served")).store) as running:
        yield running


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


# --- what is sent -------------------------------------------------------------------------


@pytest.mark.parametrize("name", FEEDS)
def test_every_calendar_is_without_a_fault(served: Served, name: str) -> None:
    answer = served.feed(f"{name}.ics")
    assert answer.status == 200
    assert lint(answer.body) == []


def test_rfc_5545_8_1_type_and_charset(served: Served) -> None:
    assert served.feed().headers["content-type"] == "text/calendar; charset=utf-8"


def test_a_file_name_for_those_who_save_it(served: Served) -> None:
    said = served.feed("releases.ics").headers["content-disposition"]
    assert said == 'inline; filename="wingrest-releases.ics"'


def test_8_6_content_length(served: Served) -> None:
    answer = served.feed()
    assert int(answer.headers["content-length"]) == len(answer.body)


def test_6_6_1_date(served: Served) -> None:
    assert parsedate_to_datetime(served.feed().headers["date"])


def test_never_stored_by_others_and_always_asked_again(served: Served) -> None:
    assert served.feed().headers["cache-control"] == "private, no-cache"


@pytest.mark.parametrize("path", ["all.ics", ""])
def test_no_cookie(served: Served, path: str) -> None:
    assert "set-cookie" not in served.feed(path).headers


@pytest.mark.parametrize("accept", ["text/html", "application/json", "image/png;q=0.1", "*/*"])
def test_12_accept_is_not_looked_at(served: Served, accept: str) -> None:
    assert served.feed(Accept=accept).headers["content-type"].startswith("text/calendar")


def test_14_2_a_range_is_ignored(served: Served) -> None:
    assert served.feed(Range="bytes=0-9").status == 200


def test_a_query_behind_the_address_changes_nothing(served: Served) -> None:
    assert served.feed("all.ics?x=1").body == served.feed().body


def test_the_file_and_the_address_say_the_same(desk: Desk, tmp_path: Path) -> None:
    desk.did("feed", "-o", tmp_path / "all.ics")
    with serving(desk.store) as running:
        assert running.feed().body == (tmp_path / "all.ics").read_bytes()


# --- validators ---------------------------------------------------------------------------


def test_8_8_3_the_etag_is_strong(served: Served) -> None:
    assert served.feed().etag.startswith('"')


def test_same_record_same_bytes_same_etag(served: Served) -> None:
    first, second = served.feed(), served.feed()
    assert (first.body, first.etag) == (second.body, second.etag)


def test_each_calendar_has_an_etag_of_its_own(served: Served) -> None:
    assert len({served.feed(f"{name}.ics").etag for name in FEEDS}) == len(FEEDS)


@pytest.mark.parametrize("form", ["{0}", "W/{0}", '"other", {0}', '"a","b" , W/{0}', "*"])
def test_13_1_2_if_none_match_is_compared_weakly(served: Served, form: str) -> None:
    answer = served.feed(If_None_Match=form.format(served.feed().etag))
    assert (answer.status, answer.body) == (304, b"")


@pytest.mark.parametrize("form", ['"other"', 'W/"other"', "nonsense", ""])
def test_13_1_2_another_etag_is_answered_in_full(served: Served, form: str) -> None:
    assert served.feed(If_None_Match=form).status == 200


def test_13_2_2_the_etag_goes_before_the_date(served: Served) -> None:
    modified = served.feed().headers["last-modified"]
    answer = served.feed(If_None_Match='"other"', If_Modified_Since=modified)
    assert answer.status == 200


def test_13_1_3_not_modified_since(served: Served) -> None:
    modified = served.feed().headers["last-modified"]
    assert served.feed(If_Modified_Since=modified).status == 304


def test_13_1_3_modified_since(served: Served) -> None:
    modified = parsedate_to_datetime(served.feed().headers["last-modified"])
    before = format_datetime(modified - timedelta(seconds=1), usegmt=True)
    assert served.feed(If_Modified_Since=before).status == 200


def test_13_1_3_a_date_that_is_none_is_ignored(served: Served) -> None:
    assert served.feed(If_Modified_Since="yesterday").status == 200


@pytest.mark.parametrize("coding", ["identity", "gzip"])
def test_15_4_5_a_304_repeats_what_caches_need(served: Served, coding: str) -> None:
    whole = served.feed(Accept_Encoding=coding)
    short = served.feed(Accept_Encoding=coding, If_None_Match=whole.etag)
    assert short.status == 304
    for name in ("etag", "cache-control", "vary"):
        assert short.headers[name] == whole.headers[name]
    assert "content-type" not in short.headers


# --- gzip ---------------------------------------------------------------------------------


def test_8_4_gzip(served: Served) -> None:
    plain, packed = served.feed(), served.feed(Accept_Encoding="gzip")
    assert packed.headers["content-encoding"] == "gzip"
    assert gzip.decompress(packed.body) == plain.body
    assert len(packed.body) < len(plain.body) / 3


def test_8_8_3_3_gzip_is_another_representation(served: Served) -> None:
    assert served.feed(Accept_Encoding="gzip").etag != served.feed().etag


def test_8_8_3_3_the_etag_of_one_coding_is_none_of_the_other(served: Served) -> None:
    packed = served.feed(Accept_Encoding="gzip").etag
    assert served.feed(If_None_Match=packed).status == 200


@pytest.mark.parametrize("coding", ["", "gzip", "br"])
def test_12_5_5_vary(served: Served, coding: str) -> None:
    assert served.feed(Accept_Encoding=coding).headers["vary"] == "Accept-Encoding"


@pytest.mark.parametrize("coding", ["gzip;q=0", "identity", "br, zstd", "*;q=0"])
def test_12_5_3_no_gzip_for_those_who_do_not_want_it(served: Served, coding: str) -> None:
    assert "content-encoding" not in served.feed(Accept_Encoding=coding).headers


# --- methods ------------------------------------------------------------------------------


@pytest.mark.parametrize("coding", ["identity", "gzip"])
def test_9_3_2_head_is_get_without_its_body(served: Served, coding: str) -> None:
    got = served.feed(Accept_Encoding=coding)
    head = served.feed(method="HEAD", Accept_Encoding=coding)
    assert (head.status, head.body) == (200, b"")
    without_date = {k: v for k, v in got.headers.items() if k != "date"}
    assert {k: v for k, v in head.headers.items() if k != "date"} == without_date


def test_9_3_2_head_with_an_etag(served: Served) -> None:
    answer = served.feed(method="HEAD", If_None_Match=served.feed().etag)
    assert (answer.status, answer.body) == (304, b"")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_15_5_6_nothing_but_reading(served: Served, method: str) -> None:
    answer = served.feed(method=method)
    assert answer.status == 405
    assert {"GET", "HEAD"} <= set(answer.headers["allow"].split(", "))


# --- who may read -------------------------------------------------------------------------


@pytest.mark.parametrize("method", ["GET", "HEAD"])
@pytest.mark.parametrize(
    "headers",
    [{}, {"If_None_Match": "*"}, {"If_Modified_Since": "Sat, 08 May 2077 12:00:00 GMT"}],
    ids=["plain", "if-none-match", "if-modified-since"],
)
def test_a_wrong_token_is_404_before_anything_else(
    served: Served, method: str, headers: dict[str, str]
) -> None:
    answer = served.ask(WRONG, method, **headers)
    assert answer.status == 404
    assert "location" not in answer.headers
    assert "etag" not in answer.headers
    assert b"VCALENDAR" not in answer.body


def test_a_wrong_token_tells_nothing_of_what_exists(served: Served) -> None:
    there, nowhere = served.ask(WRONG), served.ask(WRONG.replace("all", "none"))
    assert (there.status, there.body) == (nowhere.status, nowhere.body)


@pytest.mark.parametrize(
    "name",
    ["none.ics", "all", "all.ics/", "/all.ics", "room/cellar.ics", "room/.ics", "../all.ics"],
)
def test_what_is_not_there_is_404(served: Served, name: str) -> None:
    assert served.feed(name).status == 404


def test_a_room_is_found_whatever_its_case(served: Served) -> None:
    assert served.feed("room/STUDY.ics").body == served.feed("room/study.ics").body


# --- as the record changes ----------------------------------------------------------------


def test_a_change_changes_bytes_etag_and_date(desk: Desk) -> None:
    with serving(desk.store) as running:
        before = running.feed()
        desk.did("release", "B5", now=LATE_MAY)
        running.feed_after(before)
        after = running.feed(If_None_Match=before.etag)
        assert after.status == 200
        assert after.etag != before.etag
        assert modified(after.headers) > modified(before.headers)
        assert running.feed(If_Modified_Since=before.headers["last-modified"]).status == 200


def test_taken_back_the_date_still_does_not_go_back(desk: Desk) -> None:
    with serving(desk.store) as running:
        told = [running.feed()]
        for words in (["release", "B5"], ["undo"]):
            desk.did(*words, now=LATE_MAY)
            told.append(running.feed_after(told[-1]))  # --now stands still meanwhile
        dates = [modified(answer.headers) for answer in told]
        assert dates == sorted(set(dates))


def test_what_changes_no_event_changes_no_bytes(desk: Desk) -> None:
    with serving(desk.store, now=LATE_MAY) as running:
        before = running.feed()
        folder = desk.store.parent / "one more"
        folder.mkdir()
        (folder / "specimens.csv").write_text(
            "specimen,state,body_mm\nX-1,frozen,5\n", encoding="utf-8"
        )
        assert "new or changed" in desk.did("load", folder, now=LATE_MAY)
        desk.did("feed", "-o", folder / "x.ics", now=LATE_MAY)
        assert running.feed(If_None_Match=before.etag).status == 304


def test_another_server_of_the_same_record_says_the_same(desk: Desk) -> None:
    with serving(desk.store) as running:
        first = running.feed()
    with serving(desk.store, now="2027-05-05T23:59") as running:
        second = running.feed()
    assert second.body == first.body
    assert second.etag == first.etag
    assert second.headers["last-modified"] == first.headers["last-modified"]


def test_a_room_feed_keeps_its_date_when_another_room_changes(desk: Desk) -> None:
    with serving(desk.store, now=LATE_MAY) as running:
        everything = {name: running.feed(f"{name}.ics") for name in FEEDS}
        desk.did("release", "B8", now=LATE_MAY)
        running.feed_after(everything["all"])
        now = {name: running.feed(f"{name}.ics") for name in FEEDS}
    for name in FEEDS:
        same = now[name].body == everything[name].body
        grown = modified(now[name].headers) > modified(everything[name].headers)
        assert same is not grown
    unchanged = [name for name in FEEDS if now[name].body == everything[name].body]
    assert unchanged == ["chamber-and-sessions", "sessions", "chamber", "room/study"]


def modified(headers: object) -> datetime:
    assert isinstance(headers, dict)
    return parsedate_to_datetime(headers["last-modified"])


# --- readers ------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FEEDS)
@pytest.mark.parametrize("reader", ["ics", "vobject", "ical"])
def test_readers_agree_on_every_event(served: Served, reader: str, name: str) -> None:
    text = served.feed(f"{name}.ics", Accept_Encoding="identity").body.decode()
    wanted = {
        (str(e["UID"]), str(e["SUMMARY"]), f"{e.start:%Y-%m-%d}")
        for e in Calendar.from_ical(text).events
    }
    assert wanted
    assert READERS[reader](text) == wanted


def by_ics(text: str) -> set[tuple[str, str, str]]:
    calendar = importlib.import_module("ics").Calendar(text)
    return {(e.uid, e.name, e.begin.format("YYYY-MM-DD")) for e in calendar.events}


def by_vobject(text: str) -> set[tuple[str, str, str]]:
    calendar = importlib.import_module("vobject").readOne(text)
    return {
        (e.uid.value, e.summary.value, f"{e.dtstart.value:%Y-%m-%d}") for e in calendar.vevent_list
    }


def by_ical(text: str) -> set[tuple[str, str, str]]:
    stream = importlib.import_module("ical.calendar_stream").IcsCalendarStream
    events = stream.calendar_from_ics(text).events
    return {(e.uid, e.summary, f"{e.dtstart:%Y-%m-%d}") for e in events}


READERS = {"ics": by_ics, "vobject": by_vobject, "ical": by_ical}


def test_kinds_part_everything_between_them(served: Served) -> None:
    uids = {
        name: {str(e["UID"]) for e in Calendar.from_ical(served.feed(f"{name}.ics").body).events}
        for name in FEEDS
    }
    assert uids["releases"] | uids["chamber-and-sessions"] == uids["all"]
    assert not uids["releases"] & uids["chamber-and-sessions"]
    assert uids["sessions"] | uids["chamber"] == uids["chamber-and-sessions"]
    # What is still due in one room is an event of its own.
    assert len(uids["room/study"] - uids["releases"]) == 1
    assert uids["chamber-and-sessions"] < uids["bench-days"]
