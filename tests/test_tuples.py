"""Our named tuples take and refuse what those of `typing` do, the first one and the hundredth."""

from __future__ import annotations

import pickle
import typing
from typing import Any

import pytest

from scheduler.words import tuples

GIVEN: list[tuple[tuple[Any, ...], dict[str, Any]]] = [
    ((1,), {}),
    ((1, "q"), {}),
    ((1, "q", 3), {}),
    ((), {"mm": 1}),
    ((), {"hour": 9, "mm": 1}),
    ((1,), {"hour": 9}),
    ((), {}),
    ((), {"hour": 1}),
    ((1,), {"mm": 2}),
    ((1, "q", 3), {"mm": 3}),
    ((1, "q", 3, 4), {}),
    ((1,), {"no_such": 3}),
    ((1, "q", 3), {"no_such": 3}),
    ((), {"mm": 1, "name": "q", "hour": 3, "no_such": 4}),
]


def kinds() -> tuple[Any, Any]:
    class Slot(tuples.NamedTuple):
        mm: int
        name: str = "x"
        hour: int = 3

    class Usual(typing.NamedTuple):
        mm: int
        name: str = "x"
        hour: int = 3

    return Slot, Usual


@pytest.mark.parametrize("before", [0, 1, 31, 32, 100])
@pytest.mark.parametrize(("values", "named"), GIVEN)
def test_it_takes_and_refuses_what_a_usual_one_does(
    before: int, values: tuple[Any, ...], named: dict[str, Any]
) -> None:
    slot, usual = kinds()
    for _ in range(before):
        slot(1)
    try:
        expected = usual(*values, **named)
    except TypeError:
        with pytest.raises(TypeError):
            slot(*values, **named)
    else:
        made = slot(*values, **named)
        assert made == expected
        assert type(made) is slot
        assert made._asdict() == expected._asdict()


class Kept(tuples.NamedTuple):
    mm: int
    name: str = "x"


def test_it_is_pickled_and_replaced_before_and_after_it_is_compiled() -> None:
    for n in range(40):
        assert pickle.loads(pickle.dumps(Kept(n)))._replace(name="y") == (n, "y")
