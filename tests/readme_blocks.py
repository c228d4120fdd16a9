"""Run the commands that README.md shows, and compare or refresh what it prints below them.

Every `console` block is a piece of one long session at the bench: a line that begins with
`$ ` is run by the shell, the lines below it are its output. `python tests/readme_blocks.py`
writes the real output into README.md; the tests only compare.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
README = ROOT / "README.md"
_BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def refreshed(text: str, folder: Path) -> str:
    """Return the README with the real output of its commands, run one after another."""
    shutil.copytree(ROOT / "sample_batches", folder / "sample_batches")
    environment = {
        **os.environ,
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "WINGREST_STORE": str(folder / "bench.sqlite"),
        "PYTHONUTF8": "1",
    }

    def run(block: re.Match[str]) -> str:
        lines = ["```console"]
        for line in block[1].splitlines():
            if line.startswith("$ "):
                lines += [line, *_output(line[2:], folder, environment)]
        return "\n".join([*lines, "```"])

    return _BLOCK.sub(run, text)


def _output(command: str, folder: Path, environment: dict[str, str]) -> list[str]:
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
    return done.stdout.rstrip("\n").splitlines()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        README.write_text(
            refreshed(README.read_text(encoding="utf-8"), Path(name)), encoding="utf-8"
        )
