"""The gauge and the bend strip, measured on their patterns as a maker would on the parts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pegwright.errors import UsageError
from pegwright.making import Face, Fixing, HoleKind, Pattern, PlateFile
from pegwright.plate.trial import gauges, ladder_mm, strip_lengths_mm, strips, with_ladder_tools
from plate_text import Values, adding, demo_plate, demo_wheel, read, setting, starter_values, starter_wheel


def gauge(*changes: object) -> Pattern:
    plate = with_ladder_tools(demo_plate(*changes))  # type: ignore[arg-type]  # changes of plate_text
    return gauges(plate, demo_wheel())[0]


def test_the_ladder_runs_from_0_3_under_to_0_3_over_in_steps_of_0_05() -> None:
    plate = with_ladder_tools(demo_plate())
    (part,) = gauges(plate, demo_wheel())
    assert ladder_mm(part.layer) == pytest.approx(np.linspace(2.2, 2.8, 13))
    ladder = {text.text for text in part.marks.texts}
    assert ladder == {"2.2", "2.25", "2.3", "2.35", "2.4", "2.45", "2.5", "2.55", "2.6", "2.65", "2.7", "2.75", "2.8"}
    diameters = {tool.number: tool.diameter_mm for tool in plate.tools}
    rungs = [
        (diameter, diameters[tool])
        for kind, diameter, tool in zip(part.holes.kind, part.holes.diameter_mm, part.holes.tool, strict=True)
        if kind == HoleKind.TRIAL
    ]
    assert all(drill == pytest.approx(hole) for hole, drill in rungs)
    assert len(diameters) == len(plate.tools) == 4 + 12


def test_it_is_no_larger_than_200_by_80_mm() -> None:
    size_mm = np.ptp(np.array(gauge().outline), axis=0)
    assert size_mm[0] == pytest.approx(200)
    assert size_mm[1] <= 80
    assert np.ptp(np.array(gauge(setting("sheet", machined_c=40)).outline), axis=0)[0] == pytest.approx(200)


def test_its_holes_are_apart_and_inside() -> None:
    part = gauge()
    places = np.stack([part.holes.x_mm, part.holes.y_mm], axis=1)
    kinds, radii = part.holes.kind, part.holes.diameter_mm / 2
    low, high = np.array(part.outline).min(axis=0), np.array(part.outline).max(axis=0)
    assert (places - radii[:, None] >= low + 1).all()
    assert (places + radii[:, None] <= high - 1).all()
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1)) - radii[:, None] - radii[None]
    apart[np.ix_(kinds == HoleKind.SLOT, kinds == HoleKind.SLOT)] = 9.0
    np.fill_diagonal(apart, 9.0)
    assert apart.min() > 1.0


def test_two_of_it_end_to_end_have_a_step_across_the_seam() -> None:
    """On the rim: right end, a gap of 0.3 mm, left end; the first holes of the next are a step on from the last."""
    part, on = gauge(), demo_wheel()
    ratio = 474.5 / 477.5
    row = np.flatnonzero((part.holes.kind == HoleKind.TRIAL) & (np.abs(part.holes.across_mm) < 1e-9))
    along_mm = np.sort(part.holes.x_mm[row]) / ratio
    begin_mm, end_mm = (np.array(part.outline)[:, 0].min() / ratio, np.array(part.outline)[:, 0].max() / ratio)
    across_seam_mm = (end_mm - along_mm[-1]) + 0.3 + (along_mm[0] - begin_mm)
    assert across_seam_mm == pytest.approx(on.step_mm, abs=1e-9)
    assert along_mm[:4] == pytest.approx(np.arange(4) * on.step_mm / 2)


def test_it_has_one_of_every_fixing_hole() -> None:
    part = gauge(adding("fixing", kind="bolt", step=20, across_mm=-12, diameter_mm=5, head_mm=9))
    fixings = part.holes.fixing[part.holes.fixing >= 0].tolist()
    assert sorted(set(fixings)) == [0, 1, 2, 7, 9, 10]  # dowel, slot, M4, M3, mark and the one added
    assert fixings.count(1) == 2


def test_a_gauge_that_would_be_too_large_is_refused_with_numbers() -> None:
    values = starter_values()
    values["fixing"] = [
        {"kind": "bolt", "step": 2 + number / 2, "across_mm": -11.0, "diameter_mm": 4.5 + number / 100, "head_mm": 30}
        for number in range(12)
    ]
    values["sheet"]["left_edge_mm"] = 40
    plate = with_ladder_tools(read_freely(values))
    with pytest.raises(UsageError, match=r"the gauge would be [0-9.]+ mm wide, above 80 mm"):
        gauges(plate, starter_wheel())


def read_freely(values: Values) -> PlateFile:
    """A plate file whose fixings would clash on a plate, which a gauge alone is made of."""
    fixings = values.pop("fixing")
    plate = read(values, starter_wheel())
    made = tuple(Fixing(HoleKind.BOLT, 20.0, -11.0, each["diameter_mm"], each["head_mm"]) for each in fixings)
    return replace(plate, fixings=made)


def test_a_gauge_drilled_from_inside_is_mirrored() -> None:
    outer, inner = gauge(), gauge(setting("sheet", drilled_from="inner"))
    assert inner.face is Face.INNER
    assert inner.holes.y_mm == pytest.approx(-outer.holes.y_mm)


def test_a_strip_has_holes_a_flat_step_apart() -> None:
    (strip,) = strips(demo_plate(), demo_wheel(), 500)
    assert strip.holes.count == 32  # 31 steps of 15.6262 mm are 484.41 mm
    assert np.diff(strip.holes.x_mm) == pytest.approx(15.5280, abs=5e-5)
    count, flat_mm, rim_mm = strip_lengths_mm(demo_wheel(), strip)
    assert (count, flat_mm, rim_mm) == pytest.approx((32, 481.367, 484.411), abs=1e-3)
    assert strips(demo_plate(), demo_wheel(), 31 * demo_wheel().step_mm)[0].holes.count == 32


def test_every_layer_has_a_strip_of_its_own() -> None:
    core = adding("layer", name="core", thickness_mm=4)
    back = adding("layer", name="back", thickness_mm=2, pin_holes=False)
    plate = demo_plate(core, back)
    first, second = strips(plate, demo_wheel(), 300)
    assert (first.name, second.name) == ("strip-layer-1", "strip-layer-2")
    assert strip_lengths_mm(demo_wheel(), second)[2] == pytest.approx(19 * 15.62617 * 473.5 / 477.5, abs=1e-3)
    assert [part.name for part in gauges(with_ladder_tools(plate), demo_wheel())] == ["gauge-layer-1"]
