"""Plate files: what they become, and every fault in one line with the value, the bound and what to do."""

from __future__ import annotations

import copy
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pegwright.cautions import MAKE
from pegwright.config.fields import Table
from pegwright.config.plate_file import load_plate
from pegwright.errors import ConfigError, UsageError
from pegwright.making import DwellUnit, Face, Fixing, HoleKind, Machine, PlateFile, Sheet, Tool
from pegwright.plate.material import EXPANSION
from pegwright.plate.pattern import patterns
from pegwright.plate.plan import plan_plate
from places import ROOT
from plate_text import (
    DEMO,
    DEMO_WHEEL,
    STARTER,
    Change,
    adding,
    changed,
    demo_plate,
    demo_values,
    demo_wheel,
    read,
    setting,
    starter_values,
    starter_wheel,
    wheel_with,
    without,
)
from thorough import cases
from toml_text import toml_text


def faults_of(*changes: Change, on: Any = None) -> list[str]:  # noqa: ANN401  # a wheel
    """The faults of the demo's plate file after changes, each as it is printed."""
    with pytest.raises(ConfigError) as refused:
        read(changed(demo_values(), *changes), on or demo_wheel())
    return [str(fault) for fault in refused.value.faults]


def no_line(fault: str) -> str:
    return re.sub(r" \(line \d+\)", "", fault)


def test_the_demo_file_becomes_what_it_says() -> None:
    plate, on = load_plate(DEMO)
    assert on.name == "Merrow Sands Pavilion"
    assert plate.wheel_path == str(DEMO_WHEEL)
    assert plate.sheet == Sheet(20, 20, 3, Face.OUTER, 20, 20, marks=True, hole_wall_mm=1.2)
    (layer,) = plate.layers
    assert (layer.thickness_mm, layer.radius_mm, layer.k, layer.hole_diameter_mm) == (6, 477.5, 0.5, 2.5)
    assert layer.material.expansion_per_k == EXPANSION["hdpe"].usual
    assert plate.fixings[0] == Fixing(HoleKind.DOWEL, 15.5 * on.step_mm, -12, 5)
    assert plate.fixings[1] == Fixing(HoleKind.SLOT, 28.5 * on.step_mm, -12, 5, slot_mm=11)
    assert plate.tools[0] == Tool(1, 2.5, 6000, 300, 4)
    assert plate.machine == Machine(600, 400, 15, 3, 1.6, 12, 3000, 1, True, True, DwellUnit.SECONDS)


def test_what_is_left_out_has_its_default() -> None:
    values = {key: demo_values()[key] for key in ("wheel", "tool")}
    values["tool"] = values["tool"][:1]
    values["sheet"] = {"left_edge_mm": 10, "right_edge_mm": 10}
    machine = demo_values()["machine"]
    keys = (
        "travel_x_mm",
        "travel_y_mm",
        "safe_z_mm",
        "retract_z_mm",
        "through_mm",
        "spoilboard_mm",
        "rapid_mm_per_min",
    )
    values["machine"] = {key: machine[key] for key in keys}
    plate = read(values, demo_wheel())
    assert plate.sheet == Sheet(10, 10, 0, Face.OUTER, 20, 20, marks=True, hole_wall_mm=None)
    assert (plate.layers[0].k, plate.layers[0].material.name, plate.fixings) == (0.5, "sheet", ())
    assert (plate.machine.overshoot_mm, plate.machine.canned, plate.machine.exact_path) == (0, True, False)
    assert plate.machine.dwell_unit is DwellUnit.SECONDS
    assert (plate.tools[0].peck_mm, plate.tools[0].dwell_s) == (4, 0)


def test_lengths_may_be_in_inches() -> None:
    values = demo_values()
    values["sheet"]["left_edge_in"] = values["sheet"].pop("left_edge_mm") / 25.4
    values["fixing"][0]["diameter_in"] = "13/64"
    del values["fixing"][0]["diameter_mm"]
    plate = read(values, demo_wheel())
    assert plate.sheet.left_edge_mm == pytest.approx(20)
    assert plate.fixings[0].diameter_mm == pytest.approx(5.159375)


