"""Record specimens at the bench, without a file: how many of what; their ids are made."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import with_plan_mended
from scheduler.drying import fit
from scheduler.intake.batch import cells
from scheduler.intake.batch.columns import LABEL_TERMS
from scheduler.intake.typed import Words, perhaps, spelt
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.rulebook.answers import plain, singulars
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.records import Specimen, State

MOST_AT_ONCE = 500

OPTIONS: Mapping[str, str] = {
    "wingspan_mm": "--wingspan",
    "body_mm": "--body",
    "forewing_mm": "--forewing",
    "size": "--size",
    "groove_mm": "--groove",
    "taxon": "--taxon",
    "family": "--family",
    "priority": "--priority",
    "wanted_by": "--wanted-by",
    "spoils_by": "--spoils-by",
    "frozen_on": "--frozen",
    "box": "--box",
    "lot": "--lot",
}
"""The columns of specimens.csv that are typed, and the option of each."""


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed about some specimens that are alike.

    `texts` holds columns of specimens.csv, `labels` "term=value". `frozen_on` counts for frozen
    ones only, and is "" when nobody knows since when.
    """

    group: str
    count: str
    states: tuple[State, ...]
    frozen_on: str = ""
    prefix: str | None = None
    texts: Mapping[str, str] = field(default_factory=dict)
    labels: tuple[str, ...] = ()


def add(store: Store, rules: Rulebook, typed: Typed, when: When) -> Outcome:
    """Record specimens that are alike under the next free ids; the kept plan is mended.

    Raises BadInput with everything that is wrong, for example when nothing tells their size.
    """
    words = Words("add", OPTIONS)
    count = words.read("--count", typed.count, cells.whole(1, MOST_AT_ONCE, "")) or 1
    state = _state(typed.states, words)
    group, warnings = _known_group(typed, rules)
    with store.deed(when, "add") as deed:
        snap = store.facts()
        ids = _ids(snap, typed, count, words)
        today = snap.local(when.at).date()
        texts = _texts(typed, group, state, today, words)
        specimen = words.specimen(ids[0], texts, rules, new=True, today=today)
        words.raise_if_any()
        assert specimen is not None
        deed.text = _said(ids, typed, group, specimen)
        for name in ids:
            deed.insert("specimen", rows.specimen_row(specimen._replace(specimen=name)))

    def tell() -> Outcome:
        done = (deed.text, *_reckoned(specimen, snap, rules, when))
        return with_plan_mended(Outcome(done, tuple(warnings)), store, rules, when.now)

    return told(deed, tell)


def _said(ids: Sequence[str], typed: Typed, group: str, specimen: Specimen) -> str:
    what = f"{typed.group} ({group})" if plain(group) != plain(typed.group) else typed.group
    text = f"added {_range(ids)}: {what}, {specimen.state}"
    if specimen.frozen_on is not None:
        text += f" since {wording.with_year(specimen.frozen_on)}"
    return text


def _range(ids: Sequence[str]) -> str:
    if len(ids) < 3:
        return wording.listed(ids)
    return f"{ids[0]} to {ids[-1]}, {wording.counted(len(ids), 'specimen')}"


def _state(states: Sequence[State], words: Words) -> State:
    if len(states) == 1:
        return states[0]
    reason = "cannot be two states at once" if states else "nobody said how they came"
    words.fault(None, None, reason, "Give one of --fresh, --frozen [DATE] or --dried")
    return "fresh"


def _known_group(typed: Typed, rules: Rulebook) -> tuple[str, list[str]]:
    """Return the group that the rules know by that word, else the word with a warning."""
    kin = rules.kinship.of(typed.texts.get("family"), typed.group, typed.texts.get("taxon"))
    if typed.group not in kin.unknown:
        return typed.group, []
    known = {group: f for f in rules.families for group in (f.family, *f.groups)}
    wanted = set(singulars(typed.group))
    begun = [group for group in known if plain(group.split()[0]) in wanted]
    if len({known[group].family for group in begun}) == 1:
        return begun[0], []
    near = rules.kinship.nearest(typed.group)
    guess = f"Did you mean {' or '.join(near)}?" if near else ""
    answer = kin.said if kin.known else "as for any insect"
    return typed.group, [
        f"the rules know no {typed.group!r}: they answer {answer}. {guess}".strip()
    ]


def _ids(snap: Snapshot, typed: Typed, count: int, words: Words) -> list[str]:
    """Return the next ids of the prefix, after the highest number that it has."""
    prefix = typed.prefix
    if prefix is None:
        prefix = next((sign.upper() for sign in typed.group if sign.isalpha()), "")
    prefix = prefix.strip().rstrip("-")
    if not prefix:
        words.fault("--as", None, "is not given, and the group has no letter", "Give --as PREFIX")
    if words.read("--as", prefix, cells.name) is None:
        prefix = "X"  # refused already, but other faults must be found too
    taken = [*snap.specimens, *snap.boards, *snap.sessions, *snap.rooms]
    pattern = re.compile(rf"{re.escape(prefix)}-([0-9]+)", re.IGNORECASE)
    numbers = [int(found.group(1)) for name in taken if (found := pattern.fullmatch(name))]
    first = max(numbers, default=0) + 1
    return [f"{prefix}-{number:02}" for number in range(first, first + count)]


def _texts(typed: Typed, group: str, state: State, day: date, words: Words) -> dict[str, str]:
    texts = {"group": group, "state": state, **typed.texts}
    if state == "fresh":
        texts["available"] = day.isoformat()
    if state == "frozen" and typed.frozen_on:
        texts["frozen_on"] = typed.frozen_on
    terms = dict.fromkeys(LABEL_TERMS)
    for label in typed.labels:
        typed_term, equals, value = label.partition("=")
        term = spelt(typed_term, terms)
        if not equals:
            words.fault("--label", label, "is not term=value", "As in --label locality=Moor")
        elif term is None:
            remedy = perhaps(typed_term, terms) or "Use Darwin Core terms, as in eventDate"
            words.fault("--label", typed_term, "is not a term of a label", remedy)
        else:
            texts[term] = value.strip()
    return texts


def _reckoned(specimen: Specimen, snap: Snapshot, rules: Rulebook, when: When) -> list[str]:
    """Return what the rules make of them: the size with which they reckon, and the clock."""
    size = fit.size_of(specimen, rules)
    if size is None:
        return []
    kin, lines = rules.kin(specimen), []
    if kin.how:
        lines += wording.wrapped(f"rules of {kin.said}", "  ", "    ")
    question = fit.size_doubt(size, rules)
    if question:
        lines += wording.wrapped(question, "  ", "    ")
    if size.estimated:
        lines += wording.wrapped(f"estimated ({size.basis}): {size.estimated}", "  ", "    ")
    if specimen.state == "frozen" and specimen.frozen_on is None:
        lines.append(
            "  nobody said since when it is frozen, so it is softened as after a long time"
        )
    soft = View(snap, rules, when.now).waits(specimen).softening_at(when.at)
    if soft.clock is not None:
        by = wording.moment(snap.local(soft.clock.lost_at), when.now)
        basis = f": {soft.clock.basis}" if soft.clock.basis else ""
        lines += wording.wrapped(f"mount by {by}: {soft.clock.why}{basis}", "  ", "    ")
    return lines
