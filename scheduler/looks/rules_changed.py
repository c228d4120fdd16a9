"""Whose dates a change of the rules moved since the mounting, and which rows did it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from scheduler.drying.on_board import OnBoard
from scheduler.looks.worry import Worry
from scheduler.rulebook.rulings import changed_rows, ruling_text, under_ruling
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.tuples import NamedTuple


class RuledOtherwise(NamedTuple):
    """A date of one that stands: by the rules of its mounting, and by the present ones.

    Both are computed in the air as it is known now, so the air moved neither. `clear`: it is the
    date on which its slot counts as clear, because the date of its test is the same.
    """

    specimen: str
    was: date | None
    now: date | None
    clear: bool
    why: tuple[str, ...]


def ruled_otherwise(view: View) -> Iterator[RuledOtherwise]:
    """Yield what stands and has another date than by the rules under which it was mounted."""
    told = view.told.standing()
    if not told:
        return
    present = ruling_text(view.rules)
    kept = {ruling: view.told.tables(ruling) for ruling in {one.ruling for one in told.values()}}
    then = {
        ruling: View(view.facts, under_ruling(view.rules, tables), view.now)
        for ruling, tables in sorted(kept.items())
        if tables != present
    }
    for one in view.standing():
        known = told.get(one.placement.id)
        if known is not None and known.ruling in then:
            yield from _otherwise(then[known.ruling].of(one.placement), one)


def _otherwise(was: OnBoard, now: OnBoard) -> Iterator[RuledOtherwise]:
    if was.dates == now.dates:
        return
    clear = was.dates.due == now.dates.due
    ids = [i for one in (was, now) if one.time for i in one.time.rule_ids]
    family = [one.rules.kin(one.specimen).row.rule.rule_id for one in (was, now)]
    yield RuledOtherwise(
        now.specimen.specimen,
        was.dates.clear if clear else was.dates.due,
        now.dates.clear if clear else now.dates.due,
        clear,
        changed_rows(was.rules, now.rules, [*ids, *family]),
    )


def rule_worries(view: View) -> Iterator[Worry]:
    """Yield a worry for each group of specimens whose dates the rules moved alike."""
    alike: dict[tuple[object, ...], list[RuledOtherwise]] = {}
    for one in ruled_otherwise(view):
        alike.setdefault(one[1:], []).append(one)
    for those in alike.values():
        first, names = those[0], tuple(one.specimen for one in those)
        what = "clear" if first.clear else "test"
        text = (
            f"{wording.listed(names)}: {what} from {_day(first.now, view)} by the rules as they "
            f"are now, from {_day(first.was, view)} by those of the mounting ({_some(first.why)})"
        )
        yield Worry("rules changed", names, text, f"wingrest print strips {' '.join(names)}")


def _day(day: date | None, view: View) -> str:
    return wording.day(day, view.now.date()) if day else "no date on"


def _some(why: tuple[str, ...]) -> str:
    shown = "; ".join(why[:3])
    return shown if len(why) <= 3 else f"{shown}; and {len(why) - 3} more rows"
