"""Find specimens by what people remember of them; if nothing matches, give what comes near."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence

from scheduler.looks.life import Life, lives
from scheduler.view import View
from scheduler.words import names
from scheduler.words.tuples import NamedTuple

MOST_NEAR = 5
_TERMS = ("catalogNumber", "otherCatalogNumbers", "recordNumber", "scientificName")
_PLACES = ("locality", "verbatimLocality", "recordedBy", "associatedTaxa")


class Hits(NamedTuple):
    """The lives that match every word; `near` are words of the record close to those typed."""

    lives: tuple[Life, ...]
    near: tuple[str, ...]


def find_specimens(view: View, words: Sequence[str]) -> Hits:
    """Return the specimens that match every word: id, taxon, box, board, number, place and others.

    A word matches the beginning of a word, whatever its case and accents. A whole id finds only
    that specimen.
    """
    exact = names.lookup(" ".join(words), view.specimens)
    if exact is not None:
        return Hits(lives(view, [exact.specimen]), ())
    asked = [folded for word in words for folded in bare(word).split()]
    every = [(life, tuple(_told(life))) for life in lives(view)]
    hits = [life for life, told in every if _matches(asked, told)]
    return Hits(tuple(hits), () if hits else _near(asked, [told for _, told in every]))


def _matches(asked: Sequence[str], told: Sequence[str]) -> bool:
    return all(any(f" {word}" in f" {text}" for text in told) for word in asked)


def _told(life: Life) -> Iterator[str]:
    """Yield the texts of a specimen that are searched, bare."""
    s = life.specimen
    yield from (bare(t) for t in (s.specimen, s.taxon, s.group, s.family, s.lot, s.box, s.sex) if t)
    yield from (bare(s.label[term]) for term in (*_TERMS, *_PLACES) if s.label.get(term))
    if life.placement is not None:
        yield bare(life.placement.board)


def bare(text: str) -> str:
    """Return a text in small letters, without accents."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(sign for sign in apart if not unicodedata.combining(sign)).split())


def _near(asked: Sequence[str], every: Iterable[Sequence[str]]) -> tuple[str, ...]:
    import difflib  # needed only after a typing mistake

    known = sorted({word for told in every for text in told for word in (text, *text.split())})
    near: list[str] = []
    for word in asked:
        if not any(f" {word}" in f" {text}" for text in known):
            near += difflib.get_close_matches(word, known, 3, 0.7)
    return tuple(dict.fromkeys(near))[:MOST_NEAR]
