"""Run the commands that a page shows, and compare or refresh what it prints below them.

Every `console` block of a page is a piece of one long session at the bench: a line that begins
with `$ ` is run by the shell, the lines below it are its output, on both streams as a terminal
shows them.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SAMPLES = ROOT / "sample_batches"
_BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def refreshed(
    text: str, folder: Path, batches: Iterable[Path] = (SAMPLES,), *, statuses: bool = False
) -> str:
    """Return a page with the real output of its commands, run one after another in a folder.

    `batches` are folders that are copied there first. With `statuses`, an exit status that is
    not 0 stands below the output.
    """
    for batch in batches:
        shutil.copytree(batch, folder / batch.name)
    environment = {
        **{name: value for name, value in os.environ.items() if not name.startswith("WINGREST_")},
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "WINGREST_STORE": str(folder / "bench.sqlite"),
        "PYTHONUTF8": "1",
    }

    def run(block: re.Match[str]) -> str:
        lines = ["```console"]
        for line in block[1].splitlines():
            if line.startswith("$ "):
                lines += [line, *_output(line[2:], folder, environment, statuses)]
        return "\n".join([*lines, "```"])

    return _BLOCK.sub(run, text)


def shown(text: str) -> Iterator[str]:
    """Return the lines of output that a page shows."""
    for block in _BLOCK.finditer(text):
        yield from (line for line in block[1].splitlines() if not line.startswith("$ "))


def _output(
    command: str, folder: Path, environment: dict[str, str], statuses: bool
) -> Iterator[str]:
    done = subprocess.run(
        ["bash", "-c", command],
        cwd=folder,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        check=False,
    )
    if done.returncode not in (0, 1, 2, 3):
        raise RuntimeError(f"{command} ended with {done.returncode}:\n{done.stdout}")
    yield from done.stdout.rstrip("\n").splitlines()
    if statuses and done.returncode:
        yield f"[exit status {done.returncode}]"
