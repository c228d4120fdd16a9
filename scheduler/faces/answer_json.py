"""Answers at the bench, and what they rest on, as documented JSON."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from scheduler.drying.answer import BoardAnswer, SpecimenAnswer
from scheduler.drying.evidence import Evidence
from scheduler.drying.teaching import LearnedDates


def board_json(board: BoardAnswer, proof: Mapping[str, Evidence]) -> dict[str, object]:
    """Return a board's answer as documented JSON, each specimen with its evidence."""
    return {
        "board": board.board,
        "answer": board.answer,
        "due": board.due and board.due.isoformat(),
        "clear": board.clear and board.clear.isoformat(),
        "test_first": board.test_first,
        "specimens": [
            specimen_json(s)
            | {"learned": s.learned and learned_json(s.learned)}
            | {"evidence": evidence_json(proof[s.specimen])}
            for s in board.specimens
        ],
    }


def specimen_json(s: SpecimenAnswer) -> dict[str, object]:
    """Return a specimen's answer as documented JSON."""
    return {
        "specimen": s.specimen,
        "answer": s.answer,
        "progress_pct": s.progress_pct,
        "mounted_on": s.mounted_on.isoformat(),
        "due": s.due and s.due.isoformat(),
        "clear": s.clear and s.clear.isoformat(),
        "due_earliest": _iso(s.due_span.earliest),
        "due_latest": _iso(s.due_span.latest),
        "clear_earliest": _iso(s.clear_span.earliest),
        "clear_latest": _iso(s.clear_span.latest),
        "min_days": s.min_days,
        "plan_days": s.plan_days,
        "rule_ids": list(s.rule_ids),
        "basis": s.basis,
        "air": str(s.air) if s.air else None,
        "note": s.note,
    }


def learned_json(learned: LearnedDates) -> dict[str, object]:
    """Return what a room's own tests say of a specimen as documented JSON."""
    says = learned.says
    return {
        "room": says.room,
        "tests": says.tests,
        "times_table": round(says.times, 2),
        "low": round(says.low, 2),
        "high": round(says.high, 2),
        "share_pct": says.share_pct,
        "share_dry_on": _iso(learned.share_dry),
        "dry_earliest": _iso(learned.dry.earliest),
        "dry_latest": _iso(learned.dry.latest),
        "table_due": _iso(learned.table_due),
        "table_clear": _iso(learned.table_clear),
    }


def evidence_json(e: Evidence) -> dict[str, object]:
    """Return evidence as documented JSON: the fields by name, dates ISO, days to a tenth."""
    return {
        "days": e.days,
        "worth_days": round(e.worth_days, 1),
        "days_at_50": e.days_at_50,
        "days_expected": e.days_expected,
        "assumed_due": _iso(e.assumed_due),
        "damp_spells": [
            {
                "room": s.room,
                "first": s.first.isoformat(),
                "last": s.last.isoformat(),
                "rh_pct": round(s.rh_pct, 1),
                "counts_pct": round(s.counts_pct, 1),
                "lost_days": round(s.lost_days, 1),
            }
            for s in e.spells
        ],
        "known": e.known._asdict(),
        "next_date": _iso(e.next_date),
    }


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
