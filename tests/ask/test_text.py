"""What was asked of a song, as it is typed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.ask.options import FitOptions
from pegwright.ask.request import Request
from pegwright.ask.text import edits_json, typed
from pegwright.units import us_per_quarter


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


def test_edits_stand_in_json_in_the_order_published_and_new_ones_only_where_asked() -> None:
    plain = ["bars", "offset_ticks", "performed", "part_semitones", "ornaments_quarters", "swing", "most_at_once"]
    assert list(edits_json(Request())) == plain
    asked = edits_json(Request(turns=3, whole_bars=True))
    assert [key for key in asked if key not in plain] == ["turns", "whole_bars"]
    assert (asked["turns"], asked["whole_bars"]) == (3, True)


def test_turns_and_whole_bars_are_typed() -> None:
    assert typed(Request(bars=(1, 9), turns=3, whole_bars=True)) == "--bars 1-9 --turns 3 --whole-bars"
