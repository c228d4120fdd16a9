"""Open the record to the home network, from a page that only this computer reaches."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Sequence
from functools import cache

from scheduler.cli.desk import Desk

DOOR_PORT = 8034
DOORS = 6
"""So many ports are tried, in order, so that the address a phone was told holds tomorrow too."""
_BEHIND = "from scheduler.cli.door import behind_door; behind_door()"


def options_of(desk: Desk) -> Sequence[str]:
    """Return the options with which a command works on the same record."""
    given = [("--now", desk.now_text), ("--who", desk.who), ("--rules", desk.own_rules)]
    said = [text for option, value in given if value for text in (option, str(value))]
    return ["--store", str(desk.store_path.resolve()), *said]


def open_door(desk: Desk) -> None:
    """Serve a desk's record to the network, beside the running server and as long as that runs.

    Raises BadInput when all ports are in use.
    """
    from scheduler.cli.server import found_place
    from scheduler.words.problems import BadInput

    for port in range(DOOR_PORT, DOOR_PORT + DOORS):
        try:
            found_place("0.0.0.0", port, None, None)
        except BadInput:
            continue
        words = [*options_of(desk), "serve", "--host", "0.0.0.0", "--port", str(port)]
        process = subprocess.Popen(
            [sys.executable, "-c", _BEHIND, *words],
            stdin=subprocess.PIPE, stdout=subprocess.DEVNULL,
        )  # fmt: skip
        _held().append(process)
        return
    raise BadInput(f"the ports {DOOR_PORT} to {DOOR_PORT + DOORS - 1} are all in use")


@cache
def _held() -> list[subprocess.Popen[bytes]]:
    """Return the doors that are open; each shuts when this process ends its standard input."""
    return []


def behind_door() -> None:
    """Run the program until its standard input ends."""
    from scheduler.cli import main

    threading.Thread(target=_end_with_input, daemon=True).start()
    main()


def _end_with_input() -> None:
    # Not through sys.stdin: a worker that is forked meanwhile would hold its lock for ever.
    while os.read(0, 1024):
        pass
    os._exit(0)
