"""One mechanism for everything that a form records: its fields, and the deed that gets them.

A `DeedForm` says what is asked and which function of `scheduler.deeds` records it, the same one
that the command line calls. The page shows the form and reads what comes back. What is refused is
shown with everything that was typed still in its field.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

from werkzeug.datastructures import MultiDict

from scheduler.deeds.outcome import Outcome
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words.problems import BadInput

Kind = Literal["text", "ids", "number", "date", "clock", "moment", "choice", "tick", "long", "held"]
Choices = Callable[[View], Iterable[tuple[str, str]]]

TEXT_MOST = 500
LONG_MOST = 2000


class Field(NamedTuple):
    """One field of a form; `choices` are values with their words.

    A field of the kind "held" is passed on unseen. A field with `more` is seldom needed, and is
    folded away until somebody opens it.
    """

    name: str
    label: str
    kind: Kind = "text"
    need: bool = False
    note: str = ""
    choices: Choices | None = None
    more: bool = False


class Given:
    """What was sent with a form; texts are trimmed and cut, an empty one counts as none."""

    def __init__(self, form: MultiDict[str, str]) -> None:
        self._form = form

    def text(self, name: str, most: int = TEXT_MOST) -> str:
        """Return a text, "" when it was left empty."""
        return self._form.get(name, "").strip()[:most]

    def maybe(self, name: str) -> str | None:
        """Return a text, None when it was left empty."""
        return self.text(name) or None

    def ticked(self, name: str) -> bool:
        """Say whether a box was ticked."""
        return bool(self._form.get(name))

    def those(self, need: bool = True) -> list[str]:
        """Return the ids that were ticked or typed, each once; with `need`, BadInput for none."""
        typed = re.split(r"[\s,;]+", self.text("ids", LONG_MOST))
        found = list(dict.fromkeys(filter(None, [*self._form.getlist("specimen"), *typed])))
        if need and not found:
            raise BadInput("nobody was named. Say which")
        return found

    def whole(self, name: str, label: str) -> int | None:
        """Return a whole number, None when it was left empty; raise BadInput for other text."""
        text = self.text(name, 19)
        if not text:
            return None
        if not (text.isascii() and text.isdecimal()):
            raise BadInput(f"{label}: {text!r} is no whole number")
        return int(text)

    def filled(self, names: Iterable[str]) -> dict[str, str]:
        """Return the texts of those fields that were filled in."""
        return {n: text for n in names if (text := self.text(n, LONG_MOST))}

    def happened_at(self, now: datetime, zone: ZoneInfo) -> datetime:
        """Return when it happened, `now` if not said; raise BadInput for what is no past moment."""
        text = self.text("happened", 40)
        if not text:
            return now
        try:
            told = datetime.fromisoformat(text)
        except ValueError:
            raise BadInput(f"{text!r} is no moment. Write it as 2027-05-05 18:00") from None
        told = told.astimezone(zone) if told.tzinfo else told.replace(tzinfo=zone)
        if told > now:
            raise BadInput(
                f"{text.replace('T', ' ')} has not happened yet. Give a moment up to now"
            )
        return told


Recorder = Callable[[Store, Rulebook, Given, When], Outcome]


@dataclass(frozen=True, slots=True)
class DeedForm:
    """A deed as the page offers it: its titles, what is asked, and the function that records it.

    `when` says that it may have happened before now. `caution` stands above the button.
    """

    name: str
    title: str
    button: str
    asks: tuple[Field, ...]
    record: Recorder
    when: bool = True
    lead: str = ""
    caution: str = ""


HAPPENED = Field("happened", "When, if not now", "moment", more=True)
WHICH = Field("ids", "Which", "ids", need=True, note="Their numbers, with spaces between.")


def asked_in(form: DeedForm) -> Sequence[Field]:
    """Return the fields of a form; the moment when it happened, if it is asked, comes last."""
    return (*form.asks, HAPPENED) if form.when else form.asks


def choices_of(form: DeedForm, view: View) -> Mapping[str, Sequence[tuple[str, str]]]:
    """Return what can be chosen in each field that offers a choice."""
    return {ask.name: tuple(ask.choices(view)) for ask in form.asks if ask.choices is not None}


def boards_of_record(view: View) -> list[tuple[str, str]]:
    """Return every board as a choice."""
    return [(b, f"{b}, groove {one.groove_mm:g} mm") for b, one in view.boards.items()]


def rooms_of_record(view: View) -> list[tuple[str, str]]:
    """Return every room as a choice."""
    return [(name, name) for name in view.rooms]
