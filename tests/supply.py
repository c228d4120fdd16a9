"""`python tests/supply.py` lists what a user's environment is made of: licences and sizes.

It reads only the installed packages and uses no network.
"""

from __future__ import annotations

import re
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement


def needed(name: str = "wingrest") -> dict[str, Distribution]:
    """Return every package that an install without extras brings."""
    found: dict[str, Distribution] = {}
    open_names = [name]
    while open_names:
        one = open_names.pop()
        key = re.sub(r"[-_.]+", "-", one).casefold()
        if key in found:
            continue
        try:
            found[key] = distribution(one)
        except PackageNotFoundError:
            continue
        for text in found[key].requires or []:
            wanted = Requirement(text)
            if wanted.marker is None or wanted.marker.evaluate({"extra": ""}):
                open_names.append(wanted.name)
    del found[name]
    return dict(sorted(found.items()))


def licence(package: Distribution) -> str:
    """Return what a package says of its licence, in few words."""
    meta = package.metadata
    (said, *_) = meta.get_all("License-Expression") or [""]
    if not said:
        classes = [c for c in meta.get_all("Classifier") or [] if c.startswith("License ::")]
        said = "; ".join(c.rsplit(" :: ", 1)[1] for c in classes)
    (told, *_) = meta.get_all("License") or ["not said"]
    return str(said or told.strip().splitlines()[0][:60])


def megabytes(package: Distribution) -> float:
    """Return how much disk the files of a package take."""
    sizes = (Path(str(file.locate())) for file in package.files or [])
    return sum(path.stat().st_size for path in sizes if path.is_file()) / 1e6


if __name__ == "__main__":
    every = needed()
    total = 0.0
    for name, package in every.items():
        size = megabytes(package)
        total += size
        print(f"{name:24} {package.version:14} {size:7.1f} MB  {licence(package)}")
    print(f"{len(every)} packages, {total:.0f} MB")
