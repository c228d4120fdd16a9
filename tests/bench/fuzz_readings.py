"""Logger files broken at random: no traceback, no hang, whatever the bytes.

Run it from the checkout: `python tests/bench/fuzz_readings.py 5000 [--first SEED]`. Each input
is a generated file cut, spliced and overwritten at random, or tokens thrown together, read with
random answers. Exit status 1 on any exception, or an input that takes longer than 10 s.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from readings_cases.broken import MOST_SECONDS, tried


def main() -> int:
    """Read so many broken files; tell what failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int, nargs="?", default=2_000)
    parser.add_argument("--first", type=int, default=0)
    told = parser.parse_args()
    failed, slowest = 0, 0.0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(told.first, told.first + told.count):
            try:
                slowest = max(slowest, tried(seed, Path(folder)))
            except Exception as error:
                failed += 1
                print(f"seed {seed}: {error!r}")
    print(f"{told.count} broken files: {failed} tracebacks, the slowest took {slowest:.2f} s")
    return 0 if not failed and slowest <= MOST_SECONDS else 1


if __name__ == "__main__":
    raise SystemExit(main())
