"""Programs are safe: what the check of their text lets through, and what it refuses."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from pegwright import bundled_wheel, load_wheel
from pegwright.making import DwellUnit, Face, Machine, Pattern, PlateFile, Tool
from pegwright.plate.order import DrillOrder
from pegwright.plate.path import tool_paths
from pegwright.plate.verify import verify_programs
from pegwright.wheel import Wheel
from pegwright.write.gcode import Form, program_text
from plates import TOOLS, pattern_of, plate_file, with_holes
from strategies import wheels


@pytest.fixture(scope="module")
def demo() -> Pattern:
    return pattern_of(load_wheel(bundled_wheel()))


def programs(pattern: Pattern, plate: PlateFile, form: Form, order: DrillOrder) -> list[tuple[int, str]]:
    paths = tool_paths(pattern, plate.tools, plate.machine, order)
    return [(path.tool.number, program_text(pattern, plate, path, form)) for path in paths]


@pytest.mark.parametrize("face", list(Face))
@pytest.mark.parametrize("order", list(DrillOrder))
@pytest.mark.parametrize("form", list(Form))
def test_programs_of_the_demo_plate_are_safe(face: Face, order: DrillOrder, form: Form) -> None:
    pattern = pattern_of(load_wheel(bundled_wheel()), face)
    plate = plate_file(pattern)
    assert verify_programs(pattern, plate, programs(pattern, plate, form, order)) == ()


positive = st.floats(0.1, 5000.0)
tools = st.builds(
    Tool,
    st.just(1),
    st.just(2.5),
    positive,
    positive,
    st.sampled_from([0.0, 0.2, 1.0, 3.3]),
    st.sampled_from([0.0, 0.4]),
)
machines = st.builds(
    Machine,
    st.just(5000.0),
    st.just(5000.0),
    st.floats(5.0, 60.0),
    st.floats(0.5, 4.9),
    st.floats(0.0, 6.0),
    st.just(6.0),
    positive,
    st.sampled_from([0.0, 2.5]),
    st.booleans(),
    st.booleans(),
    st.sampled_from(list(DwellUnit)),
)
places = st.lists(st.tuples(st.integers(0, 90), st.integers(0, 9)), min_size=1, max_size=25, unique=True)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(tools, machines, places, st.floats(0.5, 30.0), st.sampled_from(list(DrillOrder)))
def test_programs_of_any_plate_are_safe(
    demo: Pattern, tool: Tool, machine: Machine, holes: list[tuple[int, int]], thickness: float, order: DrillOrder
) -> None:
    x, y = [5.127 * along for along, _ in holes], [-14.0 * across for _, across in holes]
    pattern = with_holes(demo, x, y, [across for _, across in holes])
    pattern = replace(pattern, layer=replace(pattern.layer, thickness_mm=thickness))
    plate = replace(plate_file(pattern, machine), tools=(tool,))
    for form in Form:
        assert verify_programs(pattern, plate, programs(pattern, plate, form, order)) == ()


@given(wheels(), machines, st.sampled_from(list(Face)), st.sampled_from(list(DrillOrder)))
def test_programs_of_any_wheel_are_safe(wheel: Wheel, machine: Machine, face: Face, order: DrillOrder) -> None:
    pattern = pattern_of(wheel, face, fixings=())
    places = np.round(np.column_stack([pattern.holes.x_mm, pattern.holes.y_mm]), 3)
    assume(len(np.unique(places, axis=0)) == pattern.holes.count)  # a wheel file with two holes in one is refused
    edges_mm, half_mm = np.array(pattern.outline), wheel.geometry.hole_diameter_mm / 2
    assume(np.all((places - half_mm >= edges_mm.min(axis=0)) & (places + half_mm <= edges_mm.max(axis=0))))
    # a plate with a hole over its edge, as bending brings them near on a tight rim, is refused by its walls
    plate = plate_file(pattern, machine)
    for form in Form:
        assert verify_programs(pattern, plate, programs(pattern, plate, form, order)) == ()


def changed(text: str, pattern: str, by: str | Callable[[re.Match[str]], str], count: int = 1) -> str:
    new, times = re.subn(pattern, by, text, count=count, flags=re.MULTILINE)
    assert times
    return new


FAULTS = [
    (Form.PLAIN, r"^G0 Z20\nG0 X31", "G0 X31", "it moves over the sheet below the safe height"),
    (Form.PLAIN, r"^G0 Z20\nS", "S", "it moves over the sheet below the safe height"),
    (Form.PLAIN, r"^G0 Z2$", "G0 Z1", "it goes down at rapid rate below the retract height"),
    (Form.PLAIN, r"^G1 Z-7.5 F300", "G1 Z-7.4 F300", "is drilled 0 times"),
    (Form.PLAIN, r"^G1 Z-7.5 F300", "G1 Z-7.6 F300", "below the bottom at -7.500"),
    (Form.PLAIN, r"^G1 Z-7.5 F300", "G1 Z-7.5 F301", "are not those of tool 1"),
    (Form.PLAIN, r"^G1 Z-7.5 F300", "G1 Z-7.5 F300\nG1 Z-6", "it feeds upwards"),
    (Form.PLAIN, r"^G1 Z-7.5 F300", "G1 Z-7.5 F300\nG0 Z2\nG1 Z-7.5 F300", "is drilled 2 times, not once"),
    (Form.PLAIN, r"^S6000", "S7000", "feed 300 at 7000 a minute are not those of tool 1"),
    (Form.PLAIN, r"^S6000\n", "", "the spindle is started without a speed"),
    (Form.PLAIN, r"^M3\n", "", "it feeds with the spindle off"),
    (Form.PLAIN, r"^M5\nM30\n", "", "it ends with the spindle on"),
    (Form.PLAIN, r"^M30\n", "", "it has no M30"),
    (Form.PLAIN, r"^G0 X31.056 .*$", "G0 X31.156 Y0", "it goes down where the pattern has no hole"),
    (Form.PLAIN, r"^G0 X31.056 .*$", "G0 X15.528 Y0", "is drilled 2 times, not once"),
    (Form.PLAIN, r"^G0 X31.056 .*$", "G0 X999 Y0\nG0 X31.056 Y0", "farther than the machine can travel"),
    (Form.PLAIN, r"^G0 Z20\nG0 Z20\nM5", "M5", "it ends below the safe height"),
    (Form.PLAIN, r" G90 ", " ", "it moves before G90"),
    (Form.PLAIN, r"^M3$", "M3\nG20", "G20 has no place in a drilling program"),
    (Form.PLAIN, r"^M3$", "M3\nT1", "is not a line of a drilling program"),
    (Form.PLAIN, r"^M3$", "M3\n(on", "its comment does not end"),
    (Form.PLAIN, r"^M3$", f"M3\n({'x' * 69})", "it is too long"),
    (Form.PLAIN, r"^M3$", "M3\n(hold !)", "is not a line of a drilling program"),
    (Form.PLAIN, r"^M30$", "M30\nM3", "is not a line of a drilling program"),
    (Form.PLAIN, r"^G1 Z-7.5 F300", "G1 Z-7.5 F300\nG4 P9", "it dwells for P9, not 0 s"),
    (Form.CANNED, r"^G98 G81", "G81", "a cycle without G98"),
    (Form.CANNED, r" R2 ", " R0.5 ", "it goes down at rapid rate below the retract height"),
    (Form.CANNED, r" Z-7.5 ", " Z-20 ", "below the bottom at -7.500"),
    (Form.CANNED, r"^M3\n", "", "a cycle without G98, spindle"),
    (Form.CANNED, r"^G80$", "X3 Y3\nG80", "it goes down where the pattern has no hole"),
    (Form.CANNED, r"^G80$", "G80\nX3 Y3", "a place without a motion"),
]


@pytest.mark.parametrize(("form", "old", "new", "sentence"), FAULTS)
def test_each_fault_of_a_program_is_reported(demo: Pattern, form: Form, old: str, new: str, sentence: str) -> None:
    pattern = with_holes(demo, [0.0, 15.528, 31.056], [0.0, 0.0, 0.0])
    plate = replace(plate_file(pattern), tools=(TOOLS[0],))
    ((tool, text),) = programs(pattern, plate, form, DrillOrder.SHORTEST)
    assert verify_programs(pattern, plate, [(tool, text)]) == ()
    sentences = verify_programs(pattern, plate, [(tool, changed(text, old, new))])
    assert any(re.search(sentence, each) for each in sentences), sentences


def test_pecks_that_are_left_out_are_reported(demo: Pattern) -> None:
    pattern = with_holes(demo, [0.0], [0.0])
    plate = replace(plate_file(pattern), tools=(replace(TOOLS[0], peck_mm=3.0),))
    ((tool, text),) = programs(pattern, plate, Form.PLAIN, DrillOrder.SHORTEST)
    whole = changed(text, r"^G1 Z-1 F300\n(.*\n)*G1 Z-7.5", "G1 Z-7.5")
    assert any("more than a peck of 3" in each for each in verify_programs(pattern, plate, [(tool, whole)]))


@pytest.mark.parametrize("form", list(Form))
def test_a_hole_is_drilled_once_where_the_last_peck_but_one_ends_almost_at_the_bottom(
    demo: Pattern, form: Form
) -> None:
    """The bottom at -1.00055 is written as -1.001, so a cycle that pecks to -1.000 pecks once more."""
    pattern = with_holes(demo, [0.0], [0.0])
    pattern = replace(pattern, layer=replace(pattern.layer, thickness_mm=1.0))
    plate = plate_file(pattern)
    tool = replace(TOOLS[0], peck_mm=0.2)
    plate = replace(plate, tools=(tool,), machine=replace(plate.machine, retract_z_mm=2.0, through_mm=0.00055))
    ((number, text),) = programs(pattern, plate, form, DrillOrder.SHORTEST)
    assert verify_programs(pattern, plate, [(number, text)]) == ()
    again = changed(text, r"^(G1 Z-1.001 .*|G98 G83 .*)$", r"\1\nG0 Z2\n\1")
    assert any("is drilled 2 times, not once" in each for each in verify_programs(pattern, plate, [(number, again)]))


def test_a_hole_outside_the_sheet_is_reported(demo: Pattern) -> None:
    pattern = with_holes(demo, [-4.0, 100.0], [0.0, -340.0])
    plate = replace(plate_file(pattern), tools=(TOOLS[0],))
    sentences = verify_programs(pattern, plate, programs(pattern, plate, Form.PLAIN, DrillOrder.SHORTEST))
    assert sentences == (
        "the hole at X-4.000 Y0.000 is outside the sheet",
        "the hole at X100.000 Y-340.000 is outside the sheet",
    )


def test_a_program_left_out_is_reported(demo: Pattern) -> None:
    plate = plate_file(demo)
    assert len(verify_programs(demo, plate, programs(demo, plate, Form.CANNED, DrillOrder.ONE_WAY)[1:])) == 2


@pytest.mark.parametrize("form", list(Form))
def test_a_hole_half_way_between_two_thousandths_is_found_and_no_farther_off(demo: Pattern, form: Form) -> None:
    """Programs give places to a thousandth of a mm, and such a place can be written as either of two."""
    along_mm = np.arange(20) * 7.0 + 0.0005 + np.arange(20) / 1000
    pattern = with_holes(demo, along_mm.tolist(), (-along_mm / 2).tolist())
    plate = plate_file(pattern)
    ((tool, text),) = programs(pattern, plate, form, DrillOrder.SHORTEST)
    assert verify_programs(pattern, plate, [(tool, text)]) == ()
    moved = replace(pattern, holes=replace(pattern.holes, x_mm=pattern.holes.x_mm + 0.0012))
    assert (
        "it goes down where the pattern has no hole for this tool" in verify_programs(moved, plate, [(tool, text)])[0]
    )
