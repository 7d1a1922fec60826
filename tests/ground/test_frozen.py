"""Frozen values, beside what the standard library's `dataclass(frozen=True, slots=True)` makes of the same class."""

from __future__ import annotations

import copy
import inspect
import pickle
from collections.abc import Callable
from dataclasses import FrozenInstanceError, dataclass, field, fields, replace
from typing import Any

import pytest

from pegwright.frozen import frozen


@frozen()
class Row:
    """A value that can be sent to another process."""

    name: str
    places: tuple[int, ...] = ()
    found: dict[str, int] = field(default_factory=dict)
    hidden: int = field(default=3, repr=False)
    ignored: int = field(default=4, compare=False)


@frozen()
class Longer(Row):
    """A value with a field more than another."""

    more: float = 0.5


@frozen(eq=False)
class Single:
    """A value that is equal to itself alone."""

    name: str


@frozen()
class Checked:
    """A value that is checked when it is made."""

    low: int
    high: int

    def __post_init__(self) -> None:
        if self.low > self.high:
            raise ValueError(f"{self.low} > {self.high}")

    def __repr__(self) -> str:
        return f"{self.low} to {self.high}"


def plain_class() -> type[Any]:
    class Plain:
        """A value."""

        name: str
        places: tuple[int, ...] = ()
        found: dict[str, int] = field(default_factory=dict)
        hidden: int = field(default=3, repr=False)
        ignored: int = field(default=4, compare=False)

    return Plain


MAKERS: list[Callable[[type[Any]], type[Any]]] = [frozen(), dataclass(frozen=True, slots=True)]
CALLS: list[Callable[[type[Any]], object]] = [
    lambda cls: repr(cls("a", (1, 2))),
    lambda cls: repr(replace(cls("a"), places=(4,))),
    lambda cls: [each.name for each in fields(cls)],
    lambda cls: cls("a") == cls("a", (), {}, 3),
    lambda cls: cls("a") == cls("b"),
    lambda cls: cls("a", ignored=1) == cls("a", ignored=2),
    lambda cls: cls("a") == ("a", (), {}, 3),
    lambda cls: cls("a") == Row("a"),
    lambda cls: cls("a").found is cls("a").found,
    lambda cls: hasattr(cls("a"), "__dict__"),
    lambda cls: list(inspect.signature(cls).parameters),
    lambda cls: [each.annotation for each in inspect.signature(cls).parameters.values()],
    lambda cls: cls.__match_args__,
    lambda cls: copy.copy(cls("a", (5,))) == cls("a", (5,)),
    lambda cls: (cls.__name__, cls.__doc__, cls.__init__.__qualname__),
    lambda cls: hash(cls("a")),  # a dictionary has none
    lambda cls: cls(),
    lambda cls: cls("a", (), {}, 3, 4, 5),
    lambda cls: cls("a", wrong=3),
    lambda cls: setattr(cls("a"), "name", "b"),
    lambda cls: delattr(cls("a"), "name"),
    lambda cls: replace(cls("a"), other=4),
]


def outcome(call: Callable[[type[Any]], object], cls: type[Any]) -> object:
    """What a call gives, or the type of what it raises."""
    try:
        return call(cls)
    except (TypeError, AttributeError) as error:
        return type(error)


@pytest.mark.parametrize("call", CALLS)
def test_a_class_behaves_as_a_frozen_dataclass(call: Callable[[type[Any]], object]) -> None:
    ours, standard = (outcome(call, maker(plain_class())) for maker in MAKERS)
    assert ours == standard


def test_equal_values_have_one_hash() -> None:
    assert len({Checked(1, 2), Checked(1, 2), Checked(1, 3)}) == 2


def test_a_value_without_equality_is_equal_to_itself_alone() -> None:
    one = Single("a")
    assert one == one  # noqa: PLR0124  # what is tested
    assert one != Single("a")
    assert len({one, Single("a")}) == 2


def test_a_class_adds_fields_to_those_of_another() -> None:
    value = Longer("a", more=2.0)
    assert repr(value) == "Longer(name='a', places=(), found={}, ignored=4, more=2.0)"
    assert value != Row("a")


def test_values_survive_the_way_to_another_process() -> None:
    value = Longer("a", (1,), {"b": 2}, more=2.0)
    arrived = pickle.loads(pickle.dumps(value))  # noqa: S301  # our own
    assert arrived == value
    with pytest.raises(FrozenInstanceError):
        arrived.name = "b"


def test_a_name_that_is_no_field_is_refused_too() -> None:
    with pytest.raises(FrozenInstanceError):  # the standard's has a TypeError, for a reason of its own
        setattr(Row("a"), "other", 1)  # noqa: B010  # what the type checker refuses as well


def test_what_a_class_defines_itself_is_kept() -> None:
    assert repr(Checked(1, 2)) == "1 to 2"
    with pytest.raises(ValueError, match="3 > 2"):
        replace(Checked(1, 2), low=3)
