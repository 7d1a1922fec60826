"""The fast check of pins passes nothing that the schema's own validator would refuse."""

from __future__ import annotations

import copy
import json
import random
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from pegwright.errors import InputError
from pegwright.read.pinmap import map_document
from pegwright.read.plain_pins import without_plain_pins
from places import ROOT
from schemas import schema
from thorough import cases
from working import PIER, document

VALUES: tuple[Any, ...] = (
    None,
    True,
    False,
    0,
    1,
    -1,
    3.0,
    2.5,
    10**7,
    127,
    128,
    "",
    "x",
    "1",
    "1.5",
    "4 2/3",
    "0",
    "1/2",
    [],
    {},
)
OLD = json.loads((ROOT / "tests" / "data" / "maps" / "air-1.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("whole", [document(PIER), OLD], ids=["version 3", "version 1"])
def test_a_changed_pin_is_passed_only_if_the_validator_passes_it(whole: dict[str, Any]) -> None:
    validator = Draft202012Validator(schema(f"pin-map-{whole['version']}.json"))
    chance = random.Random(9)  # noqa: S311  # a seeded sample
    whole = {**whole, "plates": whole["plates"][:1]}
    whole["plates"] = [{**whole["plates"][0], "pins": whole["plates"][0]["pins"][:2]}]
    outcomes = set()
    for _ in range(cases(150, 2000)):
        changed = copy.deepcopy(whole)
        pin = chance.choice(changed["plates"][0]["pins"])
        key = chance.choice([*pin, "colour"])
        if chance.random() < 0.15:
            pin.pop(key, None)
        else:
            pin[key] = chance.choice(VALUES)
        passed = without_plain_pins(changed, whole["version"]) is not changed
        is_valid = validator.is_valid(changed)
        assert is_valid or not passed, pin
        outcomes.add((passed, is_valid))
    assert {(True, True), (False, False)} <= outcomes


def test_a_large_map_is_refused_with_the_validators_words() -> None:
    changed = document(PIER)
    changed["plates"][5]["pins"][0]["hole"] = 0
    with pytest.raises(InputError, match=r"plates\[5\]\.pins\[0\]\.hole: 0 is less than the minimum of 1"):
        map_document(json.dumps(changed).encode(), "air.json")


@pytest.mark.parametrize("plates", [None, [], [1], [{}], [{"pins": 3}], [{"pins": [3]}]])
def test_what_has_no_pins_is_left_to_the_validator(plates: object) -> None:
    changed = {**document(PIER), "plates": plates}
    with pytest.raises(InputError):
        map_document(json.dumps(changed).encode(), "air.json")
