"""Ask before a tap is recorded, where the computer's clock may be wrong.

The phone that taps has another clock: where both agree, nobody is asked.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from flask import Response, current_app, make_response, render_template, request

from scheduler.page.web import from_this_computer, web
from scheduler.words.problems import WingrestError

AGREES = timedelta(hours=12)
"""Two clocks agree when they are no further apart than this."""
SAID_RIGHT = "clock_is_right"
_VOUCHED = "wingrest_clock"


class ClockAsked(WingrestError):  # noqa: N818 - it asks
    """Nothing is recorded until somebody says that the clock is right; its text is the question."""

    status = 3


def note_what_was_said() -> None:
    """Remember for a day that somebody said on the page that the clock is right."""
    if request.form.get(SAID_RIGHT) == "1":
        current_app.extensions[_VOUCHED] = web().clock()


def clock_asked(error: ClockAsked) -> Response:
    """Return the page that asks; its button sends the same tap again with a yes."""
    again = [
        (n, v) for n, v in request.form.items(multi=True) if n not in (SAID_RIGHT, "phone_clock")
    ]
    page = render_template(
        "bench_clock.html", text=str(error), again=[*again, (SAID_RIGHT, "1")],
        files=bool(request.files), to=request.path,
    )  # fmt: skip
    return make_response(page, 409)


def clock_confirmed(question: str) -> bool:
    """Return True where the computer's clock is right; raise ClockAsked where a person must say.

    It is right where a person said so within a day, or the phone that taps agrees.
    """
    vouched = current_app.extensions.get(_VOUCHED)
    said = vouched is not None and abs(web().clock() - vouched) < timedelta(days=1)
    if not (said or _phone_agrees()):
        raise ClockAsked(question[0].upper() + question[1:])
    return True


def _phone_agrees() -> bool:
    """Say whether another device tapped, and its clock agrees with this computer's."""
    text = request.form.get("phone_clock", "")
    if not text.isdecimal() or len(text) > 15 or from_this_computer() is not False:
        return False
    told = datetime.fromtimestamp(int(text) / 1000, UTC)
    return abs(told - web().clock()) <= AGREES