def test_the_starter_goes_with_the_starter_wheel(tmp_path: Path) -> None:
    (tmp_path / "plate.toml").write_bytes(STARTER.read_bytes())
    (tmp_path / "wheel.toml").write_bytes((STARTER.parent / "wheel.toml").read_bytes())
    plate, on = load_plate(tmp_path / "plate.toml")
    plan = plan_plate(plate, on)
    assert plan.findings == ()
    assert len(plate.fixings) == 6


def test_all_faults_come_at_once_with_the_nearest_key() -> None:
    faults = faults_of(
        setting("sheet", k=1.5, corner_radius=3),
        setting("machine", safe_z_mm=-1),
        adding("fixing", kind="dowl", step=3, across_mm=1, diameter_mm=2),
        without("machine", "through_mm"),
    )
    assert [no_line(fault) for fault in faults] == [
        "sheet.k: 1.5 is above the maximum, 1 (give a number from 0 to 1, as a share of the thickness from the inner"
        " face)",
        "sheet.corner_radius: is not a known key (did you mean `corner_radius_mm`?)",
        'fixing[11].kind: "dowl" is not a kind of fixing hole (did you mean "dowel"?)',
        "machine.safe_z_mm: -1 is not above 0 (give a number above 0 and up to 10000, in mm)",
        "machine.through_mm: is missing (give a number from 0 to 10000, in mm)",
    ]


