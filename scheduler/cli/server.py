"""The web server: one worker process of granian, which speaks TLS and drops slow connections.

It was measured beside cheroot, hypercorn and waitress by `tests/bench/servers.py`.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import socket
import ssl
import sys
import threading
import time
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from scheduler.cli.desk import Desk
from scheduler.cli.door import open_door
from scheduler.words.problems import BadInput

if TYPE_CHECKING:
    from flask import Flask

THREADS = 4
SWITCH_SECONDS = 0.0005
CONNECTIONS_MOST = 8192
HEAD_MS_MOST = 10_000
"""A connection is dropped when for so many ms it sends no whole head of a request, or nothing."""
LINGER_SECONDS = 3


@dataclass(frozen=True, slots=True)
class Listening:
    """Where the server answers; `cert` and `key` are PEM files, None without TLS."""

    host: str
    port: int
    cert: Path | None = None
    key: Path | None = None

    @property
    def base(self) -> str:
        """Return the beginning of its addresses, as this machine's network sees it."""
        scheme = "https" if self.cert else "http"
        return f"{scheme}://{_shown_host(self.host)}:{self.port}"


def found_place(host: str, port: int, cert: Path | None, key: Path | None) -> Listening:
    """Return where to listen; port 0 takes any free one. Raises BadInput when nobody can."""
    if (cert is None) != (key is None):
        raise BadInput("--cert and --key belong together. Give both, as PEM files")
    if cert is not None and key is not None:
        _check_pair(cert, key)
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        with closing(socket.create_server((host, port), family=family)) as probe:
            return Listening(host, int(probe.getsockname()[1]), cert, key)
    except OSError as error:
        raise BadInput(
            f"cannot listen on {host}, port {port} ({error.strerror or error})."
            " Give another --host or --port"
        ) from error


def _check_pair(cert: Path, key: Path) -> None:
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(cert, key)
    except (OSError, ssl.SSLError) as error:
        raise BadInput(
            f"{cert} and {key} cannot be used ({error.strerror or error})."
            " Give a certificate and its own key, as PEM files"
        ) from error


def run_server(
    desk: Desk, where: Listening, ready: Callable[[], None], lets_in: bool = False
) -> None:
    """Serve a record until interrupted; `ready` is called when phones can connect.

    `ready` is called in the worker, so it must be a function that can be pickled. `lets_in`: the
    page may open the record to the home network.
    """
    from granian import Granian
    from granian.constants import HTTPModes, Interfaces, SSLProtocols
    from granian.http import HTTP1Settings

    _many_files()
    server = Granian(
        "wingrest",
        address=where.host,
        port=where.port,
        interface=Interfaces.WSGI,
        http=HTTPModes.http1,
        http1_settings=HTTP1Settings(header_read_timeout=HEAD_MS_MOST),
        blocking_threads=THREADS,
        backpressure=CONNECTIONS_MOST,
        websockets=False,
        ssl_cert=where.cert,
        ssl_key=where.key,
        ssl_protocol_min=SSLProtocols.tls12,
        log_enabled=False,
        respawn_failed_workers=True,
        workers_kill_timeout=LINGER_SECONDS,
    )
    # The app is made in the worker, so its maker must be sent there, also where nothing forks.
    server.serve(
        target_loader=partial(_app_of_worker, desk, where, ready, lets_in), wrap_loader=False
    )


def _app_of_worker(desk: Desk, where: Listening, ready: Callable[[], None], lets_in: bool) -> Flask:
    _end_with_parent()
    _log_requests()
    threading.Thread(target=_when_listening, args=(where, ready), daemon=True).start()
    # A thread that builds a large calendar would delay every answer by 5 ms, many times.
    sys.setswitchinterval(SWITCH_SECONDS)
    return app_of(desk, partial(open_door, desk) if lets_in else None)


def app_of(desk: Desk, lets_in: Callable[[], None] | None = None) -> Flask:
    """Return the app that serves the record of a desk; `lets_in` opens it to the network."""
    from scheduler.page import create_app
    from scheduler.page.bench.remembered import remembered

    with desk.open() as store:
        zone = store.zone
    app = create_app(
        desk.store_path,
        desk.rules(),
        clock=lambda: desk.now(zone),
        who=desk.who,
        asks_clock=desk.now_text is None,
        mends_aside=True,
        lets_in=lets_in,
    )
    with app.app_context():
        remembered().warm()
    return app


def _when_listening(where: Listening, ready: Callable[[], None]) -> None:
    host = {"0.0.0.0": "127.0.0.1", "": "127.0.0.1", "::": "::1"}.get(where.host, where.host)
    for _ in range(600):
        with suppress(OSError), closing(socket.create_connection((host, where.port), timeout=1)):
            ready()
            return
        time.sleep(0.05)


def _end_with_parent() -> None:
    """End this worker when the command itself is killed."""
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        parent.join()
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


def _many_files() -> None:
    with suppress(ImportError, ValueError, OSError):
        import resource  # not on Windows, which has no such limit

        hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
        wanted = 2 * CONNECTIONS_MOST
        most = wanted if hard == resource.RLIM_INFINITY else min(hard, wanted)
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))


def _log_requests() -> None:
    written = logging.StreamHandler(sys.stderr)
    written.setFormatter(logging.Formatter("%(asctime)s %(message)s", "%Y-%m-%d %H:%M:%S"))
    log = logging.getLogger("wingrest")
    log.addHandler(written)
    log.setLevel(logging.INFO)
    log.propagate = False


def _shown_host(host: str) -> str:
    if host in ("0.0.0.0", "::", ""):
        host = own_address(host)
    return f"[{host}]" if ":" in host else host


def own_address(host: str = "0.0.0.0") -> str:
    """Return this machine's address in the network, or its loopback where there is none."""
    # Connecting a datagram socket sends nothing; it only asks by which way the network is reached.
    # The addresses are reserved for documentation (RFC 5737, RFC 3849).
    six = host == "::"
    with socket.socket(socket.AF_INET6 if six else socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("2001:db8::1" if six else "192.0.2.1", 9))
        except OSError:
            return "::1" if six else "127.0.0.1"
        return str(probe.getsockname()[0])
