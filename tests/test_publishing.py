"""What has to be changed in a calendar: laws that hold whatever is in it already."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar, Event

from scheduler.feed import ical as feed
from scheduler.feed.ical import LedgerRow, Reminder
from scheduler.feed.publishing import (
    EventChange,
    FoundEvent,
    Owner,
    Wanted,
    event_changes,
    wanted_events,
)

OURS = UUID("5b0c1a52-7a0e-4c7b-9a52-0f5d1c3f2d11")
THEIRS = UUID("0d3a4a6e-93e4-4d0c-8f0e-4a7f1f0e6c22")
SPRING = datetime(2027, 5, 1, 12, tzinfo=UTC)

days = st.dates(date(2027, 1, 1), date(2027, 12, 31))
words = st.text(max_size=60)


@st.composite
def reminders(draw: st.DrawFn) -> list[Reminder]:
    """A few tasks of a few kinds; the same keys recur from draw to draw."""
    keys = draw(
        st.lists(
            st.sampled_from("release/1 release/2 session/S, 1 chamber/;".split(" ")), unique=True
        )
    )
    told = []
    for key in keys:
        start = draw(days)
        title, text, place = "T" + draw(words), draw(words), draw(words)
        if key.startswith("session"):
            at = datetime(start.year, start.month, start.day, 9, tzinfo=UTC)
            told.append(Reminder(key, at, at + timedelta(hours=2), title, text, place))
        else:
            alarm = (timedelta(hours=-15),)
            told.append(Reminder(key, start, start + timedelta(days=1), title, text, place, alarm))
    return told


class Record:
    """A record that tells reminders, and its ledger of what was told."""

    def __init__(self, namespace: UUID = OURS) -> None:
        self.namespace = namespace
        self.ledger: Mapping[str, LedgerRow] = {}

    def tells(self, told: list[Reminder]) -> list[Wanted]:
        self.ledger = feed.update_ledger(told, self.ledger, self.namespace, SPRING)
        data = feed.calendar_bytes(told, self.ledger, self.namespace, "bench")
        return wanted_events(told, data, self.namespace)

    @property
    def owner(self) -> Owner:
        return Owner(self.namespace, frozenset(self.ledger))


def after(there: list[FoundEvent], todo: list[EventChange]) -> list[FoundEvent]:
    """A calendar after the changes; each is made once, to what was found."""
    kept = {f.href: f for f in there}
    for change in todo:
        if change.found is not None:
            assert kept.pop(change.found.href) is change.found
        if change.data is not None:
            href = change.found.href if change.found else f"/bench/{change.uid}.ics"
            assert href not in kept
            kept[href] = FoundEvent(href, None, change.data.decode())
    return list(kept.values())


def read(there: list[FoundEvent]) -> dict[str, Event]:
    found = [e for f in there for e in Calendar.from_ical(f.data).events]
    assert len({str(e["UID"]) for e in found}) == len(found)
    return {str(e["UID"]): e for e in found}


def without_marks(found: FoundEvent) -> FoundEvent:
    unfolded = found.data.replace("\r\n ", "").split("\r\n")
    return FoundEvent(found.href, found.etag, "\r\n".join(t for t in unfolded if t[:2] != "X-"))


@given(reminders(), reminders(), reminders())
def test_any_calendar_tells_the_record_after_one_run_and_nothing_is_left_to_do(
    foreign: list[Reminder], first: list[Reminder], second: list[Reminder]
) -> None:
    theirs = after([], event_changes(Record(THEIRS).tells(foreign), [], Owner(THEIRS, ())))
    record = Record()
    there = after(theirs, event_changes(record.tells(first), theirs, record.owner))
    wanted = record.tells(second)
    there = after(there, event_changes(wanted, there, record.owner))
    assert event_changes(wanted, there, record.owner) == []
    assert [f for f in there if f in theirs] == theirs
    told = {w.uid: w.event["SUMMARY"] for w in wanted}
    assert {u: e["SUMMARY"] for u, e in read(there).items() if u not in read(theirs)} == told
    assert after(there, event_changes([], there, record.owner)) == theirs


@given(reminders(), st.data())
def test_a_run_stopped_after_any_change_is_completed_by_the_next(
    told: list[Reminder], data: st.DataObject
) -> None:
    record = Record()
    wanted = record.tells(told)
    todo = event_changes(wanted, [], record.owner)
    there = after([], todo[: data.draw(st.integers(0, len(todo)))])
    there = after(there, event_changes(wanted, there, record.owner))
    assert event_changes(wanted, there, record.owner) == []
    assert set(read(there)) == {w.uid for w in wanted}


@given(reminders())
def test_the_same_words_are_known_again_where_a_server_drops_our_marks(
    told: list[Reminder],
) -> None:
    record = Record()
    wanted = record.tells(told)
    there = [without_marks(f) for f in after([], event_changes(wanted, [], record.owner))]
    assert event_changes(wanted, there, record.owner) == []


@given(reminders())
def test_a_record_that_forgot_what_it_told_knows_its_own_by_their_keys(
    told: list[Reminder],
) -> None:
    there = after([], event_changes(Record().tells(told), [], Owner(OURS, ())))
    assert after(there, event_changes([], there, Owner(OURS, ()))) == []
    assert event_changes([], there, Owner(THEIRS, ())) == []


ONE = Reminder("release/1", date(2027, 5, 8), date(2027, 5, 9), "Test", "", "", ())


@pytest.mark.parametrize(
    "damage",
    ["", "BEGIN:VCALENDAR", "BEGIN:VEVENT\nUID\nEND:VEVENT", "no calendar", "\x00", "UID:x\n"],
)
def test_a_foreign_event_that_nobody_can_read_is_passed_over(damage: str) -> None:
    record = Record()
    wanted = record.tells([ONE])
    odd = FoundEvent("/bench/odd.ics", None, damage)
    assert [c.found for c in event_changes(wanted, [odd], record.owner)] == [None]


def test_one_of_ours_that_was_damaged_is_written_anew() -> None:
    record = Record()
    wanted = record.tells([ONE])
    (there,) = after([], event_changes(wanted, [], record.owner))
    broken = FoundEvent(there.href, '"1"', there.data[: there.data.index("END:VCALENDAR")])
    (change,) = event_changes(wanted, [broken], record.owner)
    assert change.found is broken
    assert change.data is not None
    assert b"DTSTART;VALUE=DATE:20270508" in change.data


def test_the_uid_of_an_alarm_is_not_taken_for_that_of_its_event() -> None:
    # RFC 9074 4: an alarm may have a UID.
    record = Record()
    (one,) = record.tells([ONE])
    alarm = f"BEGIN:VALARM\nUID:{one.uid}\nACTION:DISPLAY\nEND:VALARM"
    text = f"BEGIN:VCALENDAR\nBEGIN:VEVENT\n{alarm}\nUID:dentist\nEND:VEVENT\nEND:VCALENDAR\n"
    assert [
        c.found for c in event_changes([one], [FoundEvent("/d.ics", None, text)], record.owner)
    ] == [None]


@pytest.mark.parametrize("fold", ["\r\n ", "\n\t"])
def test_a_folded_uid_is_read_whole(fold: str) -> None:
    record = Record()
    wanted = record.tells([ONE])
    (there,) = after([], event_changes(wanted, [], record.owner))
    uid = wanted[0].uid
    folded = there.data.replace(uid, uid[:9] + fold + uid[9:])
    assert event_changes(wanted, [FoundEvent(there.href, None, folded)], record.owner) == []