PIN_AT = {"kind": "bolt", "diameter_mm": 2.5}
REFUSED: dict[str, tuple[Change, str]] = {
    "k below 0": (setting("sheet", k=-0.1), "sheet.k: -0.1 is below the minimum, 0"),
    "k above 1": (setting("sheet", k=1.01), "sheet.k: 1.01 is above the maximum, 1"),
    "k is NaN": (setting("sheet", k=math.nan), "sheet.k: nan is not a finite number"),
    "layers thicker than the radius": (
        adding("layer", name="block", thickness_mm=480),
        "layer[1].thickness_mm: layers and gaps of 480 mm in all are not below the radius of the wheel, 477.5 mm",
    ),
    "fixing outside the sheet": (
        adding("fixing", kind="bolt", along_mm=200, across_mm=-19, diameter_mm=3.4),
        "fixing[11].along_mm: fixing 11, a bolt hole, is over the side edge beyond the first channel by 0.70 mm",
    ),
    "fixing beyond the sheet": (
        adding("fixing", kind="bolt", along_mm=510, across_mm=8, diameter_mm=3.4),
        "fixing[11].along_mm: fixing 11, a bolt hole, is over the trailing edge by 17.00 mm",
    ),
    "fixing under a collar": (
        adding("fixing", step=8, across_mm=3.0, **PIN_AT),
        "fixing[11].across_mm: fixing 11, a bolt hole, is under the collar of a pin in channel 1 chime G4 step 8 row on"
        " by 0.25 mm",
    ),
    "head under a collar": (
        adding("fixing", step=8, across_mm=8.5, head_mm=13.2, **PIN_AT),
        "head of fixing 11, a bolt hole, is under the collar of a pin in channel 2 chime A4 step 8 row on by 3.10",
    ),
    "fixing in a pin hole": (
        adding("fixing", step=8, across_mm=1, **PIN_AT),
        "fixing[11].across_mm: fixing 11, a bolt hole, and channel 1 chime G4 step 8 row on run into each other",
    ),
    "fixings in one another": (
        adding("fixing", kind="bolt", step=16.5, across_mm=-15, diameter_mm=3.4),
        "fixing 1, a dowel hole, and fixing 11, a bolt hole run into each other by 1.20 mm",
    ),
    "tool wider by more than 0.5 mm": (
        lambda values: values["tool"].pop(0),
        "tool: the pin holes of sheet, 2.5 mm, have no tool: the nearest, number 2, 3.4 mm, is 0.9 mm wider",
    ),
    "tool narrower by more than 0.5 mm": (
        adding("fixing", kind="bolt", step=20, across_mm=-12, diameter_mm=6.6),
        "tool: fixing 11, a bolt hole, 6.6 mm, has no tool: the nearest, number 4, 5 mm, is 1.6 mm narrower",
    ),
    "sheet longer than the travel": (
        setting("machine", travel_x_mm=450),
        "machine.travel_x_mm: 450 mm is less than the sheet needs, which is 496.60 mm long",
    ),
    "approach beyond the travel": (
        setting("machine", travel_x_mm=500, overshoot_mm=20),
        "machine.travel_x_mm: 500 mm is less than the sheet needs, which is 506.54 mm long",
    ),
    "sheet wider than the travel": (
        setting("machine", travel_y_mm=300),
        "machine.travel_y_mm: 300 mm is less than the sheet needs, which is 362.00 mm wide",
    ),
    "through depth into the table": (
        setting("machine", through_mm=13),
        "machine.through_mm: 13 mm below the sheet is through the spoilboard, 12 mm, and into the table",
    ),
    "retract above safe": (
        setting("machine", retract_z_mm=16),
        "machine.retract_z_mm: 16 mm is above safe_z_mm, 15 mm",
    ),
    "beyond the maker's greatest strain": (
        setting("sheet", max_strain_percent=0.5),
        "sheet.max_strain_percent: a sheet of 6 mm bent to 477.5 mm is strained by 0.632 % at its outer face, above the"
        " maker's maximum, 0.5 %",
    ),
    "beyond the maker's greatest strain by its own k": (
        setting("sheet", k=0, max_strain_percent=1),
        "sheet.max_strain_percent: a sheet of 6 mm bent to 477.5 mm is strained by 1.273 % at its outer face, above the"
        " maker's maximum, 1 %",
    ),
    "unknown expansion": (
        setting("sheet", material="oak", machined_c=30),
        "sheet.expansion_per_k: is missing, and oak is in no table of ours",
    ),
    "corners": (
        setting("sheet", corner_radius_mm=200),
        "sheet.corner_radius_mm: 200 mm is above half of the sheet's smaller side, 181.00 mm",
    ),
    "side edge through pin holes": (
        setting("sheet", right_edge_mm=1),
        "sheet.right_edge_mm: the hole of channel 24 triangle step 1 row on is over the side edge beyond the last",
    ),
    "step and along": (
        adding("fixing", step=8, along_mm=100, across_mm=8.5, **PIN_AT),
        "fixing[11].along_mm: is given together with step",
    ),
    "slot shorter than wide": (
        adding("fixing", kind="slot", step=20, across_mm=-12, diameter_mm=5, slot_mm=4),
        "fixing[11].slot_mm: 4 mm is below its width, diameter_mm, 5 mm",
    ),
    "slot_mm of a bolt": (
        adding("fixing", kind="bolt", step=20, across_mm=-12, diameter_mm=5, slot_mm=6),
        "fixing[11].slot_mm: is for a slot, and this is a bolt",
    ),
    "head smaller than the hole": (
        adding("fixing", kind="bolt", step=20, across_mm=-12, diameter_mm=5, head_mm=4),
        "fixing[11].head_mm: 4 mm is below the hole, 5 mm",
    ),
    "unknown layer": (
        adding("fixing", kind="bolt", step=20, across_mm=-12, diameter_mm=5, layers=["core"]),
        'fixing[11].layers[1]: "core" is not a layer',
    ),
    "two tools of a number": (
        adding("tool", number=2, diameter_mm=8, spindle_per_min=1000, feed_mm_per_min=100),
        "tool[5].number: 2 is a duplicate",
    ),
    "no layer with pin holes": (
        adding("layer", name="core", thickness_mm=6, pin_holes=False),
        "layer: none has holes for pins",
    ),
    "k and strip": (
        setting("strip", scale=0.994),
        "strip.layer: is measured, and sheet.k is given too",
    ),
}


