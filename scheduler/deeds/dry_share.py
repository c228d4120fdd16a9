"""Record how careful a person is: how many of those that are due shall be dry."""

from __future__ import annotations

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import replan
from scheduler.faces.moved import moved_lines
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook


def set_dry_share(store: Store, rules: Rulebook, share_pct: int, when: When) -> Outcome:
    """Record that `share_pct` % of what is due shall be dry; the kept plan is mended.

    It matters in rooms that have enough tests of their own.
    """
    with store.deed(when, "rooms") as deed:
        if store.facts().settings.dry_share_pct == share_pct:
            return Outcome((f"{share_pct} % of those called due are to be dry already",))
        deed.text = f"{share_pct} % of those called due are to be dry"
        deed.put("setting", {"key": "dry_share_pct", "value": str(share_pct)})

    def tell() -> Outcome:
        made = replan(store, rules, when.now)
        return Outcome((deed.text, *([] if made is None else moved_lines(made))))

    return told(deed, tell)
