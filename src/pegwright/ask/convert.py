"""From the written values of all options to a request, and back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from operator import attrgetter

from pegwright.ask.kinds import OrAuto
from pegwright.ask.options import FitOptions, SearchRange
from pegwright.ask.request import AUTO, Request
from pegwright.ask.table import BY_NAME, OPTIONS, Option, Value, opens

Read = Callable[[Option], Value]  # the written value of an option; None where it is not given


def request_of(read: Read) -> Request:
    """The request that the options make.

    Raises:
        UsageError: a value is out of its bounds, or a name is a duplicate.
    """
    options = FitOptions(**_stored("options", read))
    search = _stored("search", read)
    return Request(options=options, search=SearchRange(**search) if search else None, **_stored("", read))


def written(request: Request, option: Option) -> Value:
    """The value of an option in a request, as a user writes it; None where it is not given."""
    search = request.search or SearchRange()
    if isinstance(option.kind, OrAuto) and getattr(search, option.kind.searched):
        return AUTO
    value = attrgetter(option.target)(replace(request, search=search))
    if value is None or (option.target.startswith("search.") and value in (0, option.default)):
        return None
    return option.storage.written(value)


def _stored(owner: str, read: Read) -> dict[str, Value]:
    """The fields of a request, or of its `owner`, that are given; of two options for one field the latter counts."""
    fields = {}
    for option in OPTIONS:
        landing, _, field = option.target.rpartition(".")
        if landing != owner:
            continue
        value = read(option)
        if option.goes_with:
            value = (value or option.default) if opens(read(BY_NAME[option.goes_with])) else None
        if value is None or value is False or (value == AUTO and isinstance(option.kind, OrAuto)):
            continue
        fields[field] = option.storage.stored(value)
    return fields