@pytest.mark.parametrize("kind", ["slott", "hole"])
def test_a_misspelt_kind_is_one_fault(kind: str) -> None:
    """A length that goes with a slot is not refused because of the kind that stands in for the misspelt one."""
    (fault,) = faults_of(adding("fixing", kind=kind, step=20, across_mm=-12, diameter_mm=5, slot_mm=11))
    assert no_line(fault).startswith(f'fixing[11].kind: "{kind}" is not a kind of fixing hole')


@pytest.mark.parametrize("name", REFUSED)
def test_a_plate_that_cannot_be_made_is_refused_in_one_line(name: str) -> None:
    change, expected = REFUSED[name]
    faults = [no_line(fault) for fault in faults_of(change)]
    assert any(expected in fault for fault in faults), faults
    assert all("\n" not in fault and fault.endswith(")") for fault in faults)


def strip(**keys: object) -> tuple[Change, Change]:
    return without("sheet", "k"), setting("strip", **keys)


def test_a_strip_gives_k_and_its_uncertainty() -> None:
    """32 holes, 484.411 mm over the rim: flat 481.367 for k = 0.5, 0.25 x 477.5 / (484.41 x 6) = 0.0411."""
    measured = demo_plate(*strip(holes=32, flat_mm=481.367, rim_mm=484.411, uncertainty_mm=0.25)).layers[0]
    assert measured.k == pytest.approx(0.5, abs=1e-3)
    assert measured.k_uncertainty == pytest.approx(0.0411, abs=5e-5)
    other = demo_plate(*strip(holes=32, flat_mm=480.758, rim_mm=484.411, uncertainty_mm=0.25)).layers[0]
    assert other.k == pytest.approx(0.4, abs=1e-3)
    (pattern,) = patterns(
        demo_plate(*strip(holes=32, flat_mm=480.758, rim_mm=484.411, uncertainty_mm=0.25)), demo_wheel()
    )
    assert np.max(pattern.holes.x_mm) == pytest.approx(480.758 / 484.411 * np.max(pattern.holes.along_mm))


def test_an_arc_that_no_k_explains_is_refused_and_one_nearly_is_not() -> None:
    """k = 1 + 3 x 0.0411 is the bound: 484.411 x (1 + 0.1233 x 6 / 477.5) = 485.161 flat over 484.411."""
    (fault,) = faults_of(*strip(holes=32, flat_mm=485.3, rim_mm=484.411, uncertainty_mm=0.25))
    assert no_line(fault) == (
        "strip.rim_mm: 484.411 mm along the rim for 485.3 mm flat is k = 1.146, outside 0 to 1 by more than 3 times its"
        " uncertainty, 0.041 (measure again; if it was stretched, give scale = 1.00184)"
    )
    (stretched,) = faults_of(*strip(holes=32, flat_mm=477.0, rim_mm=484.411, uncertainty_mm=0.25))
    assert "is k = -0.218, outside 0 to 1 by more than 3 times" in stretched
    near = demo_plate(*strip(holes=32, flat_mm=485.0, rim_mm=484.411, uncertainty_mm=0.25)).layers[0]
    assert near.k == 1.0


def test_a_strip_with_a_hole_too_many_is_seen() -> None:
    (fault,) = faults_of(*strip(holes=33, flat_mm=481.367, rim_mm=484.411, uncertainty_mm=0.25))
    assert no_line(fault) == (
        "strip.holes: 33 holes at a step of 15.626 mm are 500.04 mm apart, not 484.411 mm (count them, the first and"
        " the last included)"
    )


