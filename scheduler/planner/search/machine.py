"""Turn functions into machine code where numba is installed: the search tries millions of places.

The machine code is kept on the disk, so that only the first search after an installation waits
for it, and the person is told. Where it cannot be kept it is made for this run only, and where
what is kept is damaged it is made anew; the person is told that too. Without numba the same
functions run as they are written, by the same rules, but do far less in the same time
(`run.SLOWER`).

Random numbers for the search are drawn here as well, from one seeded generator: the same seed
gives the same numbers. xorshift64* (Vigna 2016, ACM Transactions on Mathematical Software 42;
memory).
"""

from __future__ import annotations

import logging
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

numba: Any
try:
    import numba
except ImportError:  # the extra `fast` is not installed, or does not go with this numpy
    numba = None

LOG = logging.getLogger(__name__)

_Function = TypeVar("_Function", bound=Callable[..., object])

MODULES = ("draft", "machine", "moves", "offers", "rounds", "ruin")
"""The modules from which the machine code is made."""

BARE: dict[str, Any] = {"nogil": True, "_nrt": False}
"""Options without reference counting: the caller keeps all arrays alive, and none is made here.

The counting would take more time than the search itself (measured: 2.5 times as long).
"""

LONGEST_S = 300
"""How many seconds to wait for another process that is making the same machine code."""

SUMS = "sums"
"""The file of digests that shows whether the kept machine code is still as it was written."""


def is_fast() -> bool:
    """Say whether functions become machine code."""
    return numba is not None


def compiled(function: _Function) -> _Function:
    """Return a function that makes no arrays as machine code that is kept on the disk."""
    return cast(_Function, _Kept(function) if is_fast() else _plainly(function))


def inlined(function: _Function) -> _Function:
    """Return a function that makes no arrays, to be compiled into the functions that call it."""
    return cast(
        _Function, numba.njit(forceinline=True, **BARE)(function) if is_fast() else function
    )


class _Kept:
    """A function that becomes machine code when it is first called."""

    def __init__(self, function: Callable[..., object]) -> None:
        self.function = function
        self.ready: Any = None

    def __call__(self, *args: object) -> object:
        if self.ready is None:
            self.ready = self._prepared(tuple(map(numba.typeof, args)))
        return self.ready(*args)

    def _prepared(self, types: tuple[object, ...]) -> Any:
        """Return the machine code, from the disk where it is kept there and not damaged."""
        why = ""
        for _ in range(2):  # damaged machine code is deleted, and then made once more
            try:
                made = self._from_disk(types, _folder())
            except Exception as error:  # whatever is wrong with the disk must not stop a search
                why = why or str(error) or type(error).__name__
            else:
                if why:
                    _say_made_anew(why)
                return made
        _say_not_kept(why)
        made = numba.njit(**BARE)(self.function)
        made.compile(types)
        return made

    def _from_disk(self, types: tuple[object, ...], folder: Path) -> Any:
        with _alone(folder):
            try:
                return self._kept_or_made(types, folder)
            except Exception:
                with suppress(OSError):
                    _forget(folder)
                raise

    def _kept_or_made(self, types: tuple[object, ...], folder: Path) -> Any:
        if not _is_whole(folder):
            raise ValueError("it is not as it was written")
        numba.config.CACHE_DIR = str(folder)
        made = numba.njit(cache=True, **BARE)(self.function)
        if not any(folder.rglob(f"*.{self.function.__name__}-*.nbi")):
            _say_making()
        try:
            made.compile(types)
            _note_sums(folder)
        except OSError as error:  # where it is made, only keeping it has failed
            if not made.overloads:
                raise
            _say_not_kept(str(error))
        return made


@cache
def say_plainly() -> None:
    """Tell the person, once after an installation, that with numba the search would go further."""
    told = _caches() / "told-of-machine-code"
    if told.exists():
        return
    LOG.warning(
        "Searching without machine code, an eightieth as far in the same time; pip install"
        " 'wingrest[fast]' brings it."
    )
    with suppress(OSError):  # if it cannot be noted, the person is told again next time
        told.parent.mkdir(parents=True, exist_ok=True)
        told.touch()


@cache
def _say_making() -> None:
    LOG.warning("Making machine code for the search, once after an installation: about a minute.")


