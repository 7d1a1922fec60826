"""Frozen dataclasses that cost little to define.

`dataclass(frozen=True)` compiles six functions for each class, which was a seventh of the work of a small fit. Five of
them are the same for every class but for the names of its fields, and are shared here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, Field, FrozenInstanceError, dataclass, field, fields
from operator import attrgetter
from typing import Any, TypeVar, dataclass_transform

T = TypeVar("T")
ANEW = object()  # the default of an argument whose value is made anew each time


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def frozen(*, eq: bool = True) -> Callable[[type[T]], type[T]]:
    """What `dataclass(frozen=True, slots=True, eq=eq)` makes of a class; `fields` and `replace` work as there.

    Args:
        eq: whether values with equal fields are equal; otherwise, as where fields are arrays, only a value and itself.
    """

    def define(cls: type[T]) -> type[T]:
        slotted: type[T] = dataclass(init=False, repr=False, eq=False, slots=True)(cls)
        own = fields(slotted)  # type: ignore[arg-type]  # what a decorator adds is known at its uses alone
        methods = _methods(own, eq=eq)
        for method in (*methods, _init(own, then=hasattr(slotted, "__post_init__"))):
            name = method.__name__
            if name not in cls.__dict__:
                method.__qualname__ = f"{cls.__qualname__}.{name}"
                setattr(slotted, name, method)
        return slotted

    return define


def _init(own: tuple[Field[Any], ...], *, then: bool) -> Callable[..., None]:
    """The function that sets every field, compiled as it is called for every value.

    Args:
        own: the fields, in order.
        then: whether what a class does after it is called too.
    """
    scope: dict[str, Any] = {"_set": object.__setattr__, "_anew": ANEW}
    heads, lines = ["self"], []
    for each in own:
        name = each.name
        head, value = name, name
        if each.default_factory is not MISSING:
            scope[f"_new_{name}"] = each.default_factory
            head, value = f"{name}=_anew", f"_new_{name}() if {name} is _anew else {name}"
        elif each.default is not MISSING:
            scope[f"_default_{name}"] = each.default
            head = f"{name}=_default_{name}"
        heads.append(head)
        lines.append(f" _set(self, {name!r}, {value})")
    if then:
        lines.append(" self.__post_init__()")
    names: dict[str, Any] = {}
    exec(f"def __init__({', '.join(heads)}):\n" + "\n".join(lines or [" pass"]), scope, names)  # noqa: S102  # of our own names
    init: Callable[..., None] = names["__init__"]
    init.__annotations__ = {each.name: each.type for each in own} | {"return": "None"}
    return init


def _methods(own: tuple[Field[Any], ...], *, eq: bool) -> list[Callable[..., Any]]:
    """The functions that differ between classes in the names of fields alone.

    Args:
        own: the fields, in order.
        eq: whether values with equal fields are equal.
    """
    names, shown = [each.name for each in own], [each.name for each in own if each.repr]
    compared = [each.name for each in own if each.compare]
    values = attrgetter(*compared, "__class__")  # with one name more, a tuple for one field and for none too

    def __repr__(self: object) -> str:  # noqa: N807  # becomes the method
        return f"{type(self).__qualname__}({', '.join(f'{name}={getattr(self, name)!r}' for name in shown)})"

    def __eq__(self: object, other: object) -> bool:  # noqa: N807
        return values(self) == values(other) if other.__class__ is self.__class__ else NotImplemented

    def __hash__(self: object) -> int:  # noqa: N807
        return hash(values(self))

    def __setattr__(self: object, name: str, value: object) -> None:  # noqa: ARG001, N807
        raise FrozenInstanceError(f"cannot assign to field {name!r}")

    def __delattr__(self: object, name: str) -> None:  # noqa: ARG001, N807
        raise FrozenInstanceError(f"cannot delete field {name!r}")

    def __getstate__(self: object) -> list[Any]:  # noqa: N807  # to copy it and to send it to another process
        return [getattr(self, name) for name in names]

    def __setstate__(self: object, state: list[Any]) -> None:  # noqa: N807
        for name, value in zip(names, state, strict=True):
            object.__setattr__(self, name, value)

    always: list[Callable[..., Any]] = [__repr__, __setattr__, __delattr__, __getstate__, __setstate__]
    return [*always, __eq__, __hash__] if eq else always
