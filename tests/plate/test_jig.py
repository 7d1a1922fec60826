from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from pegwright.config.plate_file import load_plate
from pegwright.making import Face, HoleKind, Pattern, PlateFile
from pegwright.plate.jig import jigs
from pegwright.plate.order import DrillOrder
from pegwright.plate.path import tool_paths
from pegwright.plate.pattern import patterns
from pegwright.plate.verify import verify_programs
from pegwright.wheel import LostHole, Wheel
from pegwright.write.gcode import Form, program_text
from places import SONGS


@pytest.fixture(scope="module")
def demo() -> tuple[PlateFile, Wheel]:
    return load_plate(SONGS / "merrow-sands-plate.toml")


def places(pattern: Pattern, chosen: NDArray[np.bool_]) -> set[tuple[float, float]]:
    x_mm, y_mm = pattern.holes.x_mm[chosen].tolist(), pattern.holes.y_mm[chosen].tolist()
    return {(round(x, 6), round(y, 6)) for x, y in zip(x_mm, y_mm, strict=True)}


@pytest.mark.parametrize("face", list(Face))
def test_a_jig_moved_from_channel_to_channel_drills_the_plate(demo: tuple[PlateFile, Wheel], face: Face) -> None:
    """Laid on each channel, its holes are those of the pattern; its locating holes are holes of the channel before."""
    plate, wheel = demo
    plate = replace(plate, sheet=replace(plate.sheet, face=face))
    (pattern,) = patterns(plate, wheel)
    made = jigs(plate, wheel, [pattern])
    assert [jig.title for jig in made] == ["jig for rows on, half and triplet", "jig for rows on and half"]
    pitch = wheel.geometry.channel_pitch_mm * (1 if face is Face.INNER else -1)
    for channel, each in enumerate(wheel.channels):
        jig = made[0 if "triplet" in each.rows else 1]
        pins = places(jig, jig.holes.kind == HoleKind.PIN)
        moved = {(x, round(y + channel * pitch, 6)) for x, y in pins}
        assert moved == places(pattern, pattern.holes.channel == channel)
        located = {(x, round(y + channel * pitch, 6)) for x, y in places(jig, jig.holes.kind == HoleKind.DOWEL)}
        assert len(located) == 2
        if channel:
            assert located <= places(pattern, pattern.holes.channel == channel - 1)


def test_a_jig_has_holes_that_are_lost_on_one_plate_alone(demo: tuple[PlateFile, Wheel]) -> None:
    plate, wheel = demo
    lost = replace(wheel, lost=(LostHole("on", 3, plate=2), LostHole("on", 5)), sha256="another")
    every = patterns(plate, lost)
    assert len(every) == 2
    (jig, _) = jigs(plate, lost, every)
    assert jig.holes.count == 97 - 1


def test_a_jig_is_drilled_by_programs_that_the_check_lets_pass(demo: tuple[PlateFile, Wheel]) -> None:
    plate, wheel = demo
    for jig in jigs(plate, wheel, patterns(plate, wheel)):
        paths = tool_paths(jig, plate.tools, plate.machine, DrillOrder.ONE_WAY)
        programs = [(path.tool.number, program_text(jig, plate, path, Form.PLAIN)) for path in paths]
        assert verify_programs(jig, plate, programs) == ()
