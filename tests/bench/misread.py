"""Count how many of many invented logger files are misread without a warning; none may be.

Run it from the checkout: `python tests/bench/misread.py 10000 [--first SEED] [--show]`. Half of
the files are as a logger wrote them (at least 95 of 100 must be read without any question), half
are damaged. Exit status 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from readings_cases.judge import cases, read_case, verdict

from scheduler.intake.readings import LoggerFile


def main() -> int:
    """Read the files and print what became of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int, nargs="?", default=2_000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--show", action="store_true", help="tell each file that is not right")
    told = parser.parse_args()
    by_damage: dict[str | None, Counter[str]] = {}
    dialects: set[str] = set()
    begin = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        for one in cases(told.count, told.first):
            said: str
            found: LoggerFile | None
            try:
                found = read_case(one, Path(folder))
                said = verdict(one, found)
            except Exception as error:
                found, said = None, "crash"
                print(f"seed {one.seed}: {error!r} ({one.dialect.name}; {one.damage})")
            by_damage.setdefault(one.damage, Counter())[said] += 1
            dialects.add(one.dialect.name)
            odd = said in ("wrong", "lost") or (one.damage is None and said != "right")
            if told.show and odd and found is not None:
                print(f"seed {one.seed}: {said} ({one.dialect.name}; {one.damage})")
                for text in (*found.problems, *found.questions, *found.readings.left_out[:2]):
                    print(f"    {text}")
    words = ("right", "named", "asked", "refused", "lost", "wrong", "crash")
    print(f"{'':40}" + "".join(f"{w:>9}" for w in words))
    for damage, of in sorted(by_damage.items(), key=lambda item: item[0] or ""):
        print(f"{damage or 'as the logger wrote it':40}" + "".join(f"{of[w]:9}" for w in words))
    whole = by_damage.get(None, Counter())
    clean = whole["right"] / max(1, whole.total())
    bad = sum(of[w] for of in by_damage.values() for w in ("wrong", "lost", "crash"))
    seconds = time.perf_counter() - begin
    print(
        f"{told.count} files in {len(dialects)} manners, {seconds:.0f} s: {bad} misread, lost or"
        f" crashed; {clean:.1%} of the undamaged read without a question"
    )
    return 0 if not bad and clean >= 0.95 else 1


if __name__ == "__main__":
    raise SystemExit(main())
