"""The password of a calendar server: where it comes from, and where it may be kept."""

from __future__ import annotations

import getpass
import importlib
import importlib.util
import os
import sys
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import click

from scheduler.cli.desk import say_problem
from scheduler.words.problems import BadInput

PASSWORD = "WINGREST_CALDAV_PASSWORD"


class Password(NamedTuple):
    """A password, and whether somebody typed it just now."""

    text: str
    typed: bool = False


def somebody_there() -> bool:
    """Say whether a person can be asked."""
    return sys.stdin is not None and sys.stdin.isatty()


def password_of(url: str, user: str) -> Password:
    """Return the password: of the environment, of the keyring, or asked for unseen.

    Raises BadInput where there is none and nobody to ask.
    """
    found = os.environ.get(PASSWORD) or _from_keyring(url, user)
    if found:
        return Password(found)
    if not somebody_there():
        raise BadInput(f"There is no password and nobody to ask. Set {PASSWORD}")
    # Not click's prompt: it shows the question before the terminal stops echoing, so that what
    # is pasted at once stands on the screen and is thrown away.
    asked = ""
    while not asked:
        asked = getpass.getpass(f"Password of {user}: ")
    return Password(asked, typed=True)


def offer_to_keep(url: str, user: str, password: Password) -> None:
    """Offer to keep a password that was typed, and that the server took, in the keyring.

    Says so where there is a keyring that keeps nothing.
    """
    keyring = _keyring()
    if keyring is None or not password.typed or not somebody_there():
        return
    if not _keeps(keyring):
        say_problem(
            "This computer has no keyring that could keep the password: the next time it is asked"
            f" for again, or set {PASSWORD}"
        )
        return
    question = "Keep this password in the keyring of this computer, and ask no more"
    if not click.confirm(question, err=True):
        return
    try:
        keyring.set_password(_service(url), user, password.text)
    except _errors().KeyringError as error:
        say_problem(f"the keyring did not take it ({error}); the next time it is asked for again")
        return
    say_problem(f"kept. To take it out again: keyring del {_service(url)} {user}")


def _from_keyring(url: str, user: str) -> str | None:
    keyring = _keyring()
    if keyring is None:
        return None
    try:
        found: str | None = keyring.get_password(_service(url), user)
    except _errors().KeyringError:
        return None  # none is set up, or it stays locked: the person is asked
    return found


def _keeps(keyring: Any) -> bool:
    """Say whether the keyring in use keeps what it is given: stand-ins have no priority."""
    try:
        return float(keyring.get_keyring().priority) > 0
    except (RuntimeError, _errors().KeyringError):
        return False


def _service(url: str) -> str:
    return f"wingrest:{urlsplit(url).hostname}"


def _keyring() -> Any:
    """Return the package, None where it is not installed."""
    if importlib.util.find_spec("keyring") is None:
        return None
    return importlib.import_module("keyring")


def _errors() -> Any:
    return importlib.import_module("keyring.errors")
