"""Triggers that keep the journal: what changed in a state table, before and after."""

from __future__ import annotations

from collections.abc import Sequence


def _image(side: str, columns: Sequence[str]) -> str:
    # 17 significant digits give every double back exactly; json_object alone keeps 15.
    parts = (
        f"'{c}', CASE typeof({side}.{c}) WHEN 'real' THEN printf('%!.17g', {side}.{c})"
        f" WHEN 'blob' THEN hex({side}.{c}) ELSE {side}.{c} END"
        for c in columns
    )
    return f"json_object({', '.join(parts)})"


def journaled(table: str, key: str, columns: Sequence[str]) -> str:
    """Return triggers that note every change of `table` under the current journal line."""
    every = (key, *columns)
    return noting(table, key, _image("OLD", every), _image("NEW", every))


def noting(table: str, key: str, old: str, new: str) -> str:
    """Return triggers that note every change of `table`; `old`, `new`: its images in SQL."""
    into = "INSERT INTO change(line, of_table, key, before, after) VALUES ("
    line = "(SELECT line FROM writing)"
    return f"""
CREATE TRIGGER {table}_added AFTER INSERT ON {table} BEGIN
  {into}{line}, '{table}', NEW.{key}, NULL, {new});
END;
CREATE TRIGGER {table}_changed AFTER UPDATE ON {table} BEGIN
  {into}{line}, '{table}', OLD.{key}, {old}, {new});
END;
CREATE TRIGGER {table}_taken AFTER DELETE ON {table} BEGIN
  {into}{line}, '{table}', OLD.{key}, {old}, NULL);
END;
"""


def naming(table: str) -> str:
    """Return triggers that keep ids unique across all kinds of things, whatever their case."""
    return f"""
CREATE TRIGGER {table}_named BEFORE INSERT ON {table} BEGIN
  INSERT INTO name(name, kind) VALUES (NEW.{table}, '{table}');
END;
CREATE TRIGGER {table}_unnamed AFTER DELETE ON {table} BEGIN
  DELETE FROM name WHERE name = OLD.{table};
END;
"""


def untriggered(table: str) -> str:
    """Return what takes away the triggers that note the changes of a table."""
    return "".join(f"DROP TRIGGER {table}_{what};\n" for what in ("added", "changed", "taken"))


def rejournaled(table: str, key: str, columns: Sequence[str]) -> str:
    """Return triggers that replace the older ones of a table, after a column was added."""
    return untriggered(table) + journaled(table, key, columns)
