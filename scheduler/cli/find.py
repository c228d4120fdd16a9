"""`wingrest find`: where a specimen is, by whatever is remembered of it."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option
from scheduler.faces.life import life_json
from scheduler.looks.find import Hits, find_specimens
from scheduler.words import wording

_CSV = ("specimen", "taxon", "sex", "lot", "box", "stage", "place", "since", "next")


@click.command()
@click.argument("words", nargs=-1, required=True, metavar="WORD...")
@format_option
@click.pass_obj
def command(desk: Desk, words: tuple[str, ...], form: str) -> int:
    """Find specimens by id, taxon, box, board, number, place or collector.

    Every word must match the beginning of a word; case and accents do not matter. Exit status: 0
    found, 1 not found (similar words are named).
    """
    with desk.view() as view:
        found = find_specimens(view, words)
        if form == "json":
            lives = [life_json(life) for life in found.lives]
            echo_json({"specimens": lives, "near": list(found.near)})
        elif form == "csv":
            echo_csv([life_json(life) for life in found.lives], _CSV)
        else:
            click.echo("\n".join(_lines(found, " ".join(words))))
    return 0 if found.lives else 1


def _lines(found: Hits, asked: str) -> list[str]:
    if not found.lives:
        near = f" Similar: {', '.join(found.near)}." if found.near else ""
        return wording.wrapped(f"Nothing is recorded of {asked!r}.{near}")
    lines = []
    for life in found.lives:
        s = life.specimen
        what = " ".join(filter(None, (s.taxon or s.group or s.family, s.sex)))
        lines += wording.wrapped(f"{s.specimen}  {what}: {life.place}", "", "    ")
        lines += wording.wrapped(f"next: {life.next_step}", "    ", "    ")
    return lines
