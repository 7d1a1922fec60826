"""`[tolerances]` of a plate file: every table, what it takes from elsewhere, and its faults."""

from __future__ import annotations

import re

import pytest

from pegwright.config.plate_file import parse_plate
from pegwright.errors import ConfigError
from pegwright.making import PlateFile, Source, Spread, Tolerance
from plate_text import DEMO, Change, changed, demo_plate, demo_values, demo_wheel, read, setting, without


def tolerances(plate: PlateFile) -> dict[Source, Tolerance]:
    return {each.source: each for each in plate.tolerances}


def faults(*changes: Change) -> list[str]:
    with pytest.raises(ConfigError) as caught:
        read(changed(demo_values(), *changes), demo_wheel())
    return [str(each) for each in caught.value.faults]


def one(source: str, **keys: object) -> Change:
    return setting("tolerances", **{source: keys})


def test_the_demo_has_every_source_in_order() -> None:
    plate = demo_plate()
    assert [each.source for each in plate.tolerances] == list(Source)
    given = tolerances(plate)
    assert given[Source.HOLE] == Tolerance(Source.HOLE, 0.1, Spread.NORMAL)
    assert given[Source.RUN_OUT] == Tolerance(Source.RUN_OUT, 0.25, Spread.ARCSINE)  # half of the indicator's reading
    assert given[Source.SPEED] == Tolerance(Source.SPEED, 0.01, Spread.ARCSINE)
    assert given[Source.HEAT].half_width == 5
    assert given[Source.PIN_LEAN].half_width == pytest.approx(0.1 / 2 * (1 + 2 * 8 / 6))


def test_register_is_the_clearance_and_k_that_of_the_strip_where_none_is_given() -> None:
    given = tolerances(demo_plate(setting("held", clearance_mm=0.4)))
    assert given[Source.REGISTER] == Tolerance(Source.REGISTER, 0.4, Spread.RECTANGULAR)
    strip = setting("strip", holes=20, flat_mm=295.05, rim_mm=296.9, uncertainty_mm=0.1)
    measured = tolerances(demo_plate(strip, without("sheet", "k"), one("k")))[Source.K]
    assert measured.spread is Spread.NORMAL
    assert measured.half_width == pytest.approx(3 * 0.1 * 477.5 / (296.9 * 6))
    own = tolerances(demo_plate(strip, without("sheet", "k"), one("k", half_width=0.2)))[Source.K]
    assert own == Tolerance(Source.K, 0.2, Spread.RECTANGULAR)


def test_lengths_can_be_in_inches_and_speed_quicker_than_once_a_turn() -> None:
    plate = demo_plate(one("reader", half_width_in=0.01), one("speed", half_width_percent=2, cycles_per_turn=8))
    assert tolerances(plate)[Source.READER].half_width == pytest.approx(0.254)
    assert tolerances(plate)[Source.SPEED] == Tolerance(Source.SPEED, 0.02, Spread.ARCSINE, 8)


def test_a_pin_is_held_by_all_layers_with_pin_holes() -> None:
    layers = setting("unused")
    values = changed(demo_values(), layers)
    del values["unused"]
    values["layer"] = [
        {"name": "facing", "thickness_mm": 1.5},
        {"name": "core", "thickness_mm": 4.5},
    ]
    plate = read(values, demo_wheel())
    assert tolerances(plate)[Source.PIN_LEAN].half_width == pytest.approx(0.1 / 2 * (1 + 2 * 8 / 6))
    values["layer"] = [
        {"name": "facing", "thickness_mm": 1.5},
        {"name": "core", "thickness_mm": 4.5, "pin_holes": False},
    ]
    plate = read(values, demo_wheel())
    assert tolerances(plate)[Source.PIN_LEAN].half_width == pytest.approx(0.1 / 2 * (1 + 2 * 8 / 1.5))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (one("hole", half_width_mm=0), "tolerances.hole.half_width_mm: 0 is not above 0"),
        (one("hole", half_width_mm=-0.1), "-0.1 is not above 0"),
        (one("hole", half_width_mm=float("nan")), "nan is not a finite number"),
        (one("hole"), "tolerances.hole.half_width_mm: is missing"),
        (one("hole", half_width_mm=0.1, distribution="gaussian"), '"gaussian" is not a distribution'),
        (one("run_out", tir_mm=0.5, distribution="normal"), "tolerances.run_out.distribution: is not a known key"),
        (one("runout", tir_mm=0.5), "is not a known key (did you mean `run_out`?)"),
        (one("k", half_width=2), "2 is above the maximum, 1"),
        (one("speed", half_width_percent=1, cycles_per_turn=0), "0 is below the minimum, 1"),
        (one("pin_lean", clearance_mm=0.1), "tolerances.pin_lean.height_mm: is missing"),
        (without("held", "rim_material"), "tolerances.heat: needs what the rim is of"),
        (setting("sheet", material="felt"), "needs the expansion of the plate, and felt is in no table of ours"),
        (lambda values: values.update(tolerances=3), "tolerances: 3 is not a table"),
        (lambda values: values["tolerances"].update(hole=3), "tolerances.hole: 3 is not a table"),
        (
            lambda values: values.update(held={"how": "butted", "rim_material": "steel"}),
            "tolerances.register: is for dowelled plates, and these are butted",
        ),
    ],
)
def test_faults_are_given_with_key_value_and_bound(change: Change, words: str) -> None:
    assert any(words in _without_line(fault) for fault in faults(change)), faults(change)


def _without_line(fault: str) -> str:
    return re.sub(r" \(line \d+\)", "", fault)


def test_every_fault_is_given_at_once() -> None:
    assert len(faults(one("hole", half_width_mm=-1), one("k", half_width=3), one("seam", width=1))) == 4


@pytest.mark.parametrize(
    ("change", "reported"),
    [
        (
            ('how = "dowelled"', 'how = "butted"'),
            [
                "held.clearance_mm (line 90): is for dowelled plates, and these are butted (leave it out)",
                "tolerances.register (line 102): is for dowelled plates, and these are butted "
                "(take out [tolerances.register])",
            ],
        ),
        (("\n[held]", "\n[hald]"), ["hald (line 87): is not a known key (did you mean `held`?)"]),
        (("[sheet]", "[sheat]"), ["sheat (line 6): is not a known key (did you mean `sheet`?)"]),
        (
            ("clearance_mm = 0.15 ", 'clearance_mm = "x" '),
            ['held.clearance_mm (line 90): "x" is not a number (give a number from 0 to 2, in mm)'],
        ),
        (
            ("clearance_mm = 0.15 ", "# clearance_mm = 0.15 "),
            ["held.clearance_mm (line 87): is missing (give a number from 0 to 2, in mm)"],
        ),
    ],
    ids=["butted", "held misspelt", "sheet misspelt", "clearance", "no clearance"],
)
def test_a_slip_elsewhere_is_not_reported_as_a_fault_of_tolerances(
    change: tuple[str, str], reported: list[str]
) -> None:
    text = DEMO.read_text(encoding="utf-8")
    assert text.count(change[0]) == 1
    with pytest.raises(ConfigError) as caught:
        parse_plate(text.replace(*change).encode(), "plate.toml", demo_wheel())
    assert [str(each) for each in caught.value.faults] == reported
