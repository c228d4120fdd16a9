"""What helps to read the tables of a batch, beside what they show themselves."""

from __future__ import annotations

from dataclasses import dataclass, field

from scheduler.intake.asking import of_file
from scheduler.intake.batch.given_ids import Before
from scheduler.intake.batch.manner import Told
from scheduler.intake.batch.mapping import Mapped


@dataclass(frozen=True, slots=True)
class Aids:
    """What helps to read a table: what was told, what was agreed to before, what year it is.

    `taken` are all names in the record, `specimens` those of specimens.
    """

    told: Told = field(default_factory=Told)
    mapped: Mapped = field(default_factory=Mapped)
    this_year: int | None = None
    taken: frozenset[str] = frozenset()
    specimens: frozenset[str] = frozenset()

    def before(self, called: str) -> Before:
        """Return what is known of the ids that were given to the rows of a list before."""
        answers = of_file(self.told.answers, called)
        mapped = self.mapped
        return Before(mapped.said.get("ids"), mapped.ids, answers, self.taken, self.specimens)
