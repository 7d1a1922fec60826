"""Numbers as a maker reads them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.units import fraction_text, least_doubled, ratio_text, seconds_text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Fraction(3), "3"),
        (Fraction(5, 2), "2.5"),
        (Fraction(-1, 4), "-0.25"),
        (Fraction(4, 3), "1 1/3"),
        (Fraction(2, 3), "2/3"),
        (Fraction(-1, 64), "-1/64"),
        (Fraction(-4, 3), "-1 1/3"),
        (Fraction(12_345_678), "12345678"),
        (Fraction(0), "0"),
    ],
)
def test_a_fraction_as_a_maker_reads_it(value: Fraction, text: str) -> None:
    assert fraction_text(value) == text


@given(st.fractions())
def test_no_digit_of_a_fraction_is_lost(value: Fraction) -> None:
    text = fraction_text(value)
    total = sum((Fraction(part) for part in text.removeprefix("-").split()), Fraction(0))
    assert (-total if text.startswith("-") else total) == value


def test_a_ratio_as_a_maker_writes_it() -> None:
    assert ratio_text(Fraction(4, 2)) == "2:1"


@pytest.mark.parametrize(
    ("duration_s", "text"),
    [(7.5, "7.5 s"), (25.714, "25.7 s"), (131.4, "131 s"), (999.4, "999 s"), (999.5, "1,000 s"), (2880.0, "2,880 s")],
)
def test_seconds_are_never_told_with_an_exponent(duration_s: float, text: str) -> None:
    assert seconds_text(duration_s) == text


@given(st.integers(1, 10_000))
def test_a_scale_is_numbered_every_power_of_two_steps(least: int) -> None:
    every = least_doubled(lambda step: step >= least)
    assert every.bit_count() == 1
    assert every // 2 < least <= every
