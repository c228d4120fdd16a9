"""What a person said of a folder's lists, kept beside them so that it is not asked again."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scheduler.intake.asking import Question
from scheduler.intake.batch.columns import TABLES, Table, title_key
from scheduler.intake.batch.findings import Findings, did_you_mean
from scheduler.intake.batch.titles import NOT_READ, NOTE, Meaning
from scheduler.table import TableFault, decoded, read_bytes
from scheduler.words.problems import BadInput

if TYPE_CHECKING:
    from scheduler.intake.batch import Batch

MAPPING_FILE = "columns.toml"
_HEAD = f"""\
# What the columns of the lists in this folder mean to wingrest: a column of its tables,
# "{NOTE}" to keep the cell as a note, "{NOT_READ}" to leave it out. `wingrest load` wrote this from
# your answers, and asks about titles that are not here. [ids] has the ids that it gave to rows
# without one, each with what its row says, so that it recognises the row next time.
"""


@dataclass(frozen=True, slots=True)
class Mapped:
    """What titles mean, by table and `title_key`, and what else was agreed to."""

    titles: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    agreed: frozenset[str] = frozenset()
    spelt: Mapping[str, str] = field(default_factory=dict)
    said: Mapping[str, str] = field(default_factory=dict)
    """What was said of decimal sign, dates and ids, for lists that do not show them."""
    ids: Mapping[str, str] = field(default_factory=dict)
    """Ids given to rows that had none, each with what its row says; "" once the row is gone."""

    def of(self, table: Table) -> Mapping[str, str]:
        """Return what the titles of one table mean."""
        return self.titles.get(table.name, {})

    def with_titles(self, table: Table, said: Mapping[str, str]) -> Mapped:
        """Return a mapping with more titles; what is said now replaces what was kept."""
        more = {title_key(title): column for title, column in said.items()}
        titles = {**self.titles, table.name: {**self.of(table), **more}}
        spelt = {**self.spelt, **{title_key(title): title for title in said}}
        return replace(self, titles=titles, spelt=spelt)

    def agreed_to(self, question: Question) -> bool:
        """Say whether a question need not be asked again, because its answer was agreed to."""
        return not question.open and question.key in self.agreed


def mapping_path(place: Path) -> Path:
    """Return where the mapping of a batch is: in its folder, or beside its file."""
    return (place if place.is_dir() else place.parent) / MAPPING_FILE


def read_mapping(place: Path, findings: Findings) -> Mapped:
    """Return what was said before; a fault in the file is reported as a problem."""
    path = mapping_path(place)
    if not path.is_file():
        return Mapped()
    try:
        content = tomllib.loads(decoded(read_bytes(path))[0])
    except TableFault as fault:
        findings.problem(MAPPING_FILE, fault.row, None, None, fault.reason, fault.remedy)
        return Mapped()
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        reason = f"is not TOML ({error})"
        findings.problem(MAPPING_FILE, None, None, None, reason, "Correct it, or delete it")
        return Mapped()
    titles: dict[str, dict[str, str]] = {}
    spelt: dict[str, str] = {}
    for table in TABLES:
        for title, column in _section(content, table, findings):
            titles.setdefault(table.name, {})[title_key(title)] = column
            spelt[title_key(title)] = title
    agreed = content.get("agreed", [])
    if not isinstance(agreed, list):
        remedy = 'Write a list of texts, or delete the line: agreed = ["two-digit years"]'
        findings.problem(MAPPING_FILE, None, "agreed", str(agreed), "is not a list", remedy)
        agreed = []
    said = _texts(content, "said", findings)
    return Mapped(
        titles, frozenset(map(str, agreed)), spelt, said, _texts(content, "ids", findings)
    )


def _texts(content: Mapping[str, Any], name: str, findings: Findings) -> dict[str, str]:
    section = content.get(name, {})
    if not isinstance(section, dict):
        reason, remedy = "is no section", f"Write [{name}]"
        findings.problem(MAPPING_FILE, None, name, str(section), reason, remedy)
        return {}
    return {key: str(value) for key, value in section.items()}


def _section(content: Mapping[str, Any], table: Table, findings: Findings) -> list[tuple[str, str]]:
    section = content.get(table.name, {})
    if not isinstance(section, dict):
        reason = "is not a list of titles"
        findings.problem(MAPPING_FILE, None, table.name, None, reason, f"Write [{table.name}]")
        return []
    found = []
    for title, said in section.items():
        column = column_said(str(said), table)
        if column is None:
            guess = did_you_mean(str(said), [c.name for c in table.columns])
            reason = f"is no column of {table.name}{guess.rstrip('?')}"
            remedy = f'Write a column, "{NOTE}" or "{NOT_READ}"'
            findings.problem(MAPPING_FILE, None, title, str(said), reason, remedy)
        else:
            found.append((title, column))
    return found


def column_said(said: str, table: Table) -> str | None:
    """Return the column that a person named, whatever its case; None when there is none."""
    names = {column.key: column.name for column in table.columns}
    plain = said.strip()
    return plain if plain in (NOTE, NOT_READ) else names.get(title_key(plain))


def keep_mapping(place: Path, batch: Batch, *, said: bool = False) -> None:
    """Write what was agreed to, or what was `said`, beside the lists.

    Raises BadInput when the file cannot be written.
    """
    columns = {
        table: seen.columns for table in TABLES for seen in batch.seen if seen.table == table.name
    }
    kinds = frozenset(
        q.key for q in batch.questions if not q.open and not q.key.startswith(("column ", "ids"))
    )
    given = {name: text for seen in batch.seen for name, text in seen.ids.items()}
    told = {key: word for seen in batch.seen for key, word in seen.said.items()}
    mapped = replace(
        batch.mapped, said={**batch.mapped.said, **told}, ids={**batch.mapped.ids, **given}
    )
    if not batch.questions and not said and mapped == batch.mapped:
        return
    path = mapping_path(place)
    try:
        path.write_text(mapping_text(mapped, columns, kinds), encoding="utf-8")
    except OSError as error:
        raise BadInput(
            f"{path} cannot be written ({error.strerror}), and what you agreed to would be asked"
            " again. Nothing was loaded. Make the folder writable, or copy the list elsewhere"
        ) from error


def mapping_text(
    mapped: Mapped, seen: Mapping[Table, tuple[Meaning, ...]], agreed: frozenset[str]
) -> str:
    """Return the file's text: what was kept, and what was agreed to now."""
    lines = [_HEAD]
    every = sorted(mapped.agreed | agreed)
    if every:
        lines.append(f"agreed = [{', '.join(_quoted(kind) for kind in every)}]")
    for table in TABLES:
        titles = {mapped.spelt.get(key, key): column for key, column in mapped.of(table).items()}
        known = set(map(title_key, titles))
        for meaning in seen.get(table, ()):
            if meaning.how in ("guessed", "note", "said") and title_key(meaning.title) not in known:
                titles[meaning.title] = meaning.column or NOT_READ
        if titles:
            lines.append(f"\n[{table.name}]")
            lines += [f"{_quoted(title)} = {_quoted(column)}" for title, column in titles.items()]
    for name, texts in (("said", mapped.said), ("ids", mapped.ids)):
        if texts:
            lines.append(f"\n[{name}]")
            lines += [f"{_quoted(key)} = {_quoted(text)}" for key, text in texts.items()]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