def test_a_scale_stands_alone() -> None:
    assert demo_plate(*strip(scale=0.99)).layers[0].scale == 0.99
    (fault,) = faults_of(*strip(scale=0.99, holes=32))
    assert no_line(fault) == "strip.holes: is given together with scale (keep one of the two)"
    (beyond,) = faults_of(*strip(scale=1.2))
    assert "1.2 is above the maximum, 1.1" in beyond


def no_marks(*kept: int) -> Change:
    def change(values: dict[str, Any]) -> None:
        values["sheet"]["marks"] = False
        values["fixing"] = [values["fixing"][number] for number in kept]

    return change


def symmetric(values: dict[str, Any]) -> None:
    """Four bolts in the corners, as far from all edges."""
    on = demo_wheel()
    middle_mm = (on.steps_per_plate * on.step_mm - 5.3 - 5.0) / 2
    values["sheet"]["marks"] = False
    values["fixing"] = [
        {"kind": "bolt", "along_mm": middle_mm + along_mm, "across_mm": across_mm, "diameter_mm": 4.5}
        for along_mm in (-230, 230)
        for across_mm in (-12, 334)
    ]


def shifted(by: dict[str, float]) -> Change:
    """A change that moves two of the four bolts: those beyond the last channel along, or the first two across."""

    def change(values: dict[str, Any]) -> None:
        for number in (0, 1) if "along_mm" in by else (0, 2):
            for key, step_mm in by.items():
                values["fixing"][number][key] += step_mm

    return change


def test_marks_that_are_their_own_mirror_image_are_refused() -> None:
    (fault,) = faults_of(symmetric)
    assert no_line(fault) == (
        "sheet.marks: is false, and the fixing holes look the same when the sheet is turned over or round (set marks ="
        " true, or move one fixing hole by at least 5 mm, or add one of kind mark)"
    )
    (none,) = faults_of(no_marks())
    assert "look the same" in none
    off_lengthwise, off_sideways = (shifted(each) for each in ({"along_mm": 30.0}, {"across_mm": 7.0}))
    assert "look the same" in faults_of(symmetric, off_lengthwise)[0]  # when it is turned over lengthwise
    assert "look the same" in faults_of(symmetric, off_sideways)[0]  # when it is turned over sideways
    mark = adding("fixing", kind="mark", step=5, across_mm=334, diameter_mm=3.4)
    assert not demo_plate(symmetric, mark).sheet.marks
    assert demo_plate(symmetric, setting("sheet", marks=True)).sheet.marks
    assert not demo_plate(no_marks(*range(10))).sheet.marks


def test_plywood_that_will_not_bend_is_warned_of_with_published_radii() -> None:
    """Source: FAA AC 43.13-1B as reproduced at engineersedge.com, 0.250 in: 31.0 and 20.0 in, 787 and 508 mm; the panel
    association: 2 ft and 5 ft, 610 and 1524 mm."""
    ply = adding("layer", name="ply", thickness_mm=6.35, material="plywood")
    (warned,) = (each for each in plan_plate(demo_plate(ply), demo_wheel()).findings if each.code == "will-not-bend")
    assert warned.message == (
        "plywood of 6.35 mm may break in either direction of its grain at an inner radius of 471.15 mm; published"
        " minimum radii are FAA AC 43.13-1B, dry: 787 and 508 mm by the direction of the grain; the panel association:"
        " 1524 and 610 mm"
    )
    thin = adding("layer", name="ply", thickness_mm=3, material="plywood")
    assert "will-not-bend" not in {each.code for each in plan_plate(demo_plate(thin), demo_wheel()).findings}
    middle = adding("layer", name="ply", thickness_mm=5, material="plywood")
    (one,) = (each for each in plan_plate(demo_plate(middle), demo_wheel()).findings if each.code == "will-not-bend")
    assert "in one direction of its grain" in one.message


def without_tolerances(values: dict[str, object]) -> None:
    del values["tolerances"]  # that of heat needs a material that is known


