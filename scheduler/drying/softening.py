"""How a waiting specimen is softened, and until when it can still be mounted.

Pure. Frozen and dried ones keep; fresh, thawed and relaxing ones have a clock. A `spoils_by` that
somebody gave holds; where nobody gave one, the clock comes from the rules and says so.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from scheduler.rulebook import Relaxing, Rulebook
from scheduler.rulebook.rows import LimitRow
from scheduler.words import wording
from scheduler.words.records import Basis, ChamberStay, Keeping, Room, Specimen
from scheduler.words.tuples import NamedTuple

_LAST_SECOND = time(23, 59, 59)


class Deadline(NamedTuple):
    """The moment after which a specimen must not be mounted, and who or what says so.

    `why` is for people; `basis` is None when a person gave the date.
    """

    lost_at: datetime
    why: str
    basis: Basis | None = None


class Softening(NamedTuple):
    """How a specimen becomes soft.

    `since`: when it went into the chamber, None when it is not in it. `chamber` is False for what
    is limp already. `clock` is None for what keeps. `rule` is the row of the relaxing table.
    """

    chamber: bool
    since: datetime | None
    first_look_hours: float
    most_hours: float
    clock: Deadline | None
    rule: Relaxing

    def soft_at(self, open_at: datetime) -> datetime:
        """Return when it is soft: from `open_at`, or from when it went in if it is in already."""
        return hours_after(self.since or open_at, self.first_look_hours)


def hours_after(moment: datetime, hours: float) -> datetime:
    """Return the moment so many elapsed hours later, in the same zone."""
    return (moment.astimezone(UTC) + timedelta(hours=hours)).astimezone(moment.tzinfo)


class Been(NamedTuple):
    """Where a waiting specimen was and is: its stays in the chamber, and where it was kept.

    Both lists have the earliest first. `zone` is the record's; `chamber_temp_c` the temperature of
    the chamber, None when unknown.
    """

    stays: tuple[ChamberStay, ...]
    kept: tuple[Keeping, ...]
    chamber_temp_c: float | None
    zone: ZoneInfo

    @property
    def keeping(self) -> Keeping | None:
        """Return where it is kept, as somebody last said."""
        return self.kept[-1] if self.kept else None

    @property
    def since(self) -> datetime | None:
        """Return since when (local) it is in the chamber, None when it is not."""
        inside = (s.since for s in self.stays if s.until is None)
        return next((since.astimezone(self.zone) for since in inside), None)

    def softened(self, first_look_hours: float) -> bool:
        """Return whether it was in the chamber long enough before it was put where it is now."""
        return self.keeping is not None and self.soft_by(self.keeping.since, first_look_hours)

    def soft_by(self, moment: datetime, hours: float) -> bool:
        """Return whether it was in the chamber so many hours at a stretch and out by a moment."""
        return any(
            stay.until is not None
            and stay.until <= moment
            and stay.until - stay.since >= timedelta(hours=hours)
            for stay in self.stays
        )


def softening(
    specimen: Specimen, body_mm: float, been: Been, rules: Rulebook, now: datetime
) -> Softening:
    """Return how a waiting specimen becomes soft, as things stand at `now`."""
    # Something in the chamber counts as old as when it went in: its hours do not change there.
    asked = been.since or now
    rule = rules.relaxing(
        state=specimen.state,
        frozen_days=_frozen_days(specimen, body_mm, been, rules, asked),
        body_mm=body_mm,
        temp_c=been.chamber_temp_c,
    )
    since = been.since
    chamber = since is not None or (
        rule.chamber and not _limp(specimen, body_mm, been, rule, rules)
    )
    return Softening(
        chamber=chamber,
        since=since,
        first_look_hours=rule.first_look_hours if chamber else 0.0,
        most_hours=rule.most_hours,
        clock=_clock(specimen, body_mm, been, rule, rules),
        rule=rule,
    )


def chamber_temp_c(rooms: Iterable[Room]) -> float | None:
    """Return the temperature of the warmest ordinary room, None when none is known.

    Nobody says where the chamber stands.
    """
    known = [r.temp_c for r in rooms if r.regime == "room" and r.temp_c is not None]
    return max(known, default=None)


def frozen_since(
    specimen: Specimen, body_mm: float, been: Been, rules: Rulebook, at: datetime
) -> date | None:
    """Return the date since which it lay frozen at a moment, None where nobody said.

    A specimen that was put back after as long in the chamber as a brittle one needs counts from the
    last time it was put back. Thawing alone moistens nothing, so it starts no new count.
    """
    again = [k.since for k in been.kept if k.place == "freezer" and k.since <= at]
    if again:
        brittle = rules.relaxing(
            state="frozen", frozen_days=None, body_mm=body_mm, temp_c=been.chamber_temp_c
        )
        moist = [s for s in again if been.soft_by(s, brittle.first_look_hours)]
        days = [s.astimezone(been.zone).date() for s in moist[-1:]]
    else:
        days = []
    if specimen.frozen_on is not None:
        days.append(specimen.frozen_on)
    return max(days, default=None)


def _frozen_days(
    specimen: Specimen, body_mm: float, been: Been, rules: Rulebook, at: datetime
) -> int | None:
    since = frozen_since(specimen, body_mm, been, rules, at)
    return None if since is None else max(0, (at.astimezone(been.zone).date() - since).days)


def _limp(specimen: Specimen, body_mm: float, been: Been, rule: Relaxing, rules: Rulebook) -> bool:
    """Return whether it is out of the freezer or the chamber and needs no further softening."""
    kept = been.keeping
    if kept is None or kept.place == "freezer":
        return False
    softened = been.softened(rule.first_look_hours)
    # What was frozen for a short time is limp when thawed; what was frozen long is brittle.
    if kept.place == "thawed" and specimen.state == "frozen" and not softened:
        days = _frozen_days(specimen, body_mm, been, rules, kept.since)
        return days is not None and days < rules.limit("limp_after_frozen_days")
    return softened


def _clock(
    specimen: Specimen, body_mm: float, been: Been, rule: Relaxing, rules: Rulebook
) -> Deadline | None:
    clocks = []
    since = been.since
    if specimen.spoils_by is not None:
        end = datetime.combine(specimen.spoils_by, _LAST_SECOND, been.zone)
        clocks.append(Deadline(end, "the record says that it spoils by then"))
    elif since is None:
        derived = _derived(specimen, body_mm, been, rule, rules)
        if derived is not None:
            clocks.append(derived)
    if since is not None:
        end = hours_after(since, rule.most_hours)
        why = (
            f"in the chamber since {wording.moment(since, end)}, at most {rule.most_hours:g} hours"
        )
        clocks.append(Deadline(end, why, rule.basis))
    return min(clocks, key=lambda c: c.lost_at.timestamp(), default=None)


def _derived(
    specimen: Specimen, body_mm: float, been: Been, rule: Relaxing, rules: Rulebook
) -> Deadline | None:
    """Return the clock that the rules give to what is fresh, thawed or in the fridge."""
    kept = been.keeping
    if kept is not None:
        since = kept.since.astimezone(been.zone)
        if kept.place == "freezer":
            return None
        if kept.place == "thawed":
            return _after(since, rules.limit_row("fresh_keeps_hours"), "thawed")
        limit = "fridge_fresh_keeps_hours"
        if been.softened(rule.first_look_hours):
            limit = "fridge_keeps_hours"
        elif body_mm < rules.limit("body_slender_mm"):
            limit = "fridge_small_keeps_hours"
        return _after(since, rules.limit_row(limit), "in the fridge")
    if specimen.state == "fresh" and specimen.available is not None:
        morning = datetime.combine(specimen.available, time(), been.zone)
        return _after(morning, rules.limit_row("fresh_keeps_hours"), "fresh")
    return None


def _after(start: datetime, row: LimitRow, words: str) -> Deadline:
    end = hours_after(start, row.value)
    since = wording.moment(start, end)
    why = f"{words} since {since}, keeps {row.value:g} hours ({row.rule.rule_id})"
    return Deadline(end, why, row.rule.basis)
