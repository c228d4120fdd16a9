"""Named tuples that compile nothing until the first one is made, so that questions start fast.

`typing.NamedTuple` compiles every annotation when a module is imported, and
`collections.namedtuple` a function for each class. A quick question, which takes a tenth of a
second, imports over a hundred such classes and uses about half of them; compiling all of them took
a fifth of its time.
"""

from __future__ import annotations

from collections import namedtuple
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from typing import NamedTuple as NamedTuple
else:
    _MANY = namedtuple("_MANY", [f"field_{number}" for number in range(40)])
    _PLACES = [vars(_MANY)[field] for field in _MANY._fields]

    class _Named(tuple):
        """What all named tuples have in common."""

        __slots__ = ()

        @classmethod
        def _make(cls, values):
            made = tuple.__new__(cls, values)
            if len(made) != len(cls._fields):
                raise TypeError(f"Expected {len(cls._fields)} arguments, got {len(made)}")
            return made

        def _replace(self, /, **new):
            made = self._make(map(new.pop, self._fields, self))
            if new:
                raise ValueError(f"Got unexpected field names: {list(new)!r}")
            return made

        __replace__ = _replace

        def _asdict(self):
            return dict(zip(self._fields, self, strict=True))

        def __repr__(self):
            said = (f"{field}={value!r}" for field, value in zip(self._fields, self, strict=True))
            return f"{type(self).__name__}({', '.join(said)})"

        def __getnewargs__(self):
            return tuple(self)

    def _first_of(made: type) -> Any:
        """Return a `__new__` for a class's first tuple; it compiles the one for the rest."""

        def first(cls, /, *values, **named):
            fields = ", ".join(made._fields)
            code = f"lambda _cls, {fields}: _new(_cls, ({fields},))"
            new = eval(code, {"_new": tuple.__new__, "__builtins__": {}})
            new.__name__, new.__qualname__ = "__new__", f"{made.__qualname__}.__new__"
            new.__defaults__ = tuple(made._field_defaults.values())
            made.__new__ = staticmethod(new)
            return new(cls, *values, **named)

        return staticmethod(first)

    class _Naming(type):
        """Turns a class body with annotations into the named tuple that it describes."""

        def __new__(cls, name: str, bases: tuple[type, ...], body: dict[str, Any]) -> type:
            if not bases:
                return super().__new__(cls, name, bases, body)
            types = body.get("__annotations__", {})
            fields = tuple(types)
            places = dict(zip(fields, _PLACES, strict=False))
            if len(places) < len(fields):
                raise TypeError(f"{name} has more than {len(_PLACES)} fields")
            given = {field: body.pop(field) for field in fields if field in body}
            if tuple(given) != fields[len(fields) - len(given) :]:
                raise TypeError(f"{name}: a field without a value follows one with it")
            whole = {"__slots__": (), "__match_args__": fields, "_fields": fields}
            whole |= {"_field_defaults": given, **places, **body}
            made = type(name, (_Named,), whole)
            made.__new__ = _first_of(made)
            return made

    class NamedTuple(metaclass=_Naming):
        """A tuple whose fields have names; the last fields may have default values."""
