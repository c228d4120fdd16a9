"""What a record still lacks before anything can be planned, in the order in which to enter it."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.looks.worry import Worry
from scheduler.view import View


def beginnings(view: View) -> Iterator[Worry]:
    """Yield what is missing: a room, a board, a specimen, bench time for what waits."""
    if not (view.rooms or view.boards or view.specimens):
        text = "The record is empty. Bring in your lists, or record by hand what follows"
        yield Worry("to begin", (), text, "wingrest load FOLDER")
    if not view.rooms:
        text = "No room yet: say where boards stand, and how humid it is there"
        yield Worry("to begin", (), text, "wingrest room study --rh 52")
    if not view.boards:
        yield Worry(
            "to begin",
            (),
            "No board yet: give its groove, its width from tip to tip and its length, in mm",
            "wingrest board B1 --groove 3 --span 80 --length 350 --room study",
        )
    if not view.specimens:
        text = "No specimen yet: say what it is, how many, and how large"
        yield Worry("to begin", (), text, "wingrest add owlet --count 4 --wingspan 38 --frozen")
    if not view.sessions_ahead and (view.waiting or not view.specimens):
        waits = f"{len(view.waiting)} wait, and n" if view.waiting else "N"
        text = f"{waits}o session is ahead: say when you are at the bench, and for how long"
        command = 'wingrest session "Saturdays 09:00" --minutes 120'
        yield Worry("to begin", (), text, command)
