"""The password of a calendar server; where it is not known, the person at the terminal is asked."""

from __future__ import annotations

import getpass
import sys

import click

from scheduler.cli.desk import say_problem
from scheduler.feed.passwords import (
    PASSWORD,
    keep_password,
    keyring_keeps,
    keyring_there,
    known_password,
)
from scheduler.words.problems import BadInput, Refused
from scheduler.words.tuples import NamedTuple


class Password(NamedTuple):
    """A password, and whether somebody typed it just now."""

    text: str
    typed: bool = False


def somebody_there() -> bool:
    """Say whether a person can be asked."""
    return sys.stdin is not None and sys.stdin.isatty()


def password_of(url: str, user: str) -> Password:
    """Return the password: of the environment, of the keyring, or typed unseen.

    Raises BadInput where there is none and nobody can be asked.
    """
    found = known_password(url, user)
    if found:
        return Password(found)
    if not somebody_there():
        raise BadInput(f"There is no password and nobody to ask. Set {PASSWORD}")
    # Not click's prompt: it shows the question before the terminal stops echoing. A password pasted
    # at once would be shown on the screen, and then thrown away.
    asked = ""
    while not asked:
        asked = getpass.getpass(f"Password of {user}: ")
    return Password(asked, typed=True)


def offer_to_keep(url: str, user: str, password: Password) -> None:
    """Offer to keep in the keyring a password that was typed and that the server took.

    The person is told when the keyring there keeps nothing.
    """
    if not keyring_there() or not password.typed or not somebody_there():
        return
    if not keyring_keeps():
        say_problem(
            "This computer has no keyring that could keep the password: the next time it is asked"
            f" for again, or set {PASSWORD}"
        )
        return
    question = "Keep this password in the keyring of this computer, and ask no more"
    if not click.confirm(question, err=True):
        return
    try:
        service = keep_password(url, user, password.text)
    except Refused as error:
        say_problem(str(error))
        return
    say_problem(f"kept. To take it out again: keyring del {service} {user}")
