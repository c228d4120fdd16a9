"""Worries about how a record is kept.

No snapshot holds the work of a week, or the record lies where two computers can spoil it.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from scheduler.looks.worry import Worry
from scheduler.record.ground import Ground
from scheduler.record.snapshots import Snapshots
from scheduler.words import wording

OLD = timedelta(days=7)


def no_snapshot(snapshots: Snapshots, latest: datetime | None, now: datetime) -> Worry | None:
    """Return a worry when the last snapshot failed, or is a week old and does not hold all.

    `latest` is when the latest journal line was recorded; `now` is local to the record.
    """
    if latest is None:
        return None
    tried = snapshots.last_try()
    if tried is not None and tried.failed is not None:
        return _worry(f"no snapshot {_since(snapshots, now)}: {tried.failed}")
    if tried is None:
        late = now - latest > OLD
        return _worry("no snapshot of the record was ever taken") if late else None
    if latest > tried.at and now - tried.at > OLD:
        when = wording.weekday(tried.at.astimezone(now.tzinfo), now)
        return _worry(f"what was recorded since {when} is in no snapshot")
    return None


def lies_badly(ground: Ground) -> Worry | None:
    """Return a worry when a record lies on a network disk or in a synchronised folder."""
    if ground.network:
        text = f"the record lies on a network disk ({ground.network})"
    elif ground.synced:
        text = f"the record lies in {ground.synced}, which is kept in step with other computers"
    else:
        return None
    return Worry("place", (), f"{text}: two computers can spoil it", "wingrest check")


def _since(snapshots: Snapshots, now: datetime) -> str:
    good = snapshots.latest()
    if good is None:
        return "yet"
    return f"since {wording.weekday(good.taken_at.astimezone(now.tzinfo), now)}"


def _worry(text: str) -> Worry:
    return Worry("no snapshot", (), text, "wingrest backup")
