"""The place of a note in words: bars that people count, beats that they can name."""

from __future__ import annotations

from fractions import Fraction

import pytest

from pegwright.score import SourceRef, bar_name, bars_name


@pytest.mark.parametrize(
    ("beat", "words"),
    [
        (Fraction(1), "beat 1"),
        (Fraction(5, 2), "beat 2.5"),
        (Fraction(5, 3), "beat 1 2/3"),
        (Fraction(39, 8), "beat 4 7/8"),
        (Fraction(65, 32), "beat 2 1/32"),
        (2 + Fraction(211, 480), "near beat 2.44"),  # a note played by hand, as a file of 480 ticks a quarter has it
        (1 + Fraction(341, 1024), "near beat 1.33"),
        (2 + Fraction(239, 480), "near beat 2.50"),
    ],
)
def test_a_beat_that_has_no_name_is_given_by_the_nearest_hundredth(beat: Fraction, words: str) -> None:
    assert str(SourceRef("waltz.mid", "Melody", "14", beat)) == f"waltz.mid:Melody:bar 14 {words}"
    assert SourceRef("waltz.mid", "Melody", "14", beat).in_words == f"'Melody' bar 14 {words}"


@pytest.mark.parametrize(
    ("label", "words"),
    [
        ("14", "bar 14"),
        ("0", "pickup bar"),
        ("0, 2nd time", "pickup bar, 2nd time"),
        ("0 from beat 3", "pickup bar from beat 3"),
        ("01", "bar 01"),
        ("10", "bar 10"),
    ],
)
def test_no_one_reads_of_a_bar_0(label: str, words: str) -> None:
    assert bar_name(label) == words


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        ("9", "16", "bars 9 to 16"),
        ("14", "14", "bar 14"),
        ("0", "8", "pickup bar to bar 8"),
        ("0", "0", "pickup bar"),
        ("0, 2nd time", "8, 2nd time", "pickup bar, 2nd time to bar 8, 2nd time"),
        ("01", "02", "bars 01 to 02"),
    ],
)
def test_no_one_reads_of_a_bar_0_where_a_stretch_begins_with_a_pickup(first: str, last: str, words: str) -> None:
    assert bars_name(first, last) == words
