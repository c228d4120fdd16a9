"""The months by their names, in English and German, whole or shortened."""

from __future__ import annotations

from collections.abc import Mapping

_WHOLE = (
    "january february march april may june july august september october november december",
    "januar februar maerz april mai juni juli august september oktober november dezember",
)
_SHORT = {"mrz": 3}
"""Short forms that are not the beginning of a month's name."""
FIRST_LETTERS: Mapping[str, int] = {
    **{name[:3]: n for names in _WHOLE for n, name in enumerate(names.split(), 1)},
    **_SHORT,
}
"""The first three letters of a month's name, with its number, 1 to 12."""


def month_by_name(word: str) -> int | None:
    """Return a month's number, 1 to 12, by its name or three or more of its letters, else None."""
    said = word.casefold().removesuffix(".").replace("ä", "ae")
    whole = (name for names in _WHOLE for name in names.split())
    if said in _SHORT or (len(said) >= 3 and any(name.startswith(said) for name in whole)):
        return FIRST_LETTERS[said[:3]]
    return None
