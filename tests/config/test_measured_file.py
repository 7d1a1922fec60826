"""Files of measured plates spoilt at random: each ends in plates that are placed, or in faults, and nothing else."""

from __future__ import annotations

import copy
import math
import tomllib
from collections.abc import Sequence
from typing import Any

import numpy as np

from pegwright.config.measured_file import parse_measured
from pegwright.errors import ConfigError, PegwrightError, UsageError
from pegwright.making import PlateFile
from pegwright.plate.placing import place_plates
from places import SONGS
from plate_text import demo_plate, demo_wheel
from toml_text import toml_text

MEASURED: dict[str, Any] = tomllib.loads((SONGS / "merrow-sands-measured.toml").read_text(encoding="utf-8"))
GAPS: dict[str, Any] = {
    "set": 2,
    "order": [2, 1, 3, 4, 5, 6],
    "radius_in": 19,
    "gap": [{"after_plate": number, "gap_mm": 0.3} for number in range(1, 7)],
}
VALUES: tuple[Any, ...] = (
    0,
    -1,
    2.5,
    1e300,
    10**40,
    float("nan"),
    float("inf"),
    True,
    "",
    "on",
    "\x1b[2J",
    "1/2",
    [],
    [1, "a"],
    {},
    {"k": 1},
)


def dowelled() -> PlateFile:
    return demo_plate()


def butted() -> PlateFile:
    shims = [{"thickness_mm": 0.1, "count": 30}, {"thickness_mm": 0.05, "count": 30}]
    return demo_plate(lambda values: values.update(held={"how": "butted", "shim": shims}), without_tolerances)


def without_tolerances(values: dict[str, Any]) -> None:
    del values["tolerances"]


def spoil(values: dict[str, Any], chance: np.random.Generator) -> None:
    """Change one place at random: leave it out, misspell it, double it, scale it or put something else there."""
    tables = [values, *(table for inner in values.values() if isinstance(inner, list) for table in inner)]
    places = [(table, key) for table in tables if isinstance(table, dict) for key in table]
    table, key = places[int(chance.integers(len(places)))]
    value = table[key]
    match int(chance.integers(6)):
        case 0:
            del table[key]
        case 1:
            table[f"{key}x"] = table.pop(key)
        case 2 if isinstance(value, list) and value:
            value.append(copy.deepcopy(value[int(chance.integers(len(value)))]))
        case 3 | 4 if isinstance(value, float):
            table[key] = value * float(chance.choice([0, 0.5, 0.999, 0.9998, 1.0002, 1.001, 2, 1000, -1]))
        case _:
            table[key] = copy.deepcopy(VALUES[int(chance.integers(len(VALUES)))])


def faults_of(data: bytes, plate: PlateFile) -> Sequence[PegwrightError]:
    """The faults of a file; none if its plates could be placed."""
    try:
        measured, row = parse_measured(data, "measured.toml", plate, demo_wheel())
        place_plates(measured, row, plate, demo_wheel())
    except ConfigError as error:
        return error.faults
    except UsageError as error:
        return [error]
    return ()


def test_300_spoilt_files_end_in_placed_plates_or_in_faults() -> None:
    chance = np.random.default_rng(22)
    plates, ends = (dowelled(), butted()), {"placed": 0, "faults": 0}
    for number in range(300):
        values = copy.deepcopy((MEASURED, GAPS)[number % 2])
        for _ in range(int(chance.integers(1, 4))):
            spoil(values, chance)
        plate = plates[number // 2 % 2]
        faults = faults_of(toml_text(values).encode(), plate)
        ends["faults" if faults else "placed"] += 1
        for fault in faults:
            assert str(fault).isprintable()
            assert fault.message
            assert fault.hint
    assert ends["faults"] > 100, ends
    assert ends["placed"] > 20, ends


def test_a_chord_given_for_an_arc_is_refused() -> None:
    """Straight across the pins of a plate a calliper reads 2 r sin(s / 2 r), some 20 mm less than the arc s."""
    values = copy.deepcopy(MEASURED)
    radius_mm = values["radius_mm"]
    for plate in values["plate"]:
        plate["arc_mm"] = 2 * radius_mm * math.sin(plate["arc_mm"] / radius_mm / 2)
    faults = faults_of(toml_text(values).encode(), dowelled())
    assert len(faults) == 6
    assert all("is what no k explains" in str(fault) for fault in faults)
    assert all("along the arc, not straight across" in fault.hint for fault in faults)
