"""`python tests/readme_blocks.py` writes the real output of its commands into README.md."""

from __future__ import annotations

import tempfile
from pathlib import Path

from console_blocks import ROOT, refreshed

README = ROOT / "README.md"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        README.write_text(
            refreshed(README.read_text(encoding="utf-8"), Path(name)), encoding="utf-8"
        )