@pytest.mark.parametrize(
    ("name", "near"),
    [("plywod", "plywood"), ("Aluminum ", "aluminium"), ("stel", "steel"), ("plywood", ""), ("LDPE", ""), ("oak", "")],
)
def test_a_material_that_is_nearly_one_of_the_table_is_remarked_on(name: str, near: str) -> None:
    plan = plan_plate(demo_plate(setting("sheet", material=name), without_tolerances), demo_wheel())
    found = [finding for finding in plan.findings if finding.code == "material-unknown"]
    assert [finding.hint for finding in found] == ([f"did you mean {near}?"] if near else [])
    assert all(f'"{name.strip()}" is in no table of ours' in finding.message for finding in found)


def test_what_there_is_to_look_out_for() -> None:
    def codes(*changes: Change) -> set[str]:
        return {finding.code for finding in plan_plate(demo_plate(*changes), demo_wheel()).findings}

    assert codes() == set()
    short = lambda values: values["fixing"][1].update(slot_mm=7)  # noqa: E731  # a change among others
    assert codes(short) == {"slot-ends-overlap"}
    cutter = {"number": 9, "diameter_mm": 5, "spindle_per_min": 4000, "feed_mm_per_min": 150, "slot_drill": True}
    assert codes(short, adding("tool", **cutter)) == set()
    assert codes(setting("sheet", drilled_from="inner")) == {"marks-inside"}
    assert codes(setting("machine", through_mm=0.5)) == {"not-through"}
    assert codes(setting("sheet", k=0.4)) == {"k-unusual"}
    assert codes(*strip(holes=32, flat_mm=480.758, rim_mm=484.411, uncertainty_mm=0.25)) == set()
    layers = (
        adding("layer", name="core", thickness_mm=4),
        adding("layer", name="back", thickness_mm=2, pin_holes=False),
    )
    assert "layers-by-themselves" in codes(*layers)


@pytest.mark.parametrize(
    ("named", "reason"), [("nosuch.toml", "No such file or directory"), ("folder", "Is a directory")]
)
def test_a_wheel_that_cannot_be_read_is_a_fault_of_the_plate_file(tmp_path: Path, named: str, reason: str) -> None:
    (tmp_path / "folder").mkdir()
    path = tmp_path / "plate.toml"
    path.write_text("# a plate\n" + toml_text({**demo_values(), "wheel": named}), encoding="utf-8")
    with pytest.raises(ConfigError) as refused:
        load_plate(path)
    (fault,) = refused.value.faults
    assert refused.value.where == str(path)
    assert str(fault) == (
        f'wheel (line 2): "{named}" cannot be read: {reason}'
        " (name a wheel file by its path from the plate file's folder)"
    )


def test_a_wheel_whose_plates_cannot_be_made_is_refused(tmp_path: Path) -> None:
    (tmp_path / "plate.toml").write_bytes(DEMO.read_bytes())
    with pytest.raises(ConfigError, match=r"plate\.toml: wheel \(line 4\): .* cannot be read"):
        load_plate(tmp_path / "plate.toml")
    text = DEMO_WHEEL.read_text(encoding="utf-8")
    (tmp_path / "merrow-sands.toml").write_text(text.replace("thickness_mm = 6.0", ""), encoding="utf-8")
    with pytest.raises(UsageError, match=r"a plate needs every length; .* does not give thickness_mm"):
        load_plate(tmp_path / "plate.toml")


def test_files_of_other_kinds_are_named_for_what_they_are() -> None:
    with pytest.raises(ConfigError, match="this is a wheel file, not a plate file"):
        load_plate(DEMO_WHEEL)
    with pytest.raises(ConfigError, match="this is a song set, not a plate file"):
        load_plate(DEMO_WHEEL.parent / "pavilion-evening.toml")
    from pegwright.config import load_wheel

    with pytest.raises(ConfigError, match="this is a plate file, not a wheel file"):
        load_wheel(DEMO)


