"""From taxon family, body width and air to the minimum time on the board.

The tables of `rules/` are read and checked once, by `load_rulebook`; after that every
answer is a pure function that names the rows it comes from. Days and rates hold at 20 deg C.
"""

from __future__ import annotations

from pathlib import Path

from scheduler.rulebook.answers import BoardTime, Pin, Relaxing
from scheduler.rulebook.book import Rulebook
from scheduler.rulebook.check import genus_faults, table_faults
from scheduler.rulebook.files import BOARD_TIME, GENERA, RULE_FILES, read_names, read_tables
from scheduler.rulebook.kin import Kin
from scheduler.rulebook.rows import NameRow
from scheduler.words.problems import BadInput, Problem

__all__ = [
    "RULE_FILES",
    "BoardTime",
    "Kin",
    "Pin",
    "Relaxing",
    "Rulebook",
    "added_rows",
    "check_rules",
    "load_rulebook",
    "rules_dir",
    "sooner_rows",
]


def rules_dir() -> Path:
    """Return the folder of the rule tables: the shipped one, else the checkout's."""
    here = Path(__file__).resolve().parents[1]
    for folder in (here / "rules", here.parent / "rules"):
        if (folder / BOARD_TIME.file).is_file():
            return folder
    raise BadInput("The rule tables are missing. Install the package again.")


def load_rulebook(own: Path | None = None) -> Rulebook:
    """Read and check the shipped rules, with the rows of the folder `own` in their place.

    A row of `own` replaces the shipped row with the same rule_id, or about the same thing;
    other rows are added. Raises BadInput with every problem found. The laws of the trade are
    not proved here: `check_rules` does that.
    """
    shipped = rules_dir()
    tables, problems = read_tables(shipped, own)
    if own is not None and (own / GENERA.file).exists():
        names, faults = read_names(shipped, own)
        problems += faults or genus_faults(names, tables)
    problems = problems or table_faults(tables)
    if problems:
        where = shipped if own is None else own
        raise BadInput(f"The rules in {where} cannot be used. Correct these rows.", problems)
    beside = None if own is None else Rulebook(read_tables(shipped)[0])
    return Rulebook(tables, lambda: _names(shipped, own), beside)


def _names(folder: Path, own: Path | None) -> list[NameRow]:
    names, problems = read_names(folder, own)
    if problems:
        raise BadInput("The names of genera cannot be read. Correct these rows.", problems)
    return names


def sooner_rows(book: Rulebook, own: Path) -> list[str]:
    """Return, for each own row that makes anything sooner than the shipped tables, what it is."""
    from scheduler.rulebook.own import sooner

    return [] if book.shipped is None else sooner(book, book.shipped, own)


def added_rows(book: Rulebook, own: Path) -> list[str]:
    """Return the own rows whose id no shipped row has, each with the shipped id most like it."""
    from scheduler.rulebook.own import added

    return [] if book.shipped is None else list(added(book, book.shipped, own))


def check_rules(folder: Path, own: Path | None = None) -> list[Problem]:
    """Return every fault of the rules in `folder`, with the rows of `own` in their place."""
    # The proof on a fine grid is needed here alone; a quick question does without it.
    from scheduler.rulebook.laws import all_faults

    return all_faults(folder, own)
