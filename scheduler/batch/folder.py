"""The files of a batch in its folder."""

from __future__ import annotations

from pathlib import Path

from scheduler.batch.columns import FILES
from scheduler.batch.findings import Findings, did_you_mean


def files_in(folder: Path, findings: Findings) -> dict[str, Path]:
    """Return the batch's files by their proper name; names are blind to case."""
    if not folder.is_dir():
        remedy = "Name a folder that holds the batch"
        findings.problem(folder.name, None, None, None, "is not a folder", remedy)
        return {}
    paths: dict[str, Path] = {}
    for path in sorted(folder.iterdir()):
        name = path.name.casefold()
        if name in FILES and name not in paths:
            paths[name] = path
        elif not path.name.startswith("."):
            free = [file for file in FILES if file not in paths]
            guess = did_you_mean(path.name, free)
            findings.note(f"{path.name}: not a file of a batch, and not read{guess}")
    if not paths:
        reason = "holds no file of a batch"
        remedy = f"Put any of these into it: {', '.join(FILES)}"
        findings.problem(folder.name, None, None, None, reason, remedy)
    return paths
