"""Pages to look things up: lists of what stands, came off or was lost, and the rule tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from flask import abort, make_response, request, url_for
from werkzeug.wrappers import Response

from scheduler.faces.tables import csv_text, xlsx_bytes
from scheduler.looks.days import AIRS_PCT, BODIES_SHOWN_MM, board_time_of, days_in_short, kin_asked
from scheduler.looks.lists import LISTS, ListRow, listing
from scheduler.page import web
from scheduler.page.bench.forms import Given
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.page.spoken import spoken
from scheduler.record.history import lost_at
from scheduler.record.store import Store
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.rulebook.rows import Rule
from scheduler.rulebook.rulings import rows_behind, rows_said
from scheduler.words.problems import BadInput
from scheduler.words.records import REGIMES, STATES, Regime, State

LISTED_MOST = 100
_KINDS: Mapping[str, str] = {
    "standing": "Standing on boards",
    "unlabelled": "Came off, without a label yet",
    "off": "Came off",
    "lost": "Lost",
    "waiting": "Waiting",
}
_WHERE: Mapping[Regime, str] = {
    "room": "ordinary air",
    "desiccant": "a box with desiccant",
    "warm": "a warm cabinet",
}
_TYPES: Mapping[str, str] = {
    "csv": "text/csv",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
"""How the endings are registered with IANA."""
_CAME: Mapping[State, str] = {"fresh": "fresh", "frozen": "frozen", "dried": "dried before"}


@blueprint.get("/list", endpoint="list")
def list_page() -> str:
    """Show one of the lists, page by page."""
    kind = request.args.get("which", "standing")
    first = max(0, request.args.get("first", 0, int))
    if kind not in LISTS:
        abort(404)
    with Store(web().store_path) as store:
        line, view = opened(store)
        rows = listing(view, kind, lost_at(store))
        after = first + LISTED_MOST
        return page_shown(
            store, "bench_list.html", line, view, back="list", kind=kind, kinds=_KINDS,
            rows=rows[first:after], found=len(rows), first=first,
            columns=[c for c in LISTS[kind].columns if _has(rows, c)],
            further=url_for(".list", which=kind, first=after) if after < len(rows) else None,
        )  # fmt: skip


def _has(rows: Sequence[ListRow], column: str) -> bool:
    return column != "specimen" and any(row.get(column) is not None for row in rows)


@blueprint.get("/list/<kind>.<any(csv, xlsx):ending>", endpoint="list_file")
def list_taken(kind: str, ending: str) -> Response:
    """Send a whole list as a file."""
    if kind not in LISTS:
        abort(404)
    with Store(web().store_path) as store:
        _, view = opened(store)
        rows = listing(view, kind, lost_at(store))
    columns = LISTS[kind].columns
    data = csv_text(columns, rows).encode() if ending == "csv" else xlsx_bytes(kind, columns, rows)
    answer = make_response(data)
    answer.mimetype = _TYPES[ending]
    answer.headers["Content-Disposition"] = f'attachment; filename="wingrest-{kind}.{ending}"'
    return answer


class RuleAsked(NamedTuple):
    """What the rules are asked: for which insect and air; `family` "" means any insect."""

    family: str
    state: State
    regime: Regime
    body_mm: float | None
    rh_pct: float | None
    temp_c: float | None


class RuleAnswer(NamedTuple):
    """The days of one body in one air, the rules behind them, and what these say by id."""

    time: BoardTime
    behind: Sequence[Rule]
    rows: Mapping[str, str]


@blueprint.get("/rules", endpoint="rules")
def rules_page() -> str:
    """Show the days of every body in every air, and explain those of one."""
    rules, told = web().rules, ""
    asked, answer = RuleAsked("", "fresh", "room", None, None, None), None
    try:
        asked = _asked(Given(request.args))
        kin = kin_asked(rules, asked.family or None)
        answer = _explained(rules, asked)
    except BadInput as error:
        told, kin = spoken(str(error)), kin_asked(rules, None)
    airs = AIRS_PCT if asked.regime == "room" else (None,)
    family = None if told else asked.family or None
    table = [
        (mm, [days_in_short(board_time_of(rules, family, mm, rh, asked.state, asked.regime))
              for rh in airs])
        for mm in BODIES_SHOWN_MM
    ]  # fmt: skip
    with Store(web().store_path) as store:
        line, view = opened(store)
        return page_shown(
            store, "bench_rules.html", line, view, back="rules", asked=asked, kin=kin, told=told,
            table=table, airs=airs, answer=answer, came=_CAME, where=_WHERE,
            sources=rules.sources, own=[f for f in rules.families if f.family != "any"],
        )  # fmt: skip


def _asked(given: Given) -> RuleAsked:
    state: State = next((s for s in STATES if s == given.text("state")), "fresh")
    regime: Regime = next((r for r in REGIMES if r == given.text("regime")), "room")
    return RuleAsked(
        given.text("family", 60), state, regime,
        _number(given, "body_mm", "body", 0.1, 60), _number(given, "rh_pct", "humidity", 0, 100),
        _number(given, "temp_c", "temperature", -30, 60),
    )  # fmt: skip


def _number(given: Given, name: str, words: str, low: float, high: float) -> float | None:
    text = given.text(name, 20).replace(",", ".")
    if not text:
        return None
    try:
        found = float(text)
    except ValueError:
        raise BadInput(f"{words}: {text!r} is no number") from None
    if not low <= found <= high:
        raise BadInput(f"{words}: {text} is not from {low:g} to {high:g}")
    return found


def _explained(rules: Rulebook, asked: RuleAsked) -> RuleAnswer | None:
    """Return the answer for one body, None where none is asked for."""
    if asked.body_mm is None:
        return None
    if asked.regime == "room" and asked.rh_pct is None:
        raise BadInput("in ordinary air the days depend on the humidity. Give it as well")
    time = board_time_of(
        rules, asked.family or None, asked.body_mm, asked.rh_pct, asked.state, asked.regime,
        asked.temp_c,
    )  # fmt: skip
    said = dict(text.split(": ", 1) for text in rows_said(rules, time.rule_ids))
    return RuleAnswer(time, rows_behind(rules, time.rule_ids), said)
