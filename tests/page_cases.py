"""The bench page as phones see it: a weekend's record, its app, forms read off the page."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin

from bench_cases import Desk, local, rules
from flask import Flask
from werkzeug.test import TestResponse

from scheduler.page import create_app
from scheduler.page.tokens import ensure_tokens
from scheduler.record.store import Store

SATURDAY = "2027-05-08T08:40"
"""The morning of the first weekend's session, twenty minutes before it begins."""


@dataclass
class Form:
    """A form as a page offers it; `words` is what its button says, unseen words included."""

    action: str
    fields: list[tuple[str, str]] = field(default_factory=list)
    words: str = ""


class _Forms(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self._open = self._button = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._open = given["method"] == "post"
            if not self._open:
                return
            self.forms.append(Form(given["action"]))
            self._open = True
        elif tag == "select" and self._open:
            self.forms[-1].fields.append((given["name"], ""))
        elif tag == "option" and self._open and "selected" in given:
            name, _ = self.forms[-1].fields.pop()
            self.forms[-1].fields.append((name, given["value"]))
        elif tag in ("input", "textarea") and self._open and "name" in given:
            ticked = given.get("type") not in ("checkbox", "radio") or "checked" in given
            if ticked:
                self.forms[-1].fields.append((given["name"], given.get("value", "")))
        elif tag == "button" and self._open:
            self._button = True

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = False
        elif tag == "button":
            self._button = False

    def handle_data(self, data: str) -> None:
        if self._button:
            said = " ".join(f"{self.forms[-1].words} {data}".split())
            self.forms[-1].words = said.replace(" ,", ",")


def forms_of(page: str) -> list[Form]:
    """The forms of a page, in their order."""
    reader = _Forms()
    reader.feed(page)
    return reader.forms


class Phone:
    """One phone on the bench page: looks at pages, taps what they offer."""

    def __init__(self, app: Flask, bench: str) -> None:
        self._client = app.test_client()
        self.start = f"/bench/{bench}/"
        self.page = ""

    def look(self, place: str = "") -> str:
        """Open a page and return its text."""
        answer = self._client.get(urljoin(self.start, place))
        assert answer.status_code == 200, answer.status
        self.page = answer.text
        return self.page

    def get(self, place: str) -> TestResponse:
        """Open a page, whatever it answers."""
        return self._client.get(urljoin(self.start, place))

    def forms(self) -> list[Form]:
        """What the page that is open offers to tap."""
        return forms_of(self.page)

    def form(self, words: str) -> Form:
        """The first form of the open page whose button begins with these words."""
        return next(f for f in self.forms() if f.words.startswith(words))

    def send(self, form: Form, **typed: str) -> TestResponse:
        """Send a form once, with what was typed into it."""
        data: dict[str, list[str]] = {}
        for name, value in form.fields:
            data.setdefault(name, []).append(typed.get(name, value))
        data |= {name: [value] for name, value in typed.items() if name not in data}
        return self._client.post(form.action, data=data)

    def tap(self, words: str, **typed: str) -> str:
        """Tap a button of the open page, follow it, and return the page it leads to."""
        answer = self.send(self.form(words), **typed)
        assert answer.status_code == 303, answer.text
        return self.look(answer.headers["Location"])


def phones(desk: Desk, count: int = 1, now: str = SATURDAY) -> list[Phone]:
    """So many phones on one record."""
    with Store(desk.store) as store:
        bench = ensure_tokens(store).bench
    app = create_app(desk.store, rules(), clock=lambda: local(now), who="Wren Tallow (invented)")
    return [Phone(app, bench) for _ in range(count)]
