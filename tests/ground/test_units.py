"""Numbers as a maker reads them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.units import (
    UniqueNames,
    fraction_text,
    least_doubled,
    nearest_hint,
    one_line,
    percent_text,
    ratio_text,
    seconds_text,
    turning_text,
)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        (percent_text(0.12), "12 %"),
        (percent_text(0.0004, 1), "0.0 %"),
        (percent_text(0.26, sign="+"), "+26 %"),
        (percent_text(-0.36, sign="+"), "-36 %"),
    ],
)
def test_per_cent_is_a_number_with_its_unit(text: str, shown: str) -> None:
    assert text == shown


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


@pytest.mark.parametrize(
    ("turn_s", "text"),
    [
        (60.0, "60 s a turn, 1 revolution a minute"),
        (59.99, "60 s a turn, 1 revolution a minute"),
        (24.0, "24 s a turn, 2.5 revolutions a minute"),
        (120.0, "120 s a turn, 0.5 revolutions a minute"),
    ],
)
def test_one_revolution_is_singular(turn_s: float, text: str) -> None:
    assert turning_text(turn_s) == text


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


def test_a_name_that_is_taken_gets_the_first_free_number() -> None:
    names = UniqueNames(["Bells", "Bells (3)"])
    assert [names.take(name) for name in ("Drum", "Bells", "Bells", "Drum", "Bells (2)")] == [
        "Drum", "Bells (2)", "Bells (4)", "Drum (2)", "Bells (2) (2)",
    ]  # fmt: skip


@given(st.lists(st.sampled_from(["a", "a (2)", "b"])))
def test_names_are_given_once(wished: list[str]) -> None:
    names = UniqueNames()
    given_names = [names.take(name) for name in wished]
    assert len(set(given_names)) == len(wished)


@pytest.mark.parametrize(
    ("text", "line"),
    [(None, ""), (" a\n b\t", "a b"), ("a\x00b", "ab"), ("a \u200b b", "a b"), ("abcdef", "abcd"), ("abc def", "abc")],
)
def test_text_for_one_line(text: str | None, line: str) -> None:
    assert one_line(text, 4) == line


def test_a_name_is_only_called_the_nearest_where_it_is_like_the_one_that_was_given() -> None:
    names = ["Melody", "Chimes"]
    assert nearest_hint("Meldoy", names, "none") == "the nearest name is 'Melody'; the names are 'Melody' and 'Chimes'"
    assert nearest_hint("Tuba", names, "none") == "the names are 'Melody' and 'Chimes'"
    assert nearest_hint("Chime", names[1:], "none") == "the nearest name is 'Chimes'"
    assert nearest_hint("Tuba", names[1:], "none") == "the names are 'Chimes'"
    assert nearest_hint("Tuba", [], "the score has no parts") == "the score has no parts"
    assert nearest_hint("Tuba", [f"bar {number}" for number in range(10)], "none").endswith("'bar 7' and 2 more")
