"""The keyring of this computer, the one place where a calendar's password may be kept.

The package `keyring` is asked if it is installed. A password belongs to a host and a user.
"""

from __future__ import annotations

import importlib
import importlib.util
import os
from typing import Any
from urllib.parse import urlsplit

from scheduler.words.problems import Refused

PASSWORD = "WINGREST_CALDAV_PASSWORD"
"""The environment variable in which scripts leave the password."""


def known_password(url: str, user: str) -> str | None:
    """Return the password of the environment or of the keyring, None where neither has one."""
    return os.environ.get(PASSWORD) or _from_keyring(url, user)


def keyring_there() -> bool:
    """Say whether the package is installed; the keyring that it finds may still keep nothing."""
    return importlib.util.find_spec("keyring") is not None


def keyring_keeps() -> bool:
    """Say whether there is a keyring that keeps what it is given.

    The package's stand-ins for a missing keyring have a priority of 0 or less.
    """
    if not keyring_there():
        return False
    try:
        return float(_keyring().get_keyring().priority) > 0
    except (RuntimeError, _errors().KeyringError):
        return False


def keep_password(url: str, user: str, text: str) -> str:
    """Keep a password and return the name under which it is kept.

    Raises Refused when the keyring does not take it.
    """
    try:
        _keyring().set_password(_service(url), user, text)
    except _errors().KeyringError as error:
        raise Refused(
            f"the keyring did not take it ({error}), so next time you are asked for it again"
        ) from None
    return _service(url)


def _from_keyring(url: str, user: str) -> str | None:
    if not keyring_there():
        return None
    try:
        found: str | None = _keyring().get_password(_service(url), user)
    except _errors().KeyringError:
        return None  # no keyring is set up, or it stays locked: the person is asked
    return found


def _service(url: str) -> str:
    return f"wingrest:{urlsplit(url).hostname}"


def _keyring() -> Any:
    return importlib.import_module("keyring")


def _errors() -> Any:
    return importlib.import_module("keyring.errors")
