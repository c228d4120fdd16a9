"""Into the relaxing chamber and out of it, into the cold and out of it, or lost."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Literal

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import with_plan_mended
from scheduler.deeds.whereabouts import (
    elsewhere,
    end_chamber_stays,
    find_all,
    in_chamber,
    refuse_all,
)
from scheduler.drying import fit
from scheduler.drying.softening import Softening
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.rows import Value
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import ChamberStay, Place, Placement, Specimen

_CHECK = "Check the ids and --at; `wingrest journal` shows what was recorded"


def relax(store: Store, rules: Rulebook, asked: Sequence[str], when: When) -> Outcome:
    """Put specimens into the relaxing chamber.

    One that was mounted after that moment counts as in the chamber until it was mounted. Raises
    Refused for what is in the chamber, stands on a board or is lost.
    """
    with store.deed(when, "relax") as deed:
        before = store.facts()
        specimens = find_all(before, asked)
        refuse_all(specimens, lambda s: _cannot_relax(before, s, when.at), _CHECK)
        deed.text = f"put {wording.listed(s.specimen for s in specimens)} into the chamber"
        for s in specimens:
            until = _mounted_after(before, s.specimen, when.at)
            row: dict[str, Value] = {
                "specimen": s.specimen,
                "since": rows.moment_text(when.at),
                "until": None if until is None else rows.moment_text(until),
            }
            deed.insert("chamber_stay", row)
        after = store.facts()

    def tell() -> Outcome:
        hours = _together((s, _hours_line(s, after, rules, when)) for s in specimens)
        warnings = [w for s in specimens for w in _relax_warnings(s, before, rules, when)]
        crowd = _crowd_warnings(after, specimens, when)
        return Outcome((deed.text, *hours), (*warnings, *crowd))

    return told(deed, tell)


def put_back(
    store: Store,
    rules: Rulebook,
    asked: Sequence[str],
    place: Literal["fridge", "freezer"],
    when: When,
) -> Outcome:
    """Put specimens back into the cold, out of the chamber or off the bench."""
    return _keep(store, rules, asked, place, when)


def thaw(store: Store, rules: Rulebook, asked: Sequence[str], when: When) -> Outcome:
    """Take specimens out of the cold, or out of the chamber, to lie in ordinary air."""
    return _keep(store, rules, asked, "thawed", when)


def lose(store: Store, rules: Rulebook, asked: str, reason: str, when: When) -> Outcome:
    """Record that a specimen will never be mounted, or is lost on its board, and why.

    The kept plan is mended. Raises BadInput without a reason, Refused for what is lost already.
    """
    reason = " ".join(reason.split())
    if not reason:
        raise BadInput("lost without a reason. Say it in a few words: lost M-31 dropped")
    with store.deed(when, "lost") as deed:
        snap = store.facts()
        specimen = find_all(snap, [asked])[0].specimen
        if specimen in snap.gone:
            raise Refused(f"{specimen} is lost already ({snap.gone[specimen]})")
        stay, standing = _open_stay(snap, specimen), _standing(snap, specimen)
        if stay is not None and stay.since > when.at:
            raise Refused(_later(snap, specimen, "went into the chamber", stay.since, when.at))
        if standing is not None and standing.mounted_at > when.at:
            raise Refused(_later(snap, specimen, "was mounted", standing.mounted_at, when.at))
        deed.text = f"{specimen} is lost: {reason}"
        deed.update("specimen", specimen, {"gone": reason})
        end_chamber_stays(deed, [specimen])
        if standing is not None:
            off: dict[str, Value] = {"released_at": rows.moment_text(when.at)}
            deed.update("placement", standing.id, off | {"early_reason": reason})
    done = [deed.text]
    if stay is not None:
        done.append("  it is out of the chamber")
    if standing is not None:
        done.append(
            f"  it is off {standing.board}: {standing.from_mm}-{standing.to_mm} mm are free"
        )
    return told(deed, lambda: with_plan_mended(Outcome(tuple(done)), store, rules, when.now))


def _keep(store: Store, rules: Rulebook, asked: Sequence[str], place: Place, when: When) -> Outcome:
    with store.deed(when, "thaw" if place == "thawed" else "putback") as deed:
        before = store.facts()
        specimens = find_all(before, asked)
        refuse_all(specimens, lambda s: _cannot_keep(before, s, when.at), _CHECK)
        there = [s for s in specimens if _is_kept(before, s, place, when.at)]
        moved = [s for s in specimens if s not in there]
        deed.text = _kept_text(moved, place)
        for s in moved:
            end_chamber_stays(deed, [s.specimen])
            row: dict[str, Value] = {"specimen": s.specimen, "place": place}
            deed.insert("keeping", row | {"since": rows.moment_text(when.at)})
            # What was frozen before keeps its first day in the freezer: it has waited since then.
            if place == "freezer" and s.state == "fresh":
                frozen_on = before.local(when.at).date().isoformat()
                deed.update("specimen", s.specimen, {"state": "frozen", "frozen_on": frozen_on})
        after = store.facts()
    already = [f"{s.specimen}: {_WHERE[place]} already, nothing was changed" for s in there]
    if not moved:
        return Outcome(tuple(already))

    def tell() -> Outcome:
        clocks = _together((s, _clock_line(s, after, rules, when)) for s in moved)
        warnings = [w for s in moved for w in _kept_warnings(s, place, before, rules, when)]
        return Outcome((deed.text, *clocks, *already), tuple(warnings))

    return told(deed, tell)


_WHERE = {"fridge": "in the fridge", "freezer": "in the freezer", "thawed": "thawed"}


def _kept_text(specimens: Sequence[Specimen], place: Place) -> str:
    ids = wording.listed(s.specimen for s in specimens)
    if place == "thawed":
        return f"took {ids} out to lie in ordinary air"
    return f"put {ids} back into the {place}"


def _cannot_relax(snap: Snapshot, specimen: Specimen, at: datetime) -> str | None:
    for stay in snap.chamber:
        if stay.specimen == specimen.specimen and (stay.until is None or stay.until > at):
            since = wording.moment(snap.local(stay.since), at)
            if stay.until is None:
                return f"{specimen.specimen} is in the chamber since {since}"
            until = wording.moment(snap.local(stay.until), at)
            return f"{specimen.specimen} was in the chamber from {since} to {until}"
    return elsewhere(snap, specimen, at)


def _cannot_keep(snap: Snapshot, specimen: Specimen, at: datetime) -> str | None:
    stay = _open_stay(snap, specimen.specimen)
    if stay is not None and stay.since > at:
        return _later(snap, specimen.specimen, "went into the chamber", stay.since, at)
    return elsewhere(snap, specimen, at)


def _later(snap: Snapshot, specimen: str, what: str, since: datetime, at: datetime) -> str:
    return f"{specimen} {what} after that, on {wording.moment(snap.local(since), at)}. Check --at"


def _mounted_after(snap: Snapshot, specimen: str, at: datetime) -> datetime | None:
    later = [p.mounted_at for p in snap.placements if p.specimen == specimen and p.mounted_at > at]
    return min(later, default=None)


def _open_stay(snap: Snapshot, specimen: str) -> ChamberStay | None:
    return next((s for s in snap.chamber if s.specimen == specimen and s.until is None), None)


def _standing(snap: Snapshot, specimen: str) -> Placement | None:
    return next((p for p in snap.standing() if p.specimen == specimen), None)


def _is_kept(snap: Snapshot, specimen: Specimen, place: Place, at: datetime) -> bool:
    """Return whether a specimen was in that place already, and not in the chamber."""
    if in_chamber(snap, specimen.specimen, at) is not None:
        return False
    mine = [k for k in snap.keeping if k.specimen == specimen.specimen and k.since <= at]
    if mine:
        return max(mine, key=lambda k: k.since).place == place
    return place == "freezer" and specimen.state == "frozen"


def _softening(specimen: Specimen, snap: Snapshot, rules: Rulebook, when: When) -> Softening | None:
    size = fit.size_of(specimen, rules)
    return (
        None if size is None else View(snap, rules, when.now).waits(specimen).softening_at(when.at)
    )


def _together(said: Iterable[tuple[Specimen, str]]) -> list[str]:
    """Return lines for people; specimens of which the same is said share one."""
    whose: dict[str, list[str]] = {}
    for specimen, text in said:
        if text:
            whose.setdefault(text, []).append(specimen.specimen)
    return [
        line
        for text, ids in whose.items()
        for line in wording.wrapped(f"{wording.listed(ids)}: {text}", "  ", "    ")
    ]


def _hours_line(specimen: Specimen, snap: Snapshot, rules: Rulebook, when: When) -> str:
    soft = _softening(specimen, snap, rules, when)
    if soft is None:
        return "its size is not known, so the hours are not known either"
    if soft.since is None:
        return "was in the chamber until it was mounted"
    said = f"first look {wording.moment(soft.soft_at(soft.since), when.now)}"
    if soft.clock is not None:
        said += f", out by {wording.moment(snap.local(soft.clock.lost_at), when.now)}"
    return f"{said} ({', '.join(soft.rule.rule_ids)}: {soft.rule.basis})"


def _relax_warnings(specimen: Specimen, before: Snapshot, rules: Rulebook, when: When) -> list[str]:
    name, day = specimen.specimen, before.local(when.at).date()
    said = []
    soft = _softening(specimen, before, rules, when)
    if soft is not None and not soft.chamber:
        said.append(f"{name} should be limp already and need no chamber")
    if specimen.available is not None and day < specimen.available:
        said.append(
            f"{name} is available only from {wording.weekday(specimen.available, when.now)} on"
        )
    if specimen.spoils_by is not None and day > specimen.spoils_by:
        said.append(
            f"{name} was expected to spoil by"
            f" {wording.weekday(specimen.spoils_by, when.now)}: look at it"
        )
    return said


def _crowd_warnings(snap: Snapshot, specimens: Sequence[Specimen], when: When) -> tuple[str, ...]:
    """Return a warning if the chamber ever held more since then than it has places for."""
    places = snap.settings.chamber_places
    if places is None:
        return ()
    ids = {s.specimen for s in specimens}
    new = [s for s in snap.chamber if s.specimen in ids and s.since == when.at]
    moments = [when.at, *(s.since for s in snap.chamber if _shares(s.since, new))]
    most = max(_inside(snap, moment) for moment in moments)
    if most <= places:
        return ()
    return (f"the chamber now holds {most}, but has only {wording.counted(places, 'place')}",)


def _shares(moment: datetime, stays: Iterable[ChamberStay]) -> bool:
    return any(s.since <= moment and (s.until is None or moment < s.until) for s in stays)


def _inside(snap: Snapshot, at: datetime) -> int:
    return sum(s.since <= at and (s.until is None or s.until > at) for s in snap.chamber)


def _clock_line(specimen: Specimen, snap: Snapshot, rules: Rulebook, when: When) -> str:
    soft = _softening(specimen, snap, rules, when)
    if soft is None or soft.clock is None:
        return ""
    by = wording.moment(snap.local(soft.clock.lost_at), when.now)
    basis = f": {soft.clock.basis}" if soft.clock.basis else ""
    return f"mount by {by}: {soft.clock.why}{basis}"


def _kept_warnings(
    specimen: Specimen, place: Place, before: Snapshot, rules: Rulebook, when: When
) -> list[str]:
    name = specimen.specimen
    said = []
    stay = in_chamber(before, name, when.at)
    soft = _softening(specimen, before, rules, when)
    if stay is not None and soft is not None:
        hours = (when.at - stay.since).total_seconds() / 3600
        if hours > soft.most_hours:
            said.append(
                f"{name} was in the chamber for {hours:.0f} hours, at most {soft.most_hours:g}:"
                " look for mould and decay"
            )
    if place == "thawed" and specimen.state == "dried":
        said.append(f"{name} is dried: there is nothing to thaw, it softens in the chamber")
    if place == "freezer" and specimen.spoils_by is not None:
        said.append(
            f"the record still says that {name} spoils by"
            f" {wording.weekday(specimen.spoils_by, when.now)}. If the cold prevents that:"
            f" wingrest amend {name} spoils_by="
        )
    return said
