"""Flat patterns, beside a bent chain of rigid links that knows none of our formulas, and figures computed by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pegwright.grid import Loss, hole_grid
from pegwright.making import Face, HoleKind, Pattern, PlateFile
from pegwright.plate.pattern import patterns, plate_angles_deg, plate_start_deg
from pegwright.plate.plan import plan_plate
from pegwright.wheel import Wheel
from plate_text import adding, demo_plate, demo_wheel, read, setting, starter_values, starter_wheel, wheel_with

LINKS = 2000
FACING = adding("layer", name="facing", thickness_mm=1.5, material="aluminium", hole_diameter_mm=2.6)
CORE = adding("layer", name="core", thickness_mm=6.0, gap_mm=0.2, material="HDPE", k=0.4)
BACKING = adding("layer", name="backing", thickness_mm=3.0, material="plywood", pin_holes=False)


def chained_angles(pattern: Pattern, radius_mm: float, start_rad: float) -> tuple[np.ndarray, float]:
    """Angles of holes once the sheet is bent: a chain of rigid links laid on its neutral line, joint by joint.

    Args:
        pattern: on the flat sheet, which begins at its lowest x.
        radius_mm: of the circle on which the joints lie: the neutral line, mounted.
        start_rad: angle of the sheet's leading edge.

    Returns:
        the angle of each hole, and of the trailing edge.
    """
    begin_mm, end_mm = (pick(x for x, _ in pattern.outline) for pick in (min, max))
    link_mm = (end_mm - begin_mm) / LINKS
    joint = radius_mm * np.array([math.cos(start_rad), math.sin(start_rad)])
    joints = [joint]
    for _ in range(LINKS):  # the next joint: where a circle of a link's length about this one cuts the neutral line
        middle = joint * (1 - link_mm**2 / (2 * radius_mm**2))
        half_mm = math.sqrt(link_mm**2 - (link_mm**2 / (2 * radius_mm)) ** 2)
        joint = middle + half_mm * np.array([-joint[1], joint[0]]) / radius_mm
        joints.append(joint)
    places = np.array(joints)
    along = (pattern.holes.x_mm - begin_mm) / link_mm
    link = np.minimum(along.astype(int), LINKS - 1)
    held = places[link] + (along - link)[:, None] * (places[link + 1] - places[link])
    turned = np.unwrap(np.arctan2(places[:, 1], places[:, 0]))
    angles = np.arctan2(held[:, 1], held[:, 0])
    return np.mod(angles - start_rad + 1, 2 * math.pi) + start_rad - 1, float(turned[-1])


@pytest.mark.parametrize("changes", [(), (FACING, CORE)], ids=["one sheet", "layers"])
def test_a_bent_chain_puts_every_hole_at_its_angle_across_seams_too(changes: tuple[object, ...]) -> None:
    plate, on = demo_plate(*changes), demo_wheel()  # type: ignore[arg-type]  # changes of plate_text
    geometry = on.geometry
    gap_rad = (geometry.trail_edge_mm - geometry.lead_edge_mm) / geometry.radius_mm
    for pattern in patterns(plate, on):
        edge_rad = -geometry.lead_edge_mm / geometry.radius_mm
        last_rad = math.nan
        for number in range(3):
            angles, trail_rad = chained_angles(pattern, pattern.layer.neutral_radius_mm, edge_rad)
            expected = math.radians(plate_start_deg(on, number)) + pattern.holes.along_mm / geometry.radius_mm
            assert np.abs(angles - expected).max() < 1e-6
            on_step = (pattern.holes.row == 0) & (pattern.holes.channel == 0)
            if number:
                step_rad = angles[on_step].min() - last_rad
                assert step_rad == pytest.approx(2 * math.pi / on.turn_steps, abs=1e-6)
            last_rad = angles[on_step].max()
            edge_rad = trail_rad + gap_rad


def test_the_chain_sees_a_wrong_ratio() -> None:
    plate, on = demo_plate(setting("sheet", k=0.4)), demo_wheel()
    (pattern,) = patterns(plate, on)
    angles, _ = chained_angles(pattern, 474.5, -5 / 477.5)
    assert np.abs(angles - pattern.holes.along_mm / 477.5).max() > 1e-3


def test_the_demo_plate_has_the_figures_computed_by_hand() -> None:
    """R_n 477.5 - 3; 2 pi 477.5 / 6 = 500.037, x 474.5 / 477.5; cut 500.037 - 5.3 + 5 = 499.737."""
    plan = plan_plate(demo_plate(), demo_wheel())
    (facts,) = plan.layers
    assert facts.layer.neutral_radius_mm == 474.5
    assert facts.ratio == pytest.approx(0.9937173, abs=5e-8)
    assert (facts.rim_plate_mm, facts.flat_plate_mm) == pytest.approx((500.037, 496.895), abs=6e-4)
    assert facts.rim_plate_mm - facts.flat_plate_mm == pytest.approx(3.142, abs=5e-4)
    assert (demo_wheel().step_mm, facts.flat_step_mm) == pytest.approx((15.6262, 15.5280), abs=5e-5)
    assert (facts.rim_sheet_mm, facts.flat_sheet_mm) == pytest.approx((499.737, 496.597), abs=6e-4)
    assert (facts.chord_mm, facts.sag_mm) == pytest.approx((477.5, 63.97), abs=0.005)
    assert facts.wrong_k_mm == pytest.approx(0.628, abs=5e-4)
    (pattern,) = plan.patterns
    assert np.count_nonzero(pattern.holes.kind == HoleKind.PIN) == 2120
    on_step = pattern.holes.x_mm[(pattern.holes.row == 0) & (pattern.holes.channel == 0)]
    assert np.diff(on_step) == pytest.approx(15.5280, abs=5e-5)
    assert on_step[0] == 0


def test_a_sheet_of_hdpe_cut_10_k_warm_is_longer_by_0_894_mm() -> None:
    """496.9 mm x 180e-6 x 10 K."""
    cold, warm = (plan_plate(demo_plate(setting("sheet", machined_c=each)), demo_wheel()) for each in (20, 30))
    assert warm.layers[0].flat_plate_mm - cold.layers[0].flat_plate_mm == pytest.approx(0.894, abs=5e-4)
    assert warm.patterns[0].holes.x_mm == pytest.approx(cold.patterns[0].holes.x_mm * 1.0018, abs=1e-9)
    assert warm.patterns[0].holes.y_mm == pytest.approx(cold.patterns[0].holes.y_mm * 1.0018, abs=1e-9)
    assert warm.patterns[0].holes.diameter_mm == pytest.approx(cold.patterns[0].holes.diameter_mm)


def test_a_measured_scale_takes_the_place_of_k() -> None:
    plate = demo_plate(without_k, setting("strip", scale=0.99))
    (pattern,) = patterns(plate, demo_wheel())
    assert pattern.holes.x_mm == pytest.approx(0.99 * pattern.holes.along_mm)


def without_k(values: dict[str, dict[str, object]]) -> None:
    values["sheet"].pop("k")


def test_a_sheet_drilled_from_its_inner_face_is_the_mirror_image() -> None:
    (outer,), (inner,) = (patterns(demo_plate(setting("sheet", drilled_from=face)), demo_wheel()) for face in Face)
    assert (outer.face, inner.face) == (Face.OUTER, Face.INNER)
    assert inner.holes.x_mm == pytest.approx(outer.holes.x_mm)
    assert inner.holes.y_mm == pytest.approx(-outer.holes.y_mm)
    assert np.array(inner.marks.lines[0]) == pytest.approx(np.array(outer.marks.lines[0]) * [1, -1])
    places = {text.text: text for text in inner.marks.texts}
    mirrored = {text.text: text for text in outer.marks.texts}
    assert places.keys() == mirrored.keys()
    assert places["PLATE"].y_mm == pytest.approx(-mirrored["PLATE"].y_mm)
    assert np.ptp(np.array(inner.outline), axis=0) == pytest.approx(np.ptp(np.array(outer.outline), axis=0))


def test_the_outer_face_lies_as_pin_sheets_do() -> None:
    """Seen from outside, step 1 at the left, the first channel at the top (docs/pin-sheets.md): x rises with the step
    and y, which runs away from the person, falls with the channel."""
    (pattern,) = patterns(demo_plate(), demo_wheel())
    holes = pattern.holes
    pins = holes.kind == HoleKind.PIN
    assert np.corrcoef(holes.channel[pins], holes.y_mm[pins])[0, 1] < -0.99
    assert (np.diff(holes.x_mm[pins & (holes.channel == 3) & (holes.row == 1)]) > 0).all()
    assert holes.y_mm[pins] == pytest.approx(-holes.across_mm[pins])


def test_lost_holes_are_not_drilled_and_plates_alike_share_a_pattern() -> None:
    on = wheel_with('[[lost]]\nrow = "on"\nhole = 4\nplate = 3\n[[lost]]\nrow = "half"\nhole = 9\nchannel = "snare"\n')
    every, third = patterns(demo_plate_for(on), on)
    assert (every.plates, third.plates) == ((0, 1, 3, 4, 5), (2,))
    assert (every.name, third.name) == ("plates-1-2-4-5-6", "plate-3")
    assert (every.title, third.title) == ("plates 1, 2, 4, 5 and 6", "plate 3")
    for pattern in (every, third):
        pins = pattern.holes.kind == HoleKind.PIN
        drilled = set(zip(*(each[pins].tolist() for each in columns(pattern)), strict=True))
        assert drilled == live_holes(on, pattern.plates[0])
    assert every.holes.count - third.holes.count == 24
    assert [text.text for text in third.marks.texts if "PLATE" in text.text] == ["PLATE 3"]


def demo_plate_for(on: Wheel) -> PlateFile:
    from plate_text import demo_values

    return read(demo_values(), on)


def columns(pattern: Pattern) -> tuple[np.ndarray, ...]:
    return pattern.holes.channel, pattern.holes.row, pattern.holes.index


def live_holes(on: Wheel, plate: int) -> set[tuple[int, int, int]]:
    live = set()
    for channel, line in enumerate(hole_grid(on).lines):
        here = (line.plate == plate) & (line.loss == Loss.NONE)
        live |= {(channel, row, index) for row, index in zip(line.row[here], line.index[here], strict=True)}
    return live


def test_every_layer_has_its_own_radius_and_holes() -> None:
    plate = demo_plate(FACING, CORE, BACKING, setting_layers)
    facing, core, backing = (each.layer for each in patterns(plate, demo_wheel()))
    assert (facing.radius_mm, core.radius_mm, backing.radius_mm) == pytest.approx((477.5, 475.8, 469.8))
    assert core.neutral_radius_mm == pytest.approx(475.8 - 0.6 * 6)
    made = patterns(plate, demo_wheel())
    assert [each.name for each in made] == ["plate-layer-1", "plate-layer-2", "plate-layer-3"]
    assert [set(each.holes.diameter_mm[each.holes.kind == HoleKind.PIN]) for each in made] == [{2.6}, {2.5}, set()]
    assert [np.count_nonzero(each.holes.kind == HoleKind.DOWEL) for each in made] == [1, 1, 0]
    last = max(made[1].holes.along_mm)
    assert max(made[1].holes.x_mm) == pytest.approx(last * (475.8 - 3.6) / 477.5)


def setting_layers(values: dict[str, list[dict[str, object]]]) -> None:
    values["fixing"][0]["layers"] = ["facing", "core"]


def test_a_slot_has_a_hole_at_each_end() -> None:
    (pattern,) = patterns(demo_plate(), demo_wheel())
    ends = pattern.holes.kind == HoleKind.SLOT
    assert np.count_nonzero(ends) == 2
    assert np.ptp(pattern.holes.along_mm[ends]) == pytest.approx(11 - 5)
    assert pattern.holes.along_mm[ends].mean() == pytest.approx(28.5 * demo_wheel().step_mm)


def slotted(slot_mm: float, slot_drill: bool, tool_mm: float = 5.0) -> Pattern:
    """The demo plate with another slot of 5 mm, and with one more tool."""

    def change(values: dict[str, list[dict[str, object]]]) -> None:
        values["fixing"][1]["slot_mm"] = slot_mm
        values["tool"].append({**values["tool"][0], "number": 9, "diameter_mm": tool_mm, "slot_drill": slot_drill})

    (pattern,) = patterns(demo_plate(change), demo_wheel())
    return pattern


@pytest.mark.parametrize(("slot_mm", "holes"), [(11.0, 2), (16.9, 2), (17.0, 3), (23.0, 4), (9.0, 2), (5.0, 1)])
def test_a_twist_drill_leaves_webs_between_the_holes_of_a_slot(slot_mm: float, holes: int) -> None:
    """Webs of at least 1 mm (common practice, no source), where the two ends leave one: 5 mm wide, so 6 mm a hole."""
    along_mm = of_slot(slotted(slot_mm, slot_drill=False))
    assert len(along_mm) == holes
    assert np.ptp(along_mm) == pytest.approx(slot_mm - 5)
    if holes > 2:
        assert np.diff(along_mm).min() >= 6
    assert np.diff(along_mm) == pytest.approx([(slot_mm - 5) / (holes - 1)] * (holes - 1) if holes > 1 else [])


@pytest.mark.parametrize("slot_mm", [5.0, 5.6, 11.0, 30.0])
def test_the_holes_of_a_slot_drill_overlap_by_three_quarters(slot_mm: float) -> None:
    """Ridges between them are below 1.6 % of the width: a segment of a circle on a chord of a quarter of it."""
    pattern = slotted(slot_mm, slot_drill=True)
    along_mm = of_slot(pattern)
    assert np.ptp(along_mm) == pytest.approx(slot_mm - 5)
    assert np.diff(along_mm).max(initial=0) <= 1.25 + 1e-9
    assert set(pattern.holes.tool[pattern.holes.kind == HoleKind.SLOT].tolist()) == {9}
    assert 9 not in pattern.holes.tool[pattern.holes.kind != HoleKind.SLOT], "the dowel of 5 mm takes the twist drill"
    middles = np.linspace(along_mm[0], along_mm[-1], 2001)
    half_mm = np.sqrt(2.5**2 - np.abs(middles[:, None] - along_mm).min(axis=1) ** 2)
    assert 2.5 - half_mm.min() < 0.016 * 5


def of_slot(pattern: Pattern) -> np.ndarray:
    return np.sort(pattern.holes.along_mm[pattern.holes.kind == HoleKind.SLOT])


def test_a_slot_drill_that_is_too_far_off_is_not_taken() -> None:
    pattern = slotted(11.0, slot_drill=True, tool_mm=4.4)
    assert 9 not in pattern.holes.tool
    assert len(of_slot(pattern)) == 2


def test_angles_are_those_of_a_dividing_head() -> None:
    """32 steps of a plate of a sixth of a turn: 1.875 degrees a step."""
    (pattern,) = patterns(demo_plate(), demo_wheel())
    chosen = (pattern.holes.channel == 5) & (pattern.holes.row == 0)
    assert plate_angles_deg(pattern.holes, demo_wheel())[chosen] == pytest.approx(np.arange(32) * 1.875)
    assert [plate_start_deg(demo_wheel(), number) for number in range(6)] == [0, 60, 120, 180, 240, 300]


def test_the_outline_is_the_sheet_with_rounded_corners() -> None:
    (pattern,) = patterns(demo_plate(), demo_wheel())
    points = np.array(pattern.outline)
    assert np.ptp(points, axis=0) == pytest.approx([496.597, 362.0], abs=6e-4)
    following = np.roll(points, -1, axis=0)
    area = 0.5 * abs(float(np.sum(points[:, 0] * following[:, 1] - points[:, 1] * following[:, 0])))
    assert area == pytest.approx(496.597 * 362 - (4 - math.pi) * 9, abs=0.5)
    square = read({**starter_values(), "sheet": {**starter_values()["sheet"], "corner_radius_mm": 0}}, starter_wheel())
    assert len(patterns(square, starter_wheel())[0].outline) == 4
