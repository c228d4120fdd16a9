"""What days off leave behind: what falls due in them, and what must be done before them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from scheduler.feed.cold import for_the_cold
from scheduler.feed.first_days import ALL_DAY_ALARMS
from scheduler.feed.gathered import inside
from scheduler.feed.ical import Reminder
from scheduler.feed.titles import as_counted, fitted
from scheduler.view import View
from scheduler.words.records import Away
from scheduler.words.tuples import NamedTuple
from scheduler.words.wording import WEEKDAYS, weekday


class LeftBehind(NamedTuple):
    """What falls into days off: boards with what falls due, and what cannot stay in its place.

    Before the days off, `out` must leave the chamber and `cold` must go into the cold.
    """

    away: Away
    due: tuple[tuple[str, tuple[str, ...]], ...]
    out: tuple[str, ...]
    cold: tuple[tuple[str, str], ...]

    @property
    def anything(self) -> bool:
        """Say whether there is anything to do or to wait for."""
        return bool(self.due or self.out or self.cold)

    def lines(self) -> list[str]:
        """Return for people what to do before, and what waits until somebody is back."""
        lines = []
        if self.out:
            lines.append(f"Out of the chamber before: {', '.join(self.out)}")
        places = dict.fromkeys(place for _, place in self.cold)
        lines += [
            f"Into the {place} before: {', '.join(n for n, where in self.cold if where == place)}"
            for place in places
        ]
        lines += [f"Falls due meanwhile on {b}: {', '.join(names)}" for b, names in self.due]
        return lines


def left_behind(view: View, away: Away) -> LeftBehind:
    """Return what days off leave behind, as things stand; they must not be over."""
    due: dict[str, list[str]] = {}
    for one in view.standing():
        first = one.told(view.now.date()).due
        if first and away.has(first) and not one.stiff:
            due.setdefault(one.board.board, []).append(one.specimen.specimen)
    last = away.to_day
    out = [s.specimen for s in inside(view) if s.until is None and s.out_by.date() <= last]
    cold = [
        (name, group.place)
        for group in for_the_cold(view)
        if view.local(group.by).date() <= last
        for name in group.specimens
    ]
    return LeftBehind(
        away,
        tuple((board, tuple(as_counted(due[board]))) for board in as_counted(due)),
        tuple(as_counted(out)),
        tuple(cold),
    )


def away_ahead(view: View) -> tuple[Away, ...]:
    """Return the days off of everybody together that are not over, the earliest first.

    Days off of a single person are not among them.
    """
    return tuple(a for a in view.facts.away if a.to_day >= view.now.date() and a.who is None)


def away_warnings(view: View) -> tuple[Reminder, ...]:
    """Return one all-day event before each stretch of days off that leaves something behind.

    It lies on the last day on which somebody is there, and is given until that day is over.
    """
    found = [left_behind(view, away) for away in away_ahead(view)]
    warnings = (_warning(view, one) for one in found if one.anything)
    return tuple(w for w in warnings if w.start >= view.now.date())


def _warning(view: View, one: LeftBehind) -> Reminder:
    before = one.away.from_day - timedelta(days=1)
    while view.facts.is_away(before):
        before -= timedelta(days=1)
    parts: Sequence[str] = [
        *(f"out {name}" for name in one.out),
        *(f"{name} {place}" for name, place in one.cold),
        *(f"{board} due" for board, _ in one.due),
    ]
    title = fitted(f"Away from {WEEKDAYS[one.away.from_day.weekday()]}: ", parts)
    until = (
        f"Away from {weekday(one.away.from_day, view.now)} to {weekday(one.away.to_day, view.now)}."
    )
    back = f"What falls due is asked for on {weekday(_back(view, one.away), view.now)}."
    text = "\n".join([until, *one.lines(), *([back] if one.due else [])])
    key = f"away/{one.away.from_day.isoformat()}/{one.away.to_day.isoformat()}"
    last = before + timedelta(days=1)
    return Reminder(key, before, last, title, text, alarms=ALL_DAY_ALARMS, stays=True)


def _back(view: View, away: Away) -> date:
    return view.facts.there_on(away.from_day)
