"""A specimen's life as a screen of text and as JSON; lists of lives as a table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from scheduler.faces.answer_json import evidence_json
from scheduler.looks.life import Life
from scheduler.record.journal import JournalLine
from scheduler.words import wording
from scheduler.words.label import data_label, name_label, sex_sign
from scheduler.words.names import natural_order

LEAST_LAST = 20
"""Rows stay in columns while so many signs are left for the last one; else each is a paragraph."""


def life_lines(life: Life, history: Iterable[JournalLine]) -> list[str]:
    """Return a specimen's life as lines; its journal lines come last, in the order given."""
    s, today = life.specimen, life.view.now.date()
    lines = [_head(life), "=" * len(_head(life))]
    rows = [("is", life.place), ("since", _since(life.since, today)), ("next", life.next_step)]
    if s.lot:
        rows.append(("lot", s.lot))
    rows.append(("label", data_label(s).text or "nothing is known"))
    if life.missing:
        rows.append(("", f"missing: {wording.listed(life.missing)}"))
    rows += [("name", " ".join(p.text for p in name_label(s)))] if name_label(s) else []
    if s.label.get("catalogNumber"):
        rows.append(("number", s.label["catalogNumber"]))
    rows += _drying(life)
    rows += [
        ("photo", f"{p.file} ({wording.day(life.view.local(p.taken_at).date(), today)})")
        for p in life.photos
    ]
    lines += [line for name, text in rows if text for line in _row(name, text)]
    lines += ["", "Its lines in the journal"]
    for entry in history:
        at = life.view.local(entry.happened_at)
        undone = f" (taken back by line {entry.undone_by})" if entry.undone_by else ""
        who = f"{entry.who}: " if entry.who else ""
        text = f"{entry.line:>4}  {wording.moment_with_year(at)}  {who}{entry.text}{undone}"
        lines += wording.wrapped(text, "  ", " " * 8)
    return lines


def _head(life: Life) -> str:
    s = life.specimen
    sign = sex_sign(s.sex)
    return " ".join(filter(None, (f"{s.specimen}:", s.taxon or s.group or s.family, sign)))


def _row(name: str, text: str) -> list[str]:
    return wording.wrapped(f"  {name:<7}{text}", "", " " * 9)


def _since(since: datetime | date | None, today: date) -> str:
    if since is None:
        return ""
    if isinstance(since, datetime):
        return wording.moment(since, today)
    days = wording.days_said((today - since).days)
    return f"{wording.day(since, today)}, {days}"


def _drying(life: Life) -> list[tuple[str, str]]:
    """Return the rule and the air on which the dates of one on a board rest."""
    a, p = life.answer, life.placement
    if a is None:
        ids = ", ".join(p.rule_ids) if p is not None else ""
        ruled = [("rules", f"{ids} (when it was mounted)")] if ids else []
        return [*ruled, *_told(life)]
    today = life.view.now.date()
    dry = wording.how_dry(a.progress_pct)
    rules = f"{', '.join(a.rule_ids)} ({a.basis})" if a.rule_ids else ""
    said = [("dry", f"{dry}; {_due_and_clear(a.due, a.clear, today)}"), ("rules", rules)]
    air = str(a.air) if a.air else "not known"
    return [*said, ("air", air), ("note", a.note), *(_told(life) if life.told_otherwise else ())]


def _told(life: Life) -> list[tuple[str, str]]:
    """Return what its strip was told when it was mounted, and what the rules said then."""
    told, today = life.told, life.view.now.date()
    if told is None:
        return []
    said = _due_and_clear(told.due, told.clear, today)
    return [("told", "; ".join((f"{said} when it was mounted", *life.ruled_then)))]


def _due_and_clear(due: date | None, clear: date | None, today: date) -> str:
    if due is None and clear is None:
        return "no date yet in this air"
    begin = f"due {wording.day(due, today)}" if due else "no date to test from"
    return f"{begin}, clear {wording.day(clear, today)}" if clear else f"{begin}, no clear date"


