"""A song is cut into as few turns of whole bars as there can be, and no note is lost or duplicated."""

from __future__ import annotations

from dataclasses import replace
from itertools import accumulate

from hypothesis import given
from hypothesis import strategies as st

from commands import SONGS
from pegwright.edit.turns import cut_turns
from pegwright.read import read_score
from samples import score, wheel
from short_bars import with_bars

WHEEL = wheel()  # 48 quarters a turn


def fewest_turns(lengths_ticks: list[int], turn_ticks: int) -> int:
    """By trying every way to part the bars: the least number of turns, each holding its bars or being one long bar."""
    best = [0]
    for end in range(1, len(lengths_ticks) + 1):
        ways = [
            best[begin] + 1 for begin in range(end) if sum(lengths_ticks[begin:end]) <= turn_ticks or end - begin == 1
        ]
        best.append(min(ways))
    return best[-1]


@given(
    st.lists(st.integers(1, 60), min_size=1, max_size=12),
    st.lists(st.tuples(st.integers(0, 300), st.integers(60, 72)), max_size=20),
)
def test_turns_are_the_fewest_and_hold_every_note_once(bars: list[int], notes: list[tuple[int, int]]) -> None:
    total = sum(bars)
    song = with_bars(score([(onset % total, pitch) for onset, pitch in notes], resolution=1), bars)
    turns = cut_turns(song, WHEEL, whole_bars=True)
    sounding = song.bar_map.bar_of(int(song.onset_ticks[-1])) + 1 if notes else len(bars)
    assert len(turns) == fewest_turns(bars[:sounding], 48)
    begins = [0, *accumulate(turn.length_ticks for turn in turns)]
    told = [
        (int(onset) + begin, int(pitch))
        for turn, begin in zip(turns, begins[:-1], strict=True)
        for onset, pitch in zip(turn.onset_ticks, turn.pitch_midi, strict=True)
    ]
    assert told == list(zip(song.onset_ticks.tolist(), song.pitch_midi.tolist(), strict=True))
    labels = [label for turn in turns for label in turn.bar_map.labels]
    assert len(labels) >= sounding
    assert labels == list(song.bar_map.labels[: len(labels)])


def test_a_bar_longer_than_a_turn_has_one_to_itself() -> None:
    song = with_bars(score([(0, 60), (99, 62), (105, 62)], resolution=1), [10, 90, 10])
    assert [turn.length_ticks for turn in cut_turns(song, WHEEL, whole_bars=True)] == [10, 90, 10]


def test_a_turn_that_is_filled_exactly_is_one() -> None:
    song = with_bars(score([(0, 60), (47, 60)], resolution=1), [24, 24])
    assert len(cut_turns(song, WHEEL, whole_bars=True)) == 1
    assert len(cut_turns(song, replace(WHEEL, steps_per_plate=31), whole_bars=True)) == 2


def test_the_song_twice_round_takes_two_turns_of_twelve_bars() -> None:
    song, _ = read_score(SONGS / "round-the-pier-and-back.mxl")
    turns = cut_turns(song, WHEEL, whole_bars=True)
    assert [len(turn.bar_map.ticks) for turn in turns] == [12, 12]
    assert [turn.note_count for turn in turns] == [163, 219]
