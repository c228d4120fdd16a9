"""The rooms: what stands there, their air, and what their own tests say of the table's days."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from scheduler.air.latest import Air
from scheduler.drying.teaching import RoomSays
from scheduler.looks.worry import Worry
from scheduler.view import View
from scheduler.words.names import natural_order
from scheduler.words.records import Room
from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.learning.doubts import Doubt
    from scheduler.learning.lessons import Lesson


class RoomLesson(NamedTuple):
    """What a room's tests say; `enough` for dates of its own, and what does not fit in them."""

    says: RoomSays
    enough: bool
    doubts: tuple[Doubt, ...]


class RoomState(NamedTuple):
    """A room, the boards and specimens in it, its air, and what its tests say."""

    room: Room
    boards: tuple[str, ...]
    standing: int
    air: Air
    lessons: tuple[RoomLesson, ...]


def rooms(view: View) -> tuple[RoomState, ...]:
    """Return every room by its name; softened specimens are a lesson of their own."""
    return tuple(_state(room, view) for _, room in sorted(view.rooms.items()))


def lesson_worries(view: View) -> Iterator[Worry]:
    """Yield what does not fit in the tests of rooms in which something stands."""
    if view.lessons is None:
        return
    here = {one.room.room for one in view.standing() if one.room is not None}
    for drier, lesson in view.lessons.rooms.items():
        if drier.room in here:
            for doubt in _doubts(lesson, view):
                if doubt.kind != "never soft":
                    text = f"{drier.said}: {doubt.text}"
                    yield Worry("tests", doubt.specimens, text, "wingrest rooms")


def _state(room: Room, view: View) -> RoomState:
    boards = tuple(b for b in sorted(view.boards, key=natural_order) if view.room_of(b) == room)
    standing = sum(len(view.facts.standing(b)) for b in boards)
    return RoomState(room, boards, standing, view.air_now(room), tuple(_lessons(room, view)))


def _lessons(room: Room, view: View) -> Iterator[RoomLesson]:
    if view.lessons is None:
        return
    for drier, lesson in sorted(view.lessons.rooms.items()):
        if drier.room == room.room:
            yield _lesson(lesson, view)


def _lesson(lesson: Lesson, view: View) -> RoomLesson:
    taught = lesson.taught
    return RoomLesson(taught.says, taught.enough, _doubts(lesson, view))


def _doubts(lesson: Lesson, view: View) -> tuple[Doubt, ...]:
    from scheduler.learning.doubts import doubts  # most records have no lessons
    from scheduler.learning.taught import prior_of

    return tuple(doubts(lesson, prior_of(view.rules)))
