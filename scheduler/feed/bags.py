"""What the calendar says of bags in the freezer: when they may be opened. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

from scheduler.drying.bags import Bag
from scheduler.feed.ical import Reminder, one_line
from scheduler.feed.reminders import CHAMBER_TASK, KEPT_AFTER_RELEASE, TIMED_ALARMS
from scheduler.words import cautions
from scheduler.words.wording import counted, moment


def bag_reminders(bags: Iterable[Bag], latest: datetime) -> tuple[Reminder, ...]:
    """Return one timed event a bag, from when it may be opened; old ones are left out.

    `latest` is the moment of the latest journal line. The moment it went in is its key.
    """
    return tuple(
        Reminder(
            key=f"bag/{bag.since.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}",
            start=bag.open_at.astimezone(UTC),
            end=bag.open_at.astimezone(UTC) + CHAMBER_TASK,
            title=f"The bag may be opened: {counted(len(bag.specimens), 'dry specimen')}",
            text="\n".join(
                [
                    f"In the freezer since {moment(bag.since)}. Let it warm up, then open it.",
                    one_line(f"In it: {', '.join(bag.specimens)}."),
                    "",
                    cautions.INTO_THE_CABINET,
                ]
            ),
            alarms=TIMED_ALARMS,
        )
        for bag in bags
        if latest < bag.open_at + KEPT_AFTER_RELEASE
    )
