"""Wheel files spoilt at random: a fault is always told as one, with its key path, and nothing else escapes."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thorough
from pegwright.config import parse_wheel
from pegwright.errors import ConfigError
from pegwright.wheel import Wheel
from places import ROOT
from toml_text import toml_text

STARTER = (ROOT / "src" / "pegwright" / "starter" / "wheel.toml").read_bytes()
EXTRA = b"""
[[lost]]
row = "on"
hole = 16
plate = 2
channel = "drum"
[[limit]]
name = "drive"
channels = ["C bar", "D bar"]
strikes = 2
window_ms = 50
"""
BASE: dict[str, Any] = tomllib.loads((STARTER + EXTRA).decode())
OPTIONAL = {
    ("wheel", "plate_sets"),
    ("wheel", "repin_within_song"),
    ("wheel", "reach"),
    ("row", "lateral_mm"),
    ("channel_defaults", "rows"),
    ("channel_defaults", "kind"),
    ("channel_defaults", "lead_ms"),
    ("channel", "rows"),
    ("channel", "restrike_ms"),
    ("channel", "pitches"),
    ("channel", "drum_keys"),
    *(("geometry", key) for key in BASE["geometry"]),
    ("lost", "plate"),
    ("lost", "channel"),
}

Step = str | int
Path_ = tuple[Step, ...]


def paths(value: object, here: Path_ = ()) -> Iterator[Path_]:
    """Every place in a nest of tables and lists, its top excepted."""
    items: list[tuple[Step, object]] = []
    if isinstance(value, dict):
        items = list(value.items())
    elif isinstance(value, list):
        items = list(enumerate(value))
    for step, inner in items:
        yield (*here, step)
        yield from paths(inner, (*here, step))


PATHS = list(paths(BASE))
KEYS = [path for path in PATHS if isinstance(path[-1], str) and len(path) > 1]


def shown(path: Path_) -> str:
    """A path as faults print it."""
    return "".join(f"[{step + 1}]" if isinstance(step, int) else f".{step}" for step in path).removeprefix(".")


def holder(top: Any, path: Path_) -> Any:  # noqa: ANN401  # tables and lists of any kind
    """The table or list that holds the last step of a path."""
    for step in path[:-1]:
        top = top[step]
    return top


def outcome(data: bytes) -> Wheel | list[str]:
    """The wheel, or the key paths of its well-told faults."""
    try:
        return parse_wheel(data, "wheel.toml")
    except ConfigError as error:
        faults = error.faults
    assert faults
    for fault in faults:
        line = str(fault)
        assert line.isprintable(), line
        assert len(line) < 600
        assert fault.message
        assert fault.hint
    return [re.sub(r" \(line \d+\)$", "", fault.where) for fault in faults]


VALUES = st.recursive(
    st.one_of(
        st.integers(-3, 200),
        st.integers(-(10**40), 10**40),
        st.floats(),
        st.booleans(),
        st.text(st.characters(exclude_categories=["Cs"]), max_size=70),
        st.sampled_from(["1/2", "2/3", "1/0", "-1/2", "on", "half", "C bar", "strike", "C5", "H2"]),
        st.just(date(2026, 1, 1)),
    ),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@pytest.mark.parametrize("path", KEYS, ids=shown)
def test_a_key_left_out_is_told_unless_it_has_a_default(path: Path_) -> None:
    top = copy.deepcopy(BASE)
    del holder(top, path)[path[-1]]
    found = outcome(toml_text(top).encode())
    if (str(path[0]), str(path[-1])) in OPTIONAL:
        assert isinstance(found, Wheel)
    elif path == ("row", 2, "period_steps"):
        assert found == ["row[3].phases[2]"]  # a default that does not go with its phases
    elif path == ("channel_defaults", "restrike_ms"):
        assert found == [f"channel[{number}].restrike_ms" for number in range(1, 9)]
    else:
        assert isinstance(found, list)
        assert shown(path) in found


@pytest.mark.parametrize("path", KEYS, ids=shown)
def test_a_key_misspelt_is_told(path: Path_) -> None:
    top = copy.deepcopy(BASE)
    table = holder(top, path)
    table[f"{path[-1]}x"] = table[path[-1]]
    assert outcome(toml_text(top).encode()) == [f"{shown(path)}x"]


@settings(max_examples=thorough.cases(160, 800), deadline=None)
@given(path=st.sampled_from(PATHS), value=VALUES)
def test_a_value_of_any_kind_is_taken_or_told_at_its_place(path: Path_, value: object) -> None:
    top = copy.deepcopy(BASE)
    holder(top, path)[path[-1]] = value
    found = outcome(toml_text(top).encode())
    if isinstance(found, list):
        assert all(found), "a fault without a key path"
    wrong_type = isinstance(value, dict) and path[-1] not in ("wheel", "geometry", "channel_defaults") and len(path) > 2
    if wrong_type:
        assert isinstance(found, list)
        assert any(where.startswith(shown(path)) for where in found), (shown(path), found)


@settings(max_examples=thorough.cases(60, 300), deadline=None)
@given(st.lists(st.tuples(st.sampled_from(KEYS), VALUES), min_size=2, max_size=8))
def test_several_spoilt_values_never_escape(changes: list[tuple[Path_, object]]) -> None:
    top = copy.deepcopy(BASE)
    for path, value in changes:
        holder(top, path)[path[-1]] = value
    found = outcome(toml_text(top).encode())
    assert isinstance(found, Wheel) or all(found)


@settings(max_examples=thorough.cases(60, 300), deadline=None)
@given(st.data())
def test_spoilt_bytes_never_escape(data: st.DataObject) -> None:
    spoilt = bytearray(STARTER)
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(spoilt) - 1))
        spoilt[place : place + data.draw(st.integers(0, 40))] = data.draw(st.binary(max_size=6))
    outcome(bytes(spoilt))


@settings(max_examples=50, deadline=None)
@given(VALUES, st.text(st.characters(exclude_categories=["Cs"]), max_size=80))
def test_a_strange_key_is_told(value: object, key: str) -> None:
    if key not in BASE:
        found = outcome(toml_text({**BASE, key: value}).encode())
        assert isinstance(found, list)
        assert len(found) == 1


def test_an_unspoilt_file_has_no_fault() -> None:
    assert isinstance(outcome(toml_text(BASE).encode()), Wheel)
    assert len(PATHS) > 100


@pytest.mark.parametrize("control", ["\0", "\x1b", "\x7f"])
def test_a_control_character_is_not_repeated_in_the_message(control: str) -> None:
    for line in (f'name = "{control}', f"{control}name = x", f"steps = 1,{control}", f"name = {control}x"):
        assert outcome(f"[wheel]\n{line}\n".encode())
