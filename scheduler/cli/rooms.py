"""`wingrest rooms`: their air, and what their own tests say of the table's days."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.faces.evidence import room_says_said, too_few_said
from scheduler.looks.rooms import RoomLesson, RoomState, rooms
from scheduler.words import wording

_CSV = (
    "room regime air boards standing lesson tests count_as enough times_table low high share_pct"
).split(" ")


@click.command()
@click.option(
    "--share",
    type=click.IntRange(50, 95),
    metavar="PERCENT",
    help="From now on, so many % of those called due are to be dry: 70, or 85 if you are careful.",
)
@format_option
@click.pass_obj
def command(desk: Desk, share: int | None, form: str) -> None:
    """List the rooms: what stands there, the air, and what your own tests say of the table.

    A room has dates of its own once five of its tests tell something. They are later than the
    table's where fewer than your chosen share would be dry by the table's date, and sooner only
    where nearly all are dry by then.
    """
    if share is not None:
        from scheduler.deeds.dry_share import set_dry_share

        with recording(desk, None) as (store, when):
            outcome = set_dry_share(store, desk.rules(), share, when)
        say_outcome(outcome)
        return
    with desk.view() as view:
        found = rooms(view)
        chosen = view.facts.settings.dry_share_pct
        least = round(view.rules.limit("learn_least_tests"))
    if form == "json":
        echo_json({"share_pct": chosen, "rooms": [_json(r) for r in found]})
    elif form == "csv":
        echo_csv([row for r in found for row in _flat(r)], _CSV)
    else:
        lines = [line for r in found for line in _lines(r, least)]
        if any(r.lessons for r in found):
            lines += _share_lines(chosen)
        click.echo("\n".join(lines or ["The record holds no rooms yet."]))


def _lines(state: RoomState, least: int) -> Iterator[str]:
    boards = f"{len(state.boards)} boards" if len(state.boards) != 1 else "1 board"
    air = "air unknown" if state.air.rh_pct is None else state.air.said
    kind = "" if state.room.regime == "room" else f"{state.room.regime}, "
    head = f"{state.room.room}: {kind}{air}, {boards}, {state.standing} standing"
    yield from wording.wrapped(head, "", "  ")
    for lesson in state.lessons:
        which = lesson.says.room.removeprefix(state.room.room).lstrip(", ")
        said = _said(lesson, least)
        yield from wording.wrapped(f"{which}: {said}" if which else said, "  ", "    ")
        for doubt in lesson.doubts:
            yield from wording.wrapped(doubt.text, "  ! ", "    ")


def _said(lesson: RoomLesson, least: int) -> str:
    says = lesson.says
    if not lesson.enough:
        return too_few_said(says, least)
    return room_says_said(says)


def _share_lines(share: int) -> Sequence[str]:
    return wording.wrapped(
        f"{share} % of those called due are to be dry (`--share` changes it). To go by the table "
        "alone: wingrest ready --table-only."
    )


def _json(state: RoomState) -> dict[str, object]:
    return {
        "room": state.room.room,
        "regime": state.room.regime,
        "air": str(state.air),
        "boards": list(state.boards),
        "standing": state.standing,
        "lessons": [
            {
                "lesson": one.says.room,
                "tests": one.says.tests,
                "count_as": round(one.says.counted, 1),
                "enough": one.enough,
                "times_table": round(one.says.times, 2) if one.enough else None,
                "low": round(one.says.low, 2) if one.enough else None,
                "high": round(one.says.high, 2) if one.enough else None,
                "share_pct": one.says.share_pct,
                "doubts": [d.text for d in one.doubts],
            }
            for one in state.lessons
        ],
    }


def _flat(state: RoomState) -> list[dict[str, object]]:
    row = _json(state)
    lessons = row.pop("lessons")
    assert isinstance(lessons, list)
    row["boards"] = len(state.boards)
    return [row | one for one in lessons] or [row]
