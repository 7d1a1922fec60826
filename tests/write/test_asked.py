"""What was asked of a song, as it is typed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.fit.options import FitOptions
from pegwright.request import Request
from pegwright.units import us_per_quarter
from pegwright.write.asked import typed


def tempo_of(microseconds: int) -> str:
    option, text = typed(Request(options=FitOptions(us_per_quarter=microseconds))).split()
    assert option == "--tempo"
    return text


@pytest.mark.parametrize("tempo", ["1", "10", "20", "60.5", "68.1", "100", "1000"])
def test_a_tempo_is_told_as_it_was_typed(tempo: str) -> None:
    assert tempo_of(us_per_quarter(float(tempo))) == tempo


@given(st.integers(60_000, 60_000_000))
def test_a_tempo_as_told_is_the_same_tempo(microseconds: int) -> None:
    text = tempo_of(microseconds)
    assert "e" not in text
    assert us_per_quarter(float(text)) == microseconds
