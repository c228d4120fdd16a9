"""Does a specimen fit a board, and how much of its groove does it take?

Sizes that nobody measured are estimated to the thick and wide side, and say so.
"""

from __future__ import annotations

import math

from scheduler.rulebook import Rulebook
from scheduler.rulebook.kin import ANY
from scheduler.rulebook.rows import FamilyRow
from scheduler.words.records import BASES, SIZE_CLASSES, Basis, Board, Specimen
from scheduler.words.tuples import NamedTuple

_A_HAIR_MM = 0.1
"""So finely is a thorax measured (common practice, no source): the thickest body of a row of
fit.csv is this much under the row's end."""


class BodyWidths(NamedTuple):
    """The widths [mm] between which a body lies nine times in ten, both included."""

    low_mm: float
    high_mm: float


class Size(NamedTuple):
    """A specimen's size [mm].

    `estimated` is empty when body and wingspan were measured, else it says how they were estimated;
    `basis` is then the weakest of the rows used, None when measured. `spread` says how far an
    estimated body may be off, None when it was measured. The body length always follows from the
    wingspan: nobody measures it.
    """

    body_mm: float
    wingspan_mm: float
    body_length_mm: float
    estimated: str
    basis: Basis | None
    spread: BodyWidths | None = None

    @property
    def widths(self) -> BodyWidths:
        """Return the spread of the body; for a measured body both ends are the measured width."""
        return self.spread or BodyWidths(self.body_mm, self.body_mm)


class Fit(NamedTuple):
    """Whether a specimen fits a board; `spare_mm` is groove - body - least clearance.

    `pack`: it fits, but the groove is so wide that it must be packed. `reason` says in the trade's
    words why it does not fit, or why to pack the groove.
    """

    fits: bool
    spare_mm: float
    pack: bool
    reason: str


class _Guess(NamedTuple):
    mm: float
    how: str = ""
    basis: Basis | None = None
    spread: BodyWidths | None = None


def size_of(specimen: Specimen, rules: Rulebook) -> Size | None:
    """Return a specimen's size, or None when there is nothing to estimate it from.

    What was measured counts. A missing body comes from the wingspan (else the forewing) and the
    shape of the family or group. Where the family is not listed, a groove or a size class that a
    person named goes before the wingspan. Without a wingspan the body comes from the groove that
    one would use, else from the size class, else from the family's usual size. A missing wingspan
    comes from the forewing, else from body and family.
    """
    family = rules.kin(specimen).row
    span = _measured_span(specimen, rules)
    body = _body(specimen, span, family, rules)
    if body is None:
        return None
    if span is None:
        span = _span_from(body, family, rules)
    guesses = [guess for guess in (body, span) if guess.how]
    basis = max((g.basis for g in guesses if g.basis), key=BASES.index, default=None)
    how = "; ".join(guess.how for guess in guesses)
    length = family.body_length_per_wingspan * span.mm
    return Size(body.mm, span.mm, length, how, basis, body.spread)


def size_doubt(size: Size, rules: Rulebook) -> str:
    """Return what to ask about a body for which no board has a wide enough groove; "" if none."""
    groove = size.body_mm + rules.fit_row(size.body_mm).clearance_min_mm
    widest = rules.limit("widest_groove_mm")
    if groove <= widest:
        return ""
    return (
        f"a body of {size.body_mm:.3g} mm needs a groove of {groove:.3g} mm, the widest one "
        f"printed has {widest:g} mm: measure the thorax, from wing base to wing base"
    )


def slot_mm(size: Size, family: FamilyRow, rules: Rulebook) -> int:
    """Return the whole mm of groove that a specimen takes, with the gap to the next.

    The longer of wings (fore and aft) and body counts.
    """
    reach = max(family.wing_depth_fraction * size.wingspan_mm, size.body_length_mm)
    return math.ceil(round(reach + rules.fit_row(size.body_mm).gap_mm, 6))


def fit(size: Size, slot_mm: int, board: Board, rules: Rulebook) -> Fit:
    """Return whether a specimen fits a board, and how well."""
    row = rules.fit_row(size.body_mm)
    # Millimetres with a decimal are not exact in binary: without rounding 5.5 - 4.4 - 1.1 is not 0.
    spare = round(board.groove_mm - size.body_mm - row.clearance_min_mm, 6)
    body, span = f"body {size.body_mm:.3g} mm", f"wingspan {size.wingspan_mm:.4g} mm"
    reasons = []
    if spare < 0:
        least = size.body_mm + row.clearance_min_mm
        reasons.append(f"{body}: groove {board.groove_mm:g} mm is too narrow, needs {least:.3g} mm")
    if round(board.span_mm - size.wingspan_mm - row.edge_mm, 6) < 0:
        edge = f" and needs {row.edge_mm:g} mm of edge" if size.wingspan_mm <= board.span_mm else ""
        reasons.append(f"{span}: board is {board.span_mm:g} mm wide{edge}")
    if slot_mm > board.length_mm:
        reasons.append(f"slot {slot_mm} mm: board is {board.length_mm} mm long")
    if reasons:
        return Fit(False, spare, False, "; ".join(reasons))
    pack = spare > round(row.clearance_max_mm - row.clearance_min_mm, 6)
    wide = f"{body}: groove {board.groove_mm:g} mm is wide, pack the groove"
    return Fit(True, spare, pack, wide if pack else "")


