"""Print the oldest versions that pyproject.toml allows, as pip constraints.

Run by the checks before a release: `python tests/oldest_versions.py pyproject.toml`.
"""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

_LOWER_BOUND = re.compile(r"([A-Za-z0-9_.-]+)(?:\[[^\]]*\])?>=([0-9][^,;\s]*)")


def oldest(pyproject: str) -> list[str]:
    """Return `name==version` for every dependency; raise ValueError for one without >=."""
    project = tomllib.loads(pyproject)["project"]
    wanted = [*project["dependencies"]]
    for extra in project.get("optional-dependencies", {}).values():
        wanted += extra
    pins = []
    for requirement in wanted:
        found = _LOWER_BOUND.match(requirement)
        if found is None:
            raise ValueError(f"{requirement!r} names no oldest version: write name>=version")
        pins.append(f"{found[1]}=={found[2]}")
    return pins


if __name__ == "__main__":
    print("\n".join(oldest(Path(sys.argv[1]).read_text(encoding="utf-8"))))
