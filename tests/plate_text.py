"""Plate files for tests: those that ship, as data that can be changed and read again."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable
from functools import cache
from typing import Any

from pegwright.config.plate_file import parse_plate
from pegwright.config.wheel_file import load_wheel, parse_wheel
from pegwright.making import PlateFile
from pegwright.wheel import Wheel
from places import ROOT
from toml_text import toml_text

DEMO = ROOT / "songs" / "merrow-sands-plate.toml"
DEMO_WHEEL = ROOT / "songs" / "merrow-sands.toml"
STARTER = ROOT / "src" / "pegwright" / "starter" / "plate.toml"
STARTER_WHEEL = ROOT / "src" / "pegwright" / "starter" / "wheel.toml"
Values = dict[str, Any]
Change = Callable[[Values], object]


@cache
def demo_wheel() -> Wheel:
    return load_wheel(DEMO_WHEEL)


@cache
def starter_wheel() -> Wheel:
    return load_wheel(STARTER_WHEEL)


def demo_values() -> Values:
    return copy.deepcopy(_values(DEMO.read_text(encoding="utf-8")))


def starter_values() -> Values:
    return copy.deepcopy(_values(STARTER.read_text(encoding="utf-8")))


@cache
def _values(text: str) -> Values:
    return tomllib.loads(text)


def demo_plate(*changes: Change) -> PlateFile:
    """The plate file of the demo wheel after changes to its values."""
    return read(changed(demo_values(), *changes), demo_wheel())


def changed(values: Values, *changes: Change) -> Values:
    for change in changes:
        change(values)
    return values


def read(values: Values, wheel: Wheel) -> PlateFile:
    return parse_plate(toml_text(values).encode(), "plate.toml", wheel)


def wheel_with(text: str) -> Wheel:
    """The demo wheel with more lines at the end of its file."""
    return parse_wheel(DEMO_WHEEL.read_bytes() + text.encode(), "wheel.toml")


def setting(table: str, /, **keys: object) -> Change:
    """A change that sets keys of a table."""
    return lambda values: values.setdefault(table, {}).update(keys)


def adding(heading: str, /, **keys: object) -> Change:
    """A change that adds a table to a list of tables."""
    return lambda values: values.setdefault(heading, []).append(keys)


def without(table: str, *keys: str) -> Change:
    """A change that takes keys out of a table."""
    return lambda values: [values[table].pop(key) for key in keys]
