"""Which family's row answers for an insect, by whatever name it was written down.

The name may be a family, a former family, a subfamily, a vernacular group in English or German,
or the genus of its species. The answer says by which of them it was found, and which of the names
are unknown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property

from scheduler.rulebook.answers import plain, singulars
from scheduler.rulebook.rows import FamilyRow, NameRow
from scheduler.words.tuples import NamedTuple

ANY = "any"

_BARE = str.maketrans("äöüÄÖÜ", "aouAOU")
"""How those who cannot type umlauts write them; `plain` knows the other way, ae for ä."""


class Kin(NamedTuple):
    """The row that answers for an insect; `how` says by which name, empty when by its family.

    `known` is false when none of its names was found, or it has none; `unknown` holds the names
    that are neither in the families nor in the genera; `note` is the note of the name found.
    """

    row: FamilyRow
    how: str
    known: bool
    unknown: tuple[str, ...] = ()
    note: str = ""

    @property
    def said(self) -> str:
        """Return the row's family and how it was found, as a person reads it."""
        name = "any insect" if self.row.family == ANY else self.row.family
        return f"{name}, {self.how}" if self.how else name


class Kinship:
    """The names of families, groups and genera; the genera are read when first needed."""

    def __init__(
        self, families: Sequence[FamilyRow], read_names: Callable[[], Iterable[NameRow]]
    ) -> None:
        self._rows = {
            form: row
            for row in families
            for name in (row.family, *row.groups)
            for form in _forms(name)
        }
        self._families = families
        self.names = read_names
        self._met: dict[tuple[str | None, str | None, str | None], Kin] = {}

    def of(self, family: str | None, group: str | None = None, taxon: str | None = None) -> Kin:
        """Return the row that answers: by the family, else the group, else the genus, else `any`.

        Case, spaces, hyphens, umlauts and a plural do not matter. Where family or group says no
        more than `insect`, the genus may still answer.
        """
        key = (family, group, taxon)
        if key not in self._met:
            self._met[key] = self._of(family, group, taxon)
        return self._met[key]

    def by_genus(self, taxon: str | None) -> Kin | None:
        """Return the row that answers by the genus of a species alone; None when it is unknown."""
        return self._by(taxon, "genus") if taxon and plain(taxon) else None

    def nearest(self, word: str) -> tuple[str, ...]:
        """Return up to three known names that look like a word."""
        import difflib  # only for those who mistyped

        known = {plain(name): name for name in self._words()}
        return tuple(known[n] for n in difflib.get_close_matches(plain(word), known, 3, 0.7))

    def _of(self, family: str | None, group: str | None, taxon: str | None) -> Kin:
        unknown: list[str] = []
        found = []
        for word, what in ((family, "family"), (group, "group"), (taxon, "genus")):
            if not word or not plain(word):
                continue
            kin = self._by(word, what)
            if kin is not None and kin.row.family != ANY:
                return kin._replace(unknown=tuple(unknown))
            found += [kin] if kin is not None else []
            unknown += [word] if kin is None else []
        row = self._rows[ANY]
        return Kin(row, found[0].how if found else "", bool(found), tuple(unknown))

    def _by(self, word: str, what: str) -> Kin | None:
        if what != "genus":
            for form in singulars(word):
                if form in self._rows:
                    row = self._rows[form]
                    named = what == "family" and form == plain(row.family)
                    return Kin(row, "" if named else f"by the group {word}", known=True)
        elif plain(word) in self._rows:
            # Someone wrote the family or the group where the species goes.
            row = self._rows[plain(word)]
            itself = plain(word) == plain(row.family)
            return Kin(row, "" if itself else f"by the name {word}", known=True)
        for name in _genus_first(word, what):
            if plain(name) in self._names:
                return self._by_name(self._names[plain(name)])
        entry = self._of_family.get(plain(word))
        if entry is None:
            return None
        return Kin(self._row_of(entry), f"by the family {entry.family}", known=True)

    def _by_name(self, entry: NameRow) -> Kin:
        row = self._row_of(entry)
        of = "" if row.family == entry.family else f" of the {entry.family}"
        return Kin(row, f"by the {entry.rank} {entry.name}{of}", known=True, note=entry.note)

    def _row_of(self, entry: NameRow) -> FamilyRow:
        """Return the row of a name's family, else of its order, else of `any`."""
        by_family = self._rows.get(plain(entry.family))
        return by_family or self._rows.get(plain(entry.order)) or self._rows[ANY]

    @cached_property
    def _names(self) -> dict[str, NameRow]:
        return {plain(row.name): row for row in self.names()}

    @cached_property
    def _of_family(self) -> dict[str, NameRow]:
        return {plain(row.family): row for row in self._names.values()}

    def _words(self) -> Iterator[str]:
        yield from (entry.name for entry in self._names.values())
        yield from (entry.family for entry in self._of_family.values())
        for row in self._families:
            yield from (row.family, *row.groups)


def _forms(name: str) -> tuple[str, ...]:
    if name.isascii():
        return (plain(name),)
    return plain(name.translate(_BARE)), plain(name)


def _genus_first(word: str, what: str) -> Iterator[str]:
    """Yield the whole name, then the genus of a species; a group's first word is no genus."""
    yield word
    first = word.replace("×", " ").replace("?", " ").split()
    if what != "group" and len(first) > 1:
        yield first[0]
