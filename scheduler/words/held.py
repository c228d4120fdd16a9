"""Classes that hold what they are given and are not changed; they compile nothing when imported.

`dataclasses` compiles half a dozen functions for each class, and its import costs a quick question
as much again. A class of this kind has a `__dict__`, so it may compute things once; unlike the
records, which are tuples, it is equal to itself alone unless it says otherwise.
"""

from __future__ import annotations

from typing import Any, TypeVar, dataclass_transform

_Made = TypeVar("_Made", bound=type)


@dataclass_transform(eq_default=False, frozen_default=True)
def held(made: _Made) -> _Made:
    """Give a class an `__init__` that takes its annotated fields, those with a value last."""
    fields = tuple(made.__annotations__)
    defaults = {field: vars(made)[field] for field in fields if field in vars(made)}
    known = frozenset(fields)

    def hold(self: object, *values: object, **named: object) -> None:
        given: dict[str, Any] = dict(zip(fields, values, strict=False)) | named
        parts = defaults | given
        if parts.keys() != known or len(given) != len(values) + len(named):
            raise TypeError(f"{made.__name__} holds {', '.join(fields)}")
        vars(self).update(parts)

    setattr(made, "__init__", hold)  # noqa: B010
    setattr(made, "__dataclass_fields__", _Fields(made, fields))  # noqa: B010
    return made


class _Fields:
    """The fields of a class for `dataclasses.replace`, made when somebody first asks for them."""

    def __init__(self, made: type, names: tuple[str, ...]) -> None:
        self.made, self.names = made, names

    def __get__(self, one: object, of: type) -> Any:
        from dataclasses import make_dataclass

        fields = vars(make_dataclass(self.made.__name__, self.names))["__dataclass_fields__"]
        setattr(self.made, "__dataclass_fields__", fields)  # noqa: B010
        return fields
