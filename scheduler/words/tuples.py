"""Named tuples whose annotations nobody evaluates: a question lives a tenth of a second.

`typing.NamedTuple` compiles every annotation when a module is imported. A question imports a
hundred such records, and a tenth of its time went into that.
"""

from __future__ import annotations

from collections import namedtuple
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from typing import NamedTuple as NamedTuple
else:
    _ITS_OWN = {"__annotations__", "__module__", "__qualname__"}

    class _Naming(type):
        """Makes of a class body with annotations the named tuple that it describes."""

        def __new__(cls, name: str, bases: tuple[type, ...], body: dict[str, Any]) -> type:
            if not bases:
                return super().__new__(cls, name, bases, body)
            types = body.get("__annotations__", {})
            given = [body[field] for field in types if field in body]
            made = namedtuple(name, types, defaults=given, module=body["__module__"])
            made.__qualname__, made.__annotations__ = body["__qualname__"], types
            for key in body.keys() - types.keys() - _ITS_OWN:
                setattr(made, key, body[key])
            return made

    class NamedTuple(metaclass=_Naming):
        """A record: a tuple whose fields have names, the last ones perhaps a value if not given."""
