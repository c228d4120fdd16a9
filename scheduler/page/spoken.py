"""Put what deeds and looks say into the words of the page. Pure.

Deeds and looks often tell a person which command to type. Nobody types commands on a page, so
`spoken` names the place on the page instead, and `way_on` gives the page for a worry's command.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

PLACES: Mapping[str, str] = {
    "add": "“Add”",
    "air": "the page Air",
    "amend": "“Correct”, on its own page",
    "away": "“Days off”, on the page Plan",
    "backup": "the page Record",
    "bag": "“Into the bag”",
    "board": "“In use”, on the board's page",
    "boards": "the page Boards",
    "check": "the page Record",
    "demo": "the invented weekend",
    "drooped": "“A wing sank”, on its own page",
    "export": "the page Record",
    "feed": "the calendar",
    "find": "the page Find",
    "handover": "“Hand over”",
    "journal": "the Journal",
    "link": "the page People and phones",
    "list": "the page Lists",
    "load": "“Bring in a list”",
    "lost": "“Lost”, on its own page",
    "lot": "“A whole lot”",
    "mount": "the session's sheet",
    "move": "“Carried into another room”, on the board's page",
    "phone": "the page People and phones",
    "photo": "“Photos”, on its own page",
    "plan": "the page Plan",
    "print": "“Labels”",
    "publish": "“A calendar of your own”",
    "putback": "“Back into the cold”",
    "readings": "“A logger's file”, on the page Air",
    "ready": "the board's page",
    "relax": "“Into the chamber”",
    "release": "“Took off”, on the board's page",
    "restore": "“Go back to a snapshot”",
    "room": "“A room”, on the page Air",
    "rooms": "the page Your own tests",
    "rules": "the page Rules",
    "serve": "the computer that shows this page",
    "session": "“Bench time”, on the page Plan",
    "show": "its own page",
    "start": "the computer that shows this page",
    "summary": "the page The season",
    "test": "“Stiff” or “Soft”, on the board's page",
    "thaw": "“Out of the cold”",
    "today": "the page Today",
    "undo": "the Journal",
}
"""By command, the place on the page that does the same, as it reads within a sentence."""

_PHRASES: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern), put)
    for pattern, put in (
        (r": --early REASON", ""),
        (r"--early without a reason\.", "No reason was given."),
        (r" in a few words: lost \S+ dropped", " in a few words"),
        (r" \(--logger NAME gives a name\)", ""),
        (r"\bundo (\d+)\b", r"“Undo” of line \1"),
        (r"If it is right, add --yes.*", "Look at what was understood, and agree"),
        (r"[Ss]ay what (a column means|the columns are)\b.*", "Say below what is asked"),
        (r"\. (Answer it|Say which) with --\w+ .*=WORD.*", ". Say below which"),
        (r"\. Write column=value\..*", ". Change at least one of its fields"),
        (r"Write out or in, or give --refill .*", "Say one of both"),
        (r" Write the ids,.*", " Say it again"),
        (r"[,;]? with --answer KEY=WORD", ""),
        (r": set WINGREST_CALDAV_PASSWORD or wait to be asked", " and type it in its own field"),
        (r"--effort \w+", "a longer search"),
        (r"--(decimal|dates|take) (\S+)", r"“\2”"),
        (r"another --at", "another time"),
        (r" \(no --to\)", ""),
        (r" with --except", ""),
        (r"Give --as PREFIX", "Say with which letters the ids begin"),
        (r" with --logger NAME", ""),
        (r"--(correct|label) (?=[+\w])", ""),
        (r"say what time it is: wingrest --now .*", "wait until it is right"),
        (r"\. Name another (?:file|record) with --store.*|, or name another with --store", ""),
        (r"--frozen \[DATE\]", "frozen"),
    )
)
_COMMAND = re.compile(
    r"`wingrest(?: --\w+ \S+)* (\w+)[^`]*`"
    r"|wingrest (" + "|".join(PLACES) + r")\b(?:[^,.;:()`\n]|[.:](?=\S))*"
)
_OPTION = re.compile(r"`?(?<![\w-])--([a-z]+(?:-[a-z]+)*)`?")
_OPTIONS: Mapping[str, str] = {
    "ca-file": "“Its certificate”",
    "remove": "“What would be taken out”",
    "timeout": "“Seconds to wait”",
    "as": "“ids begin with”",
    "at": "the time",
    "board": "the board",
    "from-mm": "“from”",
    "to-mm": "“to”",
}


def spoken(text: str) -> str:
    """Return a text with places of the page instead of commands and options."""
    for pattern, put in _PHRASES:
        text = pattern.sub(put, text)
    text = _COMMAND.sub(_place, text)
    text = _OPTION.sub(_option, text)
    return re.sub(r"(^|[.?!:] |\n)the (page|computer|Journal)", _begun, text)


def _place(found: re.Match[str]) -> str:
    return PLACES.get(found[1] or found[2], "this page")


def _option(found: re.Match[str]) -> str:
    return _OPTIONS.get(found[1], f"“{found[1].replace('-', ' ')}”")


def _begun(found: re.Match[str]) -> str:
    lead = found[1]
    return f"{lead}{'the' if lead == ': ' else 'The'} {found[2]}"


class WayOn(NamedTuple):
    """The page that does what a command does, with its parameters and words for the link."""

    page: str
    asked: Mapping[str, str | list[str]]
    words: str


def way_on(command: str) -> WayOn | None:
    """Return the page that does what a worry's command does, None where there is none.

    What the person still has to fill in (ROOM, RH, FILE) is asked by the form there.
    """
    words = command.split()[1:]
    if not words:
        return None
    verb, said = words[0], [w for w in words[1:] if not w.isupper() or any(map(str.isdigit, w))]
    one = said[0] if said else ""
    ways: Mapping[str, WayOn] = {
        "air": WayOn("air", {}, f"the air of {one}"),
        "amend": WayOn("correct", {"name": one, **_equal(said)}, f"correct {one}"),
        "backup": WayOn("record", {}, "a snapshot"),
        "board": WayOn("begin", {}, "your boards")
        if "--groove" in words
        else WayOn("board", {"name": one}, one),
        "journal": WayOn("journal", {}, "the journal"),
        "mount": WayOn("session", {"name": one}, f"the sheet of {one}")
        if "--at" in words
        else WayOn("plan", {}, "the plan"),
        "move": WayOn("board", {"name": one}, one),
        "plan": WayOn("specimen", {"name": said[-1]}, said[-1])
        if "--why" in words
        else WayOn("plan", {}, "the plan"),
        "print": WayOn("paper", {}, "new strips"),
        "putback": WayOn("deed", _cold(said), "back into the cold"),
        "readings": WayOn("air", {}, "a logger's file"),
        "rooms": WayOn("lessons", {}, "your own tests"),
        "room": WayOn("begin", {}, "a room"),
        "add": WayOn("deed", {"which": "add"}, "add specimens"),
        "load": WayOn("bring", {}, "bring in a list"),
        "session": WayOn("plan", {}, "bench time"),
        "ready": WayOn("specimen", {"name": one}, one),
    }
    return ways.get(verb)


def _equal(said: list[str]) -> dict[str, str]:
    pairs = (word.partition("=") for word in said if "=" in word)
    return {column: value for column, _, value in pairs}


def _cold(said: list[str]) -> dict[str, str | list[str]]:
    return {"which": "putback", "specimen": said[:-1], "place": said[-1] if said else ""}
