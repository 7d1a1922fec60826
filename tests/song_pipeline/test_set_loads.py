"""The sets of plates that a longer song takes, and their loads."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from pegwright.ask.options import FitOptions
from pegwright.ask.request import PLAIN, Request
from pegwright.columns import frozen_ints
from pegwright.placement import pin_map_sha256
from pegwright.score import Score, TempoMap
from pegwright.song import EditedSong, FittedSong
from pegwright.song_pipeline.fitting import fit_edited, set_loads
from samples import score, wheel

TURN = 48 * 24  # ticks


def fitted(turns: list[list[int]], start_steps: int = 0) -> FittedSong:
    """A song whose turns have these pitches, a beat apart from the turn's beginning."""
    notes = [
        (TURN * turn + 24 * beat, pitch) for turn, pitches in enumerate(turns) for beat, pitch in enumerate(pitches)
    ]
    return fit(score(notes), Request(options=FitOptions(start_steps=Fraction(start_steps))))


def fit(song: Score, request: Request = PLAIN) -> FittedSong:
    return fit_edited(EditedSong(Path("test.mid"), song.note_count, song, request, (), {}), wheel())


def test_equal_turns_share_a_set_and_each_is_told_with_its_turns() -> None:
    sets = set_loads(fitted([[60, 62, 64], [65, 65], [60, 62, 64], [60, 62, 64]]), 125.0)
    assert [(of_set.letter, of_set.turns) for of_set in sets] == [("A", (0, 2, 3)), ("B", (1,))]
    assert [of_set.loads[0].strike_count for of_set in sets] == [3, 2]


def test_bars_and_beats_are_those_of_the_whole_song() -> None:
    (_, second) = set_loads(fitted([[60], [60, 62]], start_steps=5), 501.0)
    (place,) = second.loads[0].worst
    assert (place.strikes, place.plate, place.step) == (2, 0, Fraction(5))
    assert str(place.source) == "test.mid:Melody:bar 13 beat 1"


def test_the_wheel_turns_at_one_speed_whatever_a_turn_says_of_its_own() -> None:
    song = score([(TURN * turn, 60) for turn in range(4)])
    song = replace(song, tempo_map=TempoMap(frozen_ints([0, TURN]), frozen_ints([500_000, 250_000])))
    made = fit(song)
    assert made.turns[0].placement.us_per_quarter == 250_000
    (both,) = set_loads(made)
    assert both.turns == (0, 1, 2, 3)
    assert both.pins.us_per_quarter == 250_000


def test_a_song_of_one_turn_has_one_set_without_a_letter() -> None:
    made = fitted([[60, 62]])
    (only,) = set_loads(made)
    assert (only.letter, only.words, only.turns) == ("", "", (0,))
    assert pin_map_sha256(only.pins) == pin_map_sha256(made.turns[0].pins)
    assert only.loads[0].window_ms == 125.0
