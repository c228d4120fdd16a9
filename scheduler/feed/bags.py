"""What the calendar says of bags in the freezer: when they may be opened. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC

from scheduler.drying.bags import Bag
from scheduler.feed.bench_days import TIMED_ALARMS
from scheduler.feed.ical import Reminder, one_line
from scheduler.feed.in_chamber import TASK
from scheduler.feed.titles import as_counted, fitted
from scheduler.words import cautions
from scheduler.words.wording import moment


def bag_reminders(bags: Iterable[Bag]) -> tuple[Reminder, ...]:
    """Return one timed event per bag, at the moment from which it may be opened.

    An event's key is the moment at which its bag went into the freezer.
    """
    return tuple(
        Reminder(
            key=f"bag/{bag.since.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}",
            start=bag.open_at.astimezone(UTC),
            end=bag.open_at.astimezone(UTC) + TASK,
            title=fitted("Bag may be opened: ", as_counted(bag.specimens)),
            text="\n".join(
                [
                    f"In the freezer since {moment(bag.since, bag.open_at)}."
                    " Let it warm up, then open it.",
                    one_line(f"In it: {', '.join(bag.specimens)}."),
                    "",
                    cautions.INTO_THE_CABINET,
                ]
            ),
            alarms=TIMED_ALARMS,
        )
        for bag in bags
    )
