"""A section of a song by its played bars."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import strategies
from pegwright.columns import frozen_ints
from pegwright.edit.bars import select_bars
from pegwright.errors import UsageError
from pegwright.score import BarMap, Score, TempoMap
from samples import score


def eight_bars() -> Score:
    """Two notes a bar, a tempo change inside bar 3, labels with a repeat."""
    made = score([(48 * place, 60 + place) for place in range(16)])
    labels = ("1", "2", "3", "4", "1, 2nd time", "2, 2nd time", "3, 2nd time", "4, 2nd time")
    tempi = TempoMap(frozen_ints([0, 240]), frozen_ints([500_000, 400_000]))
    return replace(made, bar_map=replace(made.bar_map, labels=labels), tempo_map=tempi)


def test_a_section_counts_time_from_its_first_bar_and_keeps_its_labels() -> None:
    part = select_bars(eight_bars(), 4, 6)
    assert part.onset_ticks.tolist() == [0, 48, 96, 144, 192, 240]
    assert part.pitch_midi.tolist() == [66, 67, 68, 69, 70, 71]
    assert part.bar_map.ticks.tolist() == [0, 96, 192]
    assert part.bar_map.end_ticks == part.length_ticks == 288
    assert str(part.source(2)) == "test.mid:Melody:bar 1, 2nd time beat 1"
    assert (part.tempo_map.ticks.tolist(), part.tempo_map.us_per_quarter.tolist()) == ([0], [400_000])


def test_tempo_changes_inside_a_section_keep_their_places() -> None:
    part = select_bars(eight_bars(), 2, 3)
    assert part.tempo_map.ticks.tolist() == [0, 144]
    assert part.tempo_map.us_per_quarter.tolist() == [500_000, 400_000]
    assert select_bars(eight_bars(), 1, 2).tempo_map.us_per_quarter.tolist() == [500_000]


def test_the_last_bar_takes_notes_past_the_end_with_it() -> None:
    made = eight_bars()
    late = replace(made, bar_map=replace(made.bar_map, end_ticks=700))
    assert select_bars(late, 8, 8).pitch_midi.tolist() == [74, 75]


def test_a_section_of_all_bars_is_the_whole_song() -> None:
    made = eight_bars()
    whole = select_bars(made, 1, 8)
    for name in ("onset_ticks", "duration_ticks", "pitch_midi", "velocity", "part"):
        assert np.array_equal(getattr(whole, name), getattr(made, name))


@pytest.mark.parametrize(("first", "last"), [(0, 3), (5, 9), (4, 3), (9, 9), (-1, 1)])
def test_bars_that_are_not_there_are_told_with_the_bound(first: int, last: int) -> None:
    with pytest.raises(UsageError, match=f"bars {first} to {last} cannot be chosen: the song plays 8 bars, 1 to 8"):
        select_bars(eight_bars(), first, last)


@given(strategies.scores(), st.data())
def test_sections_one_after_another_hold_every_note_once(song: Score, data: st.DataObject) -> None:
    bars: BarMap = song.bar_map
    cut = data.draw(st.integers(1, len(bars.ticks)))
    parts = [select_bars(song, 1, cut)]
    if cut < len(bars.ticks):
        parts.append(select_bars(song, cut + 1, len(bars.ticks)))
    starts = [0, int(bars.ticks[cut]) if cut < len(bars.ticks) else 0]
    onsets = [part.onset_ticks + start for part, start in zip(parts, starts, strict=False)]
    assert np.concatenate(onsets).tolist() == song.onset_ticks.tolist()
    assert sum(part.length_ticks for part in parts) == song.length_ticks
