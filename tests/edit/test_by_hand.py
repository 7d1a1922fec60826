"""Whether a song was written or played by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import SONGS, WHEEL
from pegwright.ask.request import Played, Request
from pegwright.columns import frozen_ints
from pegwright.config import load_wheel
from pegwright.edit.by_hand import PLAYED_CODE, judged, judgement_words
from pegwright.edit.offset import constant_offset
from pegwright.read import read_score
from pegwright.score import Score
from pegwright.song_pipeline.editing import edit_score
from places import BUNDLED_SCORES as DATA
from samples import score

# Music of a game that was played in, one of them at a tempo that its ticks do not have; and a test file that a
# sequencer recorded: their onsets, counted by hand, drift against the quarters of the file.
NOT_TO_THE_BEAT = {"29_m21t_test17.mid", "39_freedoom_D_INTRO.mid", "40_freedoom_D_E2M9.mid"}
SCORES = sorted(path for path in DATA.iterdir() if path.suffix in {".mid", ".xml", ".mxl", ".musicxml"})
WRITTEN = [path for path in (*SCORES, *sorted(SONGS.glob("*.m[ixu]*"))) if path.name not in NOT_TO_THE_BEAT]
PLAYED_SPREAD_MS = 15.0  # of a hand's onsets about the beat: common practice, no source


def is_by_hand(song: Score) -> bool:
    return judged(song, constant_offset(song)).by_hand


def jittered(song: Score, spread_ms: float, seed: int) -> Score:
    """The song in ticks as fine as a recorder's, its notes at random a little early or late, one by one."""
    fine = song.in_finer_ticks(-(-480 // song.resolution))
    ticks = spread_ms * 1000 * fine.resolution / fine.tempo_map.us_per_quarter[0]
    away = np.random.default_rng(seed).normal(0, ticks, fine.note_count).round().astype(np.int64)
    return replace(fine, onset_ticks=frozen_ints(np.maximum(fine.onset_ticks + away, 0))).in_order()


@pytest.mark.parametrize("path", WRITTEN, ids=lambda path: path.name)
def test_a_written_song_is_never_said_to_be_played_by_hand_and_a_jittered_one_always(path: Path) -> None:
    song, _ = read_score(path)
    assert not is_by_hand(song)
    played = jittered(song, PLAYED_SPREAD_MS, 0)
    assert is_by_hand(played) or judged(played).unclear, "of a few notes nothing is said"


@pytest.mark.parametrize("name", sorted(NOT_TO_THE_BEAT))
def test_a_song_that_is_not_to_the_beat_of_its_file_is_said_to_be(name: str) -> None:
    assert is_by_hand(read_score(DATA / name)[0])


@given(st.integers(1, 100))
def test_a_constant_delay_is_no_playing(late: int) -> None:
    notes = [(480 * quarter + half + late, 60) for quarter in range(16) for half in (0, 240)]
    song = replace(score(notes, resolution=480), tolerance_ticks=1)
    assert not is_by_hand(song) or abs(constant_offset(song)) != late


def test_odd_tuplets_and_64ths_are_written() -> None:
    for parts in (5, 6, 7, 9, 10, 16):
        notes = [(round(960 * quarter + 960 * part / parts), 60) for quarter in range(8) for part in range(parts)]
        assert judged(replace(score(notes, resolution=960), tolerance_ticks=1)).by_hand is False, parts


def test_what_was_counted_is_in_words() -> None:
    few = judged(score([(0, 60), (7, 62), (13, 62)], resolution=480))
    assert (few.unclear, few.by_hand) == (True, False)
    assert judgement_words(few) == "1 of 3 onsets lies on a simple grid (chance alone puts 13 % there)"
    assert judgement_words(judged(score([(0, 60), (6, 60)]))) == "all 2 onsets lie on a simple grid"


def test_the_fit_reports_it_with_what_to_try_and_not_once_it_was_tried() -> None:
    wheel = load_wheel(WHEEL)
    played = jittered(read_score(SONGS / "turnstile-tango.mid")[0], PLAYED_SPREAD_MS, 1)
    (finding,) = (each for each in edit_score(played, wheel, Request()).findings if each.code == PLAYED_CODE)
    assert finding.message.endswith("the song was played by hand, or not to the file's own beat")
    assert finding.hint == "--performed puts every note on the hole that was meant"
    asked = edit_score(played, wheel, Request(played=Played())).findings
    assert not [each for each in asked if each.code == PLAYED_CODE]
