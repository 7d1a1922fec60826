"""Beat shifts as they are written: a bar, perhaps a beat of it, and quarters."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given

from pegwright.ask.beat_shifts import BeatShift, beat_shift_of
from pegwright.errors import UsageError
from requests_asked import beat_shifts


@pytest.mark.parametrize(
    ("text", "bar", "beat", "quarters"),
    [
        ("13=-1/4", 13, Fraction(1), Fraction(-1, 4)),
        (" 13:2.5 = 1/3 ", 13, Fraction(5, 2), Fraction(1, 3)),
        ("1:4/3=+2", 1, Fraction(4, 3), Fraction(2)),
        ("7=-0.25", 7, Fraction(1), Fraction(-1, 4)),
        ("5:1 3/8=0", 5, Fraction(11, 8), Fraction(0)),  # the beat as a report has it
        ("5=-1 1/2", 5, Fraction(1), Fraction(-3, 2)),
    ],
)
def test_a_beat_shift_names_a_place_and_a_length(text: str, bar: int, beat: Fraction, quarters: Fraction) -> None:
    assert beat_shift_of(text) == BeatShift(bar, beat, quarters)


@given(beat_shifts())
def test_a_beat_shift_is_read_as_it_is_written(shift: BeatShift) -> None:
    assert beat_shift_of(str(shift)) == shift


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("13", "is not a bar, '=' and a number of quarters"),
        ("bar 13=1/4", "is not a bar"),
        ("13=a sixteenth", "is not a bar"),
        ("0=1/4", "before bar 1 or beat 1"),
        ("2:0.5=1/4", "before bar 1 or beat 1"),
        ("2=1/0", "divides by 0"),
        ("2=17", "by more than 16 quarters"),
        ("13=1 2", "is not a bar"),
        ("13:2 3=1", "is not a bar"),
        ("13:1 2.5=0", "is not a bar"),
        ("2=1/999", "finer than 1/960"),
    ],
)
def test_what_is_no_beat_shift_is_refused_with_the_form(text: str, wrong: str) -> None:
    with pytest.raises(UsageError, match=wrong) as refused:
        beat_shift_of(text)
    assert "13=-1/4" in refused.value.hint


@pytest.mark.parametrize(
    ("bar", "beat", "quarters"), [(0, "1", "1/4"), (-3, "1", "1/4"), (2, "1/2", "0"), (2, "1", "17"), (2, "1", "1/961")]
)
def test_a_beat_shift_out_of_bounds_is_refused_in_python_too(bar: int, beat: str, quarters: str) -> None:
    with pytest.raises(UsageError, match=r"before bar 1|by more than 16|finer than 1/960"):
        BeatShift(bar, Fraction(beat), Fraction(quarters))