def _measured_span(specimen: Specimen, rules: Rulebook) -> _Guess | None:
    if specimen.wingspan_mm is not None:
        return _Guess(specimen.wingspan_mm)
    if specimen.forewing_mm is None:
        return None
    row = rules.limit_row("wingspan_per_forewing")
    span = row.value * specimen.forewing_mm
    how = f"wingspan {span:.3g} mm from forewing {specimen.forewing_mm:g} mm"
    return _Guess(span, how, row.rule.basis)


def _body(
    specimen: Specimen, span: _Guess | None, family: FamilyRow, rules: Rulebook
) -> _Guess | None:
    if specimen.body_mm is not None:
        return _Guess(specimen.body_mm)
    # A row that stands for a whole order tells less of the body than what the person named.
    listed = family.family not in (ANY, family.order)
    nothing_else = specimen.size is None and specimen.groove_mm is None
    if span is not None and (listed or nothing_else):
        body = _reckoned(span.mm, family, rules)
        how = f"from wingspan {span.mm:.3g} mm ({_shape(family)})"
        return _estimate(body, how, _shape_basis(family, rules), _about(body, rules))
    if specimen.groove_mm is not None:
        spread = _in_groove(specimen.groove_mm, rules)
        how = f"the thickest for the {specimen.groove_mm:g} mm groove named"
        basis = rules.fit_row(spread.high_mm).rule.basis
        return _estimate(spread.high_mm, how, basis, spread)
    if specimen.size is not None:
        limit = rules.body_of_size(specimen.size)
        at = SIZE_CLASSES.index(specimen.size)
        thinner = rules.body_of_size(SIZE_CLASSES[at - 1]).value if at else limit.value / 2
        thickest = limit.value if at + 1 < len(SIZE_CLASSES) else _about(limit.value, rules).high_mm
        how = f"from the size {specimen.size}"
        return _estimate(limit.value, how, limit.rule.basis, BodyWidths(thinner, thickest))
    if family.typical_wingspan_mm is None:
        return None
    body = _reckoned(family.typical_wingspan_mm, family, rules)
    # Nobody saw this one: its wingspan may be off by as much as a body from a wingspan is.
    low, high = _about(body, rules)
    spread = BodyWidths(low * low / body, high * high / body)
    how = f"from the usual size of {family.family}"
    return _estimate(body, how, _shape_basis(family, rules), spread)


def _in_groove(groove_mm: float, rules: Rulebook) -> BodyWidths:
    """Return the thinnest and the thickest body that a groove takes without packing.

    The rows of fit.csv are those of the bodies: a groove of 10 mm takes one that is not yet 10 mm.
    """
    rows = rules.tables.fit
    thickest = max(
        min(groove_mm - row.clearance_min_mm, row.body_mm_below - _A_HAIR_MM)
        for row in rows
        if row.body_mm_from + row.clearance_min_mm <= groove_mm or row is rows[0]
    )
    thinnest = min(
        max(groove_mm - row.clearance_max_mm, row.body_mm_from)
        for row in rows
        if groove_mm - row.clearance_max_mm < row.body_mm_below
    )
    thickest = max(thickest, 0.5)
    return BodyWidths(min(max(thinnest, 0.5), thickest), thickest)


def _reckoned(span_mm: float, family: FamilyRow, rules: Rulebook) -> float:
    """Return the body for a wingspan: a power of it that passes through the family's usual size.

    A family without a usual wingspan keeps the proportion up to the reference wingspan.
    """
    usual = family.typical_wingspan_mm
    exponent = rules.limit("body_exponent") - 1
    shrinks: float = (span_mm / (usual or rules.limit("reference_wingspan_mm"))) ** exponent
    return family.body_per_wingspan * span_mm * (shrinks if usual else min(1.0, shrinks))


def _about(body_mm: float, rules: Rulebook) -> BodyWidths:
    """Return the widths between which a body estimated from a wingspan lies."""
    return BodyWidths(rules.limit("body_low") * body_mm, rules.limit("body_high") * body_mm)


def _shape_basis(family: FamilyRow, rules: Rulebook) -> Basis:
    exponent = rules.limit_row("body_exponent").rule.basis
    return max(family.shape_basis, exponent, key=BASES.index)


def _estimate(body_mm: float, how: str, basis: Basis, spread: BodyWidths) -> _Guess:
    said = f"body {body_mm:.3g} mm ({spread.low_mm:.2g}-{spread.high_mm:.2g}) {how}"
    return _Guess(body_mm, said, basis, spread)


def _span_from(body: _Guess, family: FamilyRow, rules: Rulebook) -> _Guess:
    """Estimate a wingspan from the body, made wider because the shapes err towards thick bodies."""
    allowance = rules.limit_row("wingspan_allowance")
    reckoned = allowance.value * body.mm / family.body_per_wingspan
    if family.typical_wingspan_mm is not None and family.typical_wingspan_mm > reckoned:
        span = family.typical_wingspan_mm
        return _Guess(span, f"wingspan {span:g} mm, usual in {family.family}", family.shape_basis)
    how = f"wingspan {reckoned:.3g} mm from body {body.mm:.3g} mm ({_shape(family)})"
    basis = max(family.shape_basis, allowance.rule.basis, key=BASES.index)
    return _Guess(reckoned, how, basis)


def _shape(family: FamilyRow) -> str:
    return f"shape of {family.family}" if family.family != ANY else "shape of an unlisted family"