@cache
def _say_made_anew(why: str) -> None:
    LOG.warning("The search's machine code was damaged (%s) and has been made anew.", why)


@cache
def _say_not_kept(why: str) -> None:
    LOG.warning("The search's machine code cannot be kept (%s): it is made for this run only.", why)


def _caches() -> Path:
    caches = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(caches) if caches else Path.home() / ".cache") / "wingrest"


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Keep other processes away from this machine code, which must agree with its digests.

    SQLite's lock on an empty file works on every system, and ends when its process dies.
    """
    with closing(sqlite3.connect(folder / "lock", timeout=LONGEST_S)) as lock:
        lock.execute("BEGIN EXCLUSIVE")
        yield


def _folder() -> Path:
    """Return a folder for the machine code of exactly these modules, made by this numba.

    By itself numba looks only at the calling module: it would go on using what was made from an
    older version of the modules that are inlined.
    """
    here = Path(__file__).parent
    sources = b"\0".join((here / f"{name}.py").read_bytes() for name in MODULES)
    sources += numba.__version__.encode()
    name = f"machine_code-{sha256(sources).hexdigest()[:16]}"
    folder = here / "__pycache__" / name
    if not os.access(here, os.W_OK):
        folder = _caches() / name
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _sums(folder: Path) -> dict[str, str]:
    """Return the digest of every file of machine code; numba writes each file once, and whole."""
    kept = sorted(folder.rglob("*.nbc"))
    return {str(p.relative_to(folder)): sha256(p.read_bytes()).hexdigest() for p in kept}


def _is_whole(folder: Path) -> bool:
    """Say whether the kept files are as they were written: damaged machine code may do anything."""
    found, noted = _sums(folder), folder / SUMS
    lines = noted.read_text("utf-8", "replace").splitlines() if noted.exists() else []
    known = dict(line.split(" ", 1)[::-1] for line in lines if " " in line)
    return all(known.get(name, digest) == digest for name, digest in found.items())


def _forget(folder: Path) -> None:
    for path in [folder / SUMS, *folder.rglob("*.nb?")]:
        path.unlink(missing_ok=True)


def _note_sums(folder: Path) -> None:
    text = "".join(f"{digest} {name}\n" for name, digest in _sums(folder).items())
    if not (folder / SUMS).exists() or (folder / SUMS).read_text("utf-8", "replace") != text:
        draft = folder / f"{SUMS}.{os.getpid()}"
        draft.write_text(text, "utf-8")
        draft.replace(folder / SUMS)


def _plainly(function: Callable[..., object]) -> Callable[..., object]:
    """Return the function so that it gets arrays as Python's own views of the same numbers.

    These give Python's own numbers, with which Python calculates five times as fast.
    """

    def called(*args: object) -> object:
        return function(*map(_as_views, args))

    return called


_BY_ROW = {"slots", "who", "code"}
"""The fields with two or three dimensions from which whole rows are taken."""


def _as_views(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return value.data if value.ndim < 2 else value.tolist()
    if not hasattr(value, "_fields"):
        return value
    return type(value)(*map(_as_view, value._fields, value))


def _as_view(name: str, value: Any) -> Any:
    if not isinstance(value, np.ndarray):
        return value
    if name in _BY_ROW and value.ndim > 1:
        return [row.data for row in value]
    return value.data


Seed = NDArray[np.uint64]
"""One number that is not 0; every draw changes it."""


def _plain_lot(seed: Seed) -> float:
    """Draw a number as `_lot` does, with Python's own numbers."""
    bits = 0xFFFFFFFFFFFFFFFF
    x = int(seed[0])
    x ^= x >> 12
    x ^= x << 25 & bits
    x ^= x >> 27
    seed[0] = x
    return ((x * 0x2545F4914F6CDD1D & bits) >> 11) * (1.0 / 9007199254740992.0)


def _lot(seed: Seed) -> float:
    """Draw a number from 0 (included) to 1 (excluded)."""
    x = seed[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    seed[0] = x
    y = x * np.uint64(0x2545F4914F6CDD1D)
    return float(y >> np.uint64(11)) * (1.0 / 9007199254740992.0)


lot = inlined(_lot) if is_fast() else _plain_lot


@inlined
def pick(seed: Seed, most: int) -> int:
    """Draw a whole number from 0 (included) to `most` (excluded)."""
    return int(lot(seed) * most)
