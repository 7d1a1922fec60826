"""The options that a table of a song file or a song set gives, in the order of `pegwright fit --help`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from pegwright.ask.kinds import NamedValues, OrAuto
from pegwright.ask.request import AUTO
from pegwright.ask.table import BY_NAME, OPTIONS, Option, Value, opens
from pegwright.config.fields import Table
from pegwright.config.song_checks import check_of


def read_given(table: Table, folder: Path, unless_given: Mapping[str, Value]) -> dict[str, Value]:
    """The written values of options by their names; faults are noted in the table.

    Args:
        table: with the options under their keys.
        folder: paths in it are relative to this.
        unless_given: the values of those that the table does not give.
    """
    values = dict(unless_given)
    for option in OPTIONS:
        if not table.has(option.key):
            continue
        values[option.name] = _read(table, option, folder)
        if option.goes_with and not opens(values.get(option.goes_with)):
            _refuse_alone(table, option)
    return values


def _read(table: Table, option: Option, folder: Path) -> Value:
    """The value of an option in the table; None where it is faulty."""
    if isinstance(option.kind, NamedValues):
        return _read_pairs(table.table(option.key), option.kind, folder)
    return table.value(option.key, check_of(option.kind, folder), None)


def _read_pairs(table: Table, kind: NamedValues, folder: Path) -> tuple[tuple[Value, Value], ...]:
    pairs: dict[Value, Value] = {}
    for text in table.values:
        value = table.value(text, check_of(kind.value, folder), None)
        key = int(text) if re.fullmatch("[0-9]{1,999}", text) else text  # a key of a table is always a text
        name = table.checked(text, key, check_of(kind.key), None) if kind.key else text
        if name is None:
            continue
        if name in pairs:
            table.fault(text, f"percussion key {name} is given twice", "keep one of the two")
        pairs[name] = value
    return tuple((name, value) for name, value in pairs.items() if value is not None)


def _refuse_alone(table: Table, option: Option) -> None:
    other = BY_NAME[option.goes_with]
    if not table.faults.none_in(table.at(other.key)):
        return
    if isinstance(other.kind, OrAuto):
        table.fault(option.key, f'goes with {other.key} = "{AUTO}"', "take it out, or leave the choice open")
    else:
        table.fault(option.key, f"goes with {other.key} = true", "add that, or take it out")