def life_json(life: Life, history: Iterable[JournalLine] = ()) -> dict[str, object]:
    """Return a specimen's life as documented JSON.

    Keys: specimen, taxon, sex, lot, box, stage, place, since, next, missing (of its label), label
    (its terms), planned (session, board, from_mm, to_mm), why_not, answer, due, clear, rule_ids,
    basis, air, evidence, told (due, clear, ruling: what was told at its last mounting, and the
    digest of the rule rows as they were then), afterwards (step, at, whom, note), photos, history
    (line, at, who, text, undone_by).
    """
    s, a, p = life.specimen, life.answer, life.planned
    return {
        "specimen": s.specimen, "taxon": s.taxon, "sex": s.sex, "lot": s.lot, "box": s.box,
        "stage": life.stage, "place": life.place,
        "since": life.since and life.since.isoformat(), "next": life.next_step,
        "missing": list(life.missing), "label": dict(s.label),
        "planned": p and {n: getattr(p, n) for n in ("session", "board", "from_mm", "to_mm")},
        "why_not": life.why_not,
        "answer": a and a.answer, "due": a and a.due and a.due.isoformat(),
        "clear": a and a.clear and a.clear.isoformat(),
        "rule_ids": list(a.rule_ids) if a else [], "basis": a and a.basis,
        "air": str(a.air) if a and a.air else None,
        "evidence": life.evidence and evidence_json(life.evidence),
        "told": _told_json(life),
        "afterwards": [
            {"step": d.step, "at": life.view.local(d.at).isoformat(), "whom": d.whom,
             "note": d.note} for d in life.afterwards
        ],
        "photos": [x.file for x in life.photos],
        "history": [
            {"line": e.line, "at": life.view.local(e.happened_at).isoformat(), "who": e.who,
             "text": e.text, "undone_by": e.undone_by} for e in history
        ],
    }  # fmt: skip


def _told_json(life: Life) -> dict[str, object] | None:
    if life.told is None:
        return None
    due, clear = (day and day.isoformat() for day in life.told[:2])
    return {"due": due, "clear": clear, "ruling": life.told.ruling}


def table_lines(
    columns: Sequence[str], rows: Sequence[dict[str, object]], today: date
) -> list[str]:
    """Return a list as a table; specimens of a lot that are alike share a line."""
    if "from_mm" in columns:
        rows = [r | {"mm": f"{r['from_mm']}-{r['to_mm']}"} for r in rows]
        columns = [{"from_mm": "mm"}.get(n, n) for n in columns if n not in ("to_mm", "box")]
    merged: dict[tuple[object, ...], list[str]] = {}
    for row in rows:
        rest = tuple(_cell(name, row.get(name), today) for name in columns if name != "specimen")
        key = (row["lot"] or row["specimen"], *rest)
        merged.setdefault(key, []).append(str(row["specimen"]))
    shown = [n for n in columns if any(r.get(n) not in (None, "") for r in rows)]
    at = {name: i for i, name in enumerate((n for n in columns if n != "specimen"), 1)}
    body = [
        [_names(names) if n == "specimen" else str(key[at[n]]) for n in shown]
        for key, names in merged.items()
    ]
    head = [n.removesuffix("_on").replace("_", " ") for n in shown]
    wide = [max(map(len, column)) for column in zip(head, *body, strict=True)]
    if sum(wide[:-1]) + 2 * len(wide[:-1]) + min(wide[-1], LEAST_LAST) > wording.COLUMNS:
        return _stacked(head, body)
    return wording.table(head, body)


_LEADS = {"why not": "not planned:"}
"""Column heads that read badly before a value, and the words that stand there instead."""


def _stacked(head: Sequence[str], body: Sequence[Sequence[str]]) -> list[str]:
    """Return rows too wide for columns as paragraphs, one for each; empty cells are left out."""
    lines = []
    for row in body:
        said = [
            f"{_LEADS.get(h, h)} {v}" if h not in ("taxon", "place") else v
            for h, v in zip(head, row, strict=True)
        ]
        text = "; ".join(t for t, v in zip(said[1:], row[1:], strict=True) if v)
        lines += wording.wrapped(f"{row[0]}: {text}", "", "    ")
    return lines


def _names(ids: Sequence[str]) -> str:
    """Return ids as runs: "R-1, R-2 and R-10 to R-14 (7)"."""
    if len(ids) == 1:
        return ids[0]
    runs: list[list[str]] = []
    for one in sorted(ids, key=natural_order):
        if runs and _number(one) == (_number(runs[-1][-1])[0], _number(runs[-1][-1])[1] + 1):
            runs[-1].append(one)
        else:
            runs.append([one])
    parts = (r if len(r) < 3 else [f"{r[0]} to {r[-1]}"] for r in runs)
    return f"{wording.listed(text for part in parts for text in part)} ({len(ids)})"


def _number(one: str) -> tuple[str, int]:
    bare = one.rstrip("0123456789")
    return bare, int(one[len(bare) :] or -1)


def _cell(name: str, value: object, today: date) -> str:
    if value is None:
        return ""
    if name.endswith("_on") or name in ("due", "clear", "came_off"):
        return wording.day(date.fromisoformat(str(value)), today)
    return sex_sign(str(value)) if name == "sex" else str(value)
