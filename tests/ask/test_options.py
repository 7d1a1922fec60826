"""What a maker may ask of a fit, and how an impossible wish is told."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from pegwright.ask.options import FitOptions
from pegwright.errors import UsageError


def test_nothing_asked_is_a_plain_fit() -> None:
    options = FitOptions()
    assert options == FitOptions(0, False, Fraction(0), None, None, (), ())
    assert hash(options) == hash(FitOptions())


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"transpose_semitones": 128}, "transposition is 128 semitones, outside -127 to 127"),
        ({"start_steps": Fraction(1, 961)}, "start of 1/961 steps is finer than 1/960 of a step"),
        ({"us_per_quarter": 0}, "tempo is 0 microseconds a quarter note, outside 1 to 60000000"),
        ({"us_per_quarter": 60_000_001}, "tempo is 60000001 microseconds"),
        ({"reach_quarters": Fraction(-1, 16)}, "reach of -1/16 quarter notes is below 0"),
        ({"part_priorities": (("Bass", 0),)}, "priority of part 'Bass' is 0, outside 1 to 99"),
        ({"part_priorities": (("Bass", 100),)}, "priority of part 'Bass' is 100"),
        ({"part_priorities": (("Bass", 2), ("Bass", 3))}, "part 'Bass' is given twice"),
        ({"drum_keys": ((128, 40),)}, "percussion key is 128, outside 0 to 127"),
        ({"drum_keys": ((40, -1),)}, "percussion key in place of 40 is -1"),
        ({"drum_keys": ((40, 41), (40, 42))}, "percussion key 40 is given twice"),
    ],
    ids=lambda value: ",".join(value) if isinstance(value, dict) else "",
)
def test_what_is_out_of_bounds_is_told_with_value_bound_and_remedy(wrong: dict[str, Any], says: str) -> None:
    with pytest.raises(UsageError) as told:
        FitOptions(**wrong)
    assert says in str(told.value)
    assert told.value.hint
    assert "\n" not in str(told.value)
