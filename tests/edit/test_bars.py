"""A section of a song by its played bars."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import strategies
from musicxml_text import FOUR_FOUR, QUARTER, attributes, bar, note
from musicxml_text import score as document
from pegwright.ask.request import Request
from pegwright.columns import frozen_ints
from pegwright.edit.bars import select_bars
from pegwright.errors import UsageError
from pegwright.score import BarMap, Score, TempoMap
from pegwright.song_pipeline.editing import edit_song
from samples import score, wheel


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


def test_findings_of_bars_that_are_not_taken_are_not_given(tmp_path: Path) -> None:
    """Bars 2, 3 and 5 are short, bar 4 has a trill, and the file states no tempo."""
    trill = "<notations><ornaments><trill-mark/></ornaments></notations>"
    lengths = (4, 3, 2, 4, 1, 4)
    bars = [
        bar(attributes(QUARTER + FOUR_FOUR) * (number == 1), note("C4", length, trill * (number == 4)), number=number)
        for number, length in enumerate(lengths, start=1)
    ]
    song = tmp_path / "air.musicxml"
    song.write_bytes(document(bars))

    def messages(bars: tuple[int, int] | None) -> dict[str, tuple[str, str]]:
        edited = edit_song(song, wheel(), Request(bars=bars))
        return {finding.code: (finding.where, finding.message) for finding in edited.findings}

    short = "shorter than the metre, as long as written"
    assert messages(None)["short-bars"] == ("air.musicxml:bar 2", f"3 bars {short} (bars 2, 3, 5)")
    assert messages((3, 6))["short-bars"] == ("air.musicxml:bar 3", f"2 bars {short} (bars 3, 5)")
    assert messages((1, 2))["short-bars"] == ("air.musicxml:bar 2", f"1 bar {short} (bar 2)")
    assert "short-bars" not in messages((6, 6))
    assert "ornaments" in messages((4, 4))
    assert "ornaments" not in messages((5, 6))
    assert "tempo-assumed" in messages((6, 6))  # of the whole file


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
