"""`python tests/story_blocks.py` writes what the program really says into the stories.

Read the difference aloud before you keep it: would you want to see that at the bench?
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from console_blocks import ROOT, SAMPLES, refreshed

FOLDER = ROOT / "tests" / "stories"
STORIES = tuple(sorted(FOLDER.glob("*.md")))


def played(story: Path, folder: Path) -> str:
    """Return a story as it goes today."""
    batches = (SAMPLES, FOLDER / "two_benches")
    return refreshed(story.read_text(encoding="utf-8"), folder, batches, statuses=True)


if __name__ == "__main__":
    for one in STORIES:
        with tempfile.TemporaryDirectory() as name:
            one.write_text(played(one, Path(name)), encoding="utf-8")