VALUES: tuple[object, ...] = (
    0,
    -1,
    1,
    2.5,
    1e9,
    10**40,
    math.nan,
    math.inf,
    True,
    "",
    "bolt",
    "\x1b[2J",
    [],
    [1, "a"],
    {},
    {"k": 1},
)


def test_mutated_plate_files_end_in_a_plate_or_in_faults() -> None:
    """A seeded sample of 300 files with one to three places changed, left out, doubled or misspelt."""
    chance = np.random.default_rng(16)
    on, ends = starter_wheel(), {"plate": 0, "faults": 0}
    for _ in range(cases(100, 300)):
        values = starter_values()
        del values["sheet"]["k"]
        values["strip"] = {"holes": 16, "flat_mm": 232.7, "rim_mm": 235.6, "uncertainty_mm": 0.25}
        for _ in range(int(chance.integers(1, 4))):
            mutate(values, chance)
        try:
            plan_plate(read(values, on), on)
            ends["plate"] += 1
        except ConfigError as error:
            ends["faults"] += 1
            for fault in error.faults:
                line = str(fault)
                assert line.isprintable(), line
                assert fault.message
                assert fault.hint
                assert fault.where
    assert ends["faults"] > 30
    assert ends["plate"] > 3, ends


def mutate(values: dict[str, Any], chance: np.random.Generator) -> None:
    """Change one place of a plate file at random."""
    places = [(values, key) for key in values]
    for inner in list(values.values()):
        tables = inner if isinstance(inner, list) else [inner]
        places += [(table, key) for table in tables if isinstance(table, dict) for key in table]
    table, key = places[int(chance.integers(len(places)))]
    match int(chance.integers(5)):
        case 0:
            del table[key]
        case 1:
            table[f"{key}x"] = table.pop(key)
        case 2 if isinstance(table[key], list) and table[key]:
            table[key].append(copy.deepcopy(table[key][0]))
        case 3 if isinstance(table[key], int | float) and not isinstance(table[key], bool):
            table[key] *= float(chance.choice([0, 0.01, 0.5, 0.99, 1.01, 3, 1000, -1]))
        case _:
            table[key] = copy.deepcopy(VALUES[int(chance.integers(len(VALUES)))])


def test_the_file_of_a_plate_is_text_that_can_be_read_back() -> None:
    plate: PlateFile = read(demo_values(), demo_wheel())
    assert plate.sha256 != read(demo_values() | {"wheel": "other.toml"}, demo_wheel()).sha256
    assert toml_text(demo_values()).startswith('"wheel" = "merrow-sands.toml"')
    assert wheel_with("") == demo_wheel()


def test_the_page_lists_every_key(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every key that is asked for while files are read, and no other, is in a table of docs/plate-file.md."""
    asked: set[str] = set()
    has = Table.has

    def noted(table: Table, key: str) -> bool:
        asked.add(key)
        return has(table, key)

    monkeypatch.setattr(Table, "has", noted)
    layer = adding("layer", name="core", thickness_mm=6)
    demo_plate(layer, *strip(holes=32, flat_mm=481.367, rim_mm=484.411, uncertainty_mm=0.25))
    demo_plate(layer, *strip(scale=0.99))
    page = (ROOT / "docs" / "plate-file.md").read_text(encoding="utf-8")
    cells = re.findall(r"^\| (`.*?`(?:, `.*?`)*) \|", page, re.MULTILINE)
    listed = {key for cell in cells for key in re.findall("`(.*?)`", cell)}
    assert listed == {key for key in asked if not key.endswith("_in")}


def test_the_page_of_the_work_has_every_caution() -> None:
    page = (ROOT / "docs" / "making-plates.md").read_text(encoding="utf-8")
    text = " ".join(page.replace("> ", "").replace("**", "").split())
    assert all(words in text for words in MAKE)
