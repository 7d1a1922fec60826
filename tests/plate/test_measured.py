"""What measured plates come to in hundredths of a mm, by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pegwright.making import Fixing, Held, Holding, HoleKind
from pegwright.plate.measured import Measured, nominal_plate, seam_problem
from plate_text import demo_plate, demo_wheel


@pytest.mark.parametrize(
    ("dowel_share", "at_rest"),
    [
        (0.0, (-20, 0, 0, 0, 0, 0)),  # held at its first hole, the last is late by all of it
        (1.0, (0, 0, 0, 0, 0, -20)),  # held at its last hole, the first is early by all of it
        (0.5, (-10, 0, 0, 0, 0, -10)),
    ],
)
def test_a_plate_grows_away_from_its_dowel(dowel_share: float, at_rest: tuple[int, ...]) -> None:
    wheel = demo_wheel()
    nominal = nominal_plate(wheel, 0)
    dowel = Fixing(HoleKind.DOWEL, dowel_share * nominal.arc_mm, -12, 5)
    plate = replace(demo_plate(), fixings=(dowel,), held=Held(Holding.DOWELLED, clearance_mm=0.15))
    plates = (replace(nominal, arc_mm=nominal.arc_mm + 0.2), *(nominal,) * 5)
    problem = seam_problem(Measured(1, (1, 2, 3, 4, 5, 6), plates), 0, plate, wheel)
    assert problem.at_rest == at_rest
    assert problem.arc_errors == (20, 0, 0, 0, 0, 0)
    assert problem.touching == (-30,) * 6  # the gap of the wheel file, 0.3 mm
    assert problem.clearance == 15


def test_everything_counts_from_the_datum_plate() -> None:
    wheel = demo_wheel()
    nominal = nominal_plate(wheel, 0)
    plates = (replace(nominal, arc_mm=nominal.arc_mm + 0.2), *(nominal,) * 5)
    plate = replace(demo_plate(), held=Held(Holding.BUTTED, datum=4))
    problem = seam_problem(Measured(1, (1, 2, 3, 4, 5, 6), plates), 0, plate, wheel)
    assert problem.arc_errors == (0, 0, 20, 0, 0, 0)
    assert problem.at_rest == ()
