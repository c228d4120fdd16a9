"""Named tuples that compile nothing until many were made, so that questions start fast.

`typing.NamedTuple` compiles every annotation when a module is imported, and
`collections.namedtuple` a function for each class. A quick question, which takes a tenth of a
second, imports over a hundred such classes, uses about half of them, and makes more than a few of a
dozen; compiling all of them took a fifth of its time.
"""

from __future__ import annotations

from collections import namedtuple
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from typing import NamedTuple as NamedTuple
else:
    _MANY = namedtuple("_MANY", [f"field_{number}" for number in range(40)])
    FEW = 160
    """Compiling costs as much as it saves in so many tuples of which nothing is named."""
    NAMED = 6
    """Compiling saves so many times as much where a value is named or left out."""
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

    def _few_of(fields: tuple[str, ...], defaults: dict[str, Any]) -> Any:
        """Return a `__new__` for the first tuples of a class; then it compiles one for the rest."""
        spent = 0

        def few(cls, /, *values, **named):
            nonlocal spent
            spent += 1
            if named or len(values) != len(fields):
                spent += NAMED - 1
                given = defaults | dict(zip(fields, values, strict=False)) | named
                twice = not named.keys().isdisjoint(fields[: len(values)])
                if twice or len(values) > len(fields) or given.keys() != set(fields):
                    return _compiled(cls)(cls, *values, **named)  # it says what is wrong
                values = [given[field] for field in fields]
            if spent >= FEW:
                cls.__new__ = staticmethod(_compiled(cls))
            return tuple.__new__(cls, values)

        return few

    def _compiled(made: type) -> Any:
        fields = ", ".join(made._fields)
        code = f"lambda _cls, {fields}: _new(_cls, ({fields},))"
        new = eval(code, {"_new": tuple.__new__, "__builtins__": {}})
        new.__name__, new.__qualname__ = "__new__", f"{made.__qualname__}.__new__"
        new.__defaults__ = tuple(made._field_defaults.values())
        return new

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
            whole |= {"_field_defaults": given, "__new__": _few_of(fields, given), **places, **body}
            return type(name, (_Named,), whole)

    class NamedTuple(metaclass=_Naming):
        """A tuple whose fields have names; the last fields may have default values."""
