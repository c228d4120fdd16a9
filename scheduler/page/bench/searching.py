"""Search for a plan while the page goes on answering: how far it is, and how it ended."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from scheduler.deeds.plan import PlanWish, plan
from scheduler.faces.howgood import how_good_in_short
from scheduler.faces.moved import moved_lines
from scheduler.looks.planning import Planning
from scheduler.page.shelf import busy_said
from scheduler.planner.problem import Quality
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words.problems import RecordBusy, WingrestError


@dataclass
class PlanSearch:
    """One search at a time; `percent` is how far it is.

    `gap_pct` is how far the plan can be from the best at most [%], None where that is not known.
    `told` says what the last search moved and how good its plan is, `failed` why it has none.
    """

    running: bool = False
    percent: int = 0
    gap_pct: float | None = None
    stopping: bool = False
    told: tuple[str, ...] = ()
    failed: str = ""
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def begin(
        self,
        path: Path,
        rules: Rulebook,
        now: datetime,
        wish: PlanWish,
        done: Callable[[], None] = lambda: None,
    ) -> bool:
        """Begin to search in a thread of its own; return False when a search is running already."""
        with self._lock:
            if self.running:
                return False
            self.running, self.stopping = True, False
            self.percent, self.gap_pct, self.told, self.failed = 0, None, (), ""
        wish = replace(wish, progress=self._so_far, stop=lambda: self.stopping)
        threading.Thread(
            target=self._search, args=(path, rules, now, wish, done), daemon=True
        ).start()
        return True

    def stop(self) -> None:
        """Ask the search to end with the best plan so far."""
        self.stopping = True

    def _so_far(self, part: float, _: Quality, gap: float | None) -> None:
        self.percent = max(self.percent, min(99, round(100 * part)))
        self.gap_pct = None if gap is None else 100 * gap

    def _search(
        self,
        path: Path,
        rules: Rulebook,
        now: datetime,
        wish: PlanWish,
        done: Callable[[], None],
    ) -> None:
        try:
            with Store(path) as store:
                self.told = tuple(_told(plan(store, rules, now, wish)))
        except RecordBusy as error:
            self.failed = busy_said(error)
        except WingrestError as error:
            self.failed = str(error)
        except Exception as error:
            self.failed = " ".join(f"the search failed ({type(error).__name__}: {error})".split())
        finally:
            self.running = False
            done()


def _told(made: Planning) -> Sequence[str]:
    moved = [line.strip() for line in moved_lines(made)] if made.moved else []
    return [*moved, *(line.strip() for line in _joined(how_good_in_short(made)))]


def _joined(lines: Sequence[str]) -> list[str]:
    """Return lines with those joined that were broken to the width of a terminal."""
    joined: list[str] = []
    for line in lines:
        if joined and line.startswith("  "):
            joined[-1] += f" {line.strip()}"
        elif line.strip():
            joined.append(line)
    return joined
