"""The signs and paper patterns that show how dry something is; each differs in shape.

Everything can be told apart in black and white; the stylesheets only add colour.
"""

from __future__ import annotations

from collections.abc import Mapping

from markupsafe import Markup

from scheduler.drying.answer import Answer

SIGN_BOX = 20
"""The side of the square in which signs are drawn, in its own units."""

_SIGNS: Mapping[Answer, str] = {
    # A drop: still damp.
    "not yet": '<path d="M10 2C7 7 4.5 9.6 4.5 12.8a5.5 5.2 0 0 0 11 0C15.5 9.6 13 7 10 2Z"/>',
    # A pin, held as for lifting a vein.
    "test it now": '<path d="M3 17.5 11.6 8.4"/><circle class="full" cx="14" cy="6" r="3.6"/>',
    # A tick: tested stiff.
    "take off": '<path class="thick" d="M3 11l4.6 5L17 4.4"/>',
    # A cloud with rain.
    "dry, but not today": (
        '<path d="M5.6 11.5a3.4 3.4 0 0 1 .5-6.7 4.6 4.6 0 0 1 8.6 1 2.9 2.9 0 0 1 .2 5.7Z"/>'
        '<path d="M6.5 14l-1.4 3.6M10.7 14l-1.4 3.6M14.9 14l-1.4 3.6"/>'
    ),
    "cannot say": (
        '<path class="thick" d="M6 7a4 3.8 0 1 1 6 3.3c-1.5 1-2 1.6-2 3"/>'
        '<circle class="full" cx="10" cy="17" r="1.4"/>'
    ),
    # The bare groove.
    "empty": '<path d="M2 8h16M2 12h16"/>',
}

PAPERS: Mapping[Answer, str] = {
    "not yet": "paper-damp",
    "test it now": "paper-plain",
    "take off": "paper-stiff",
    "dry, but not today": "paper-rain",
    "cannot say": "paper-dots",
}
"""The pattern of the paper strips over a specimen, by the answer about it."""


def sign_shapes(answer: Answer) -> Markup:
    """Return the sign of an answer, to be placed inside a drawing."""
    return Markup(f'<g class="sign">{_SIGNS[answer]}</g>')


def sign(answer: Answer) -> Markup:
    """Return the sign of an answer as a small drawing beside its words."""
    box = f"0 0 {SIGN_BOX} {SIGN_BOX}"
    return Markup(
        f'<svg class="beside" viewBox="{box}" aria-hidden="true" focusable="false">{{}}</svg>'
    ).format(sign_shapes(answer))


def papers() -> Markup:
    """Return the paper patterns, which a page needs once before its first drawing."""
    return Markup(
        '<svg class="patterns" width="0" height="0" aria-hidden="true" focusable="false"><defs>'
        '<pattern id="paper-damp" width="6" height="6" patternUnits="userSpaceOnUse"'
        ' patternTransform="rotate(45)"><rect class="sheet" width="6" height="6"/>'
        '<path class="line" d="M1.5 0v6"/></pattern>'
        '<pattern id="paper-plain" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<rect class="sheet" width="6" height="6"/></pattern>'
        '<pattern id="paper-stiff" width="8" height="8" patternUnits="userSpaceOnUse">'
        '<rect class="sheet" width="8" height="8"/><path class="line" d="M0 4h8M4 0v8"/></pattern>'
        '<pattern id="paper-rain" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<rect class="sheet" width="6" height="6"/><path class="line" d="M0 3q1.5-2.4 3 0t3 0"/>'
        '</pattern><pattern id="paper-dots" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<rect class="sheet" width="6" height="6"/><circle class="dot" cx="3" cy="3" r="1.1"/>'
        "</pattern></defs></svg>"
    )
