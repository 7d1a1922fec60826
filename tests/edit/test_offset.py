"""A constant lateness is found where there is one, and only there, and taken out whole."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.columns import Floats, frozen_ints
from pegwright.edit.offset import constant_offset, shift, song_end
from pegwright.errors import UsageError
from pegwright.read import read_score
from pegwright.score import BarMap, Score
from places import SCORES
from samples import score

SIXTEENTHS = [Fraction(step, 4) for step in (0, 1, 2, 4, 6, 7, 8, 12, 13, 14, 15, 16)]
TRIPLETS = [Fraction(step, 3) for step in range(12)]
THIRTYSECONDS = [Fraction(step, 8) for step in range(24)]
MIXED = [*SIXTEENTHS, *TRIPLETS, *THIRTYSECONDS]
SONGS = (SIXTEENTHS, TRIPLETS, THIRTYSECONDS, MIXED)


def song(places: list[Fraction], resolution: int, late: int = 0) -> Score:
    """Notes at places in quarters, cut to whole ticks as sequencers do, then late."""
    ticks = [int(place * resolution) + late for place in places]
    return score([(tick, 60) for tick in ticks], resolution, tolerance_ticks=1 if resolution >= 64 else 0)


@pytest.mark.parametrize("places", SONGS, ids=["16ths", "triplets", "32nds", "all"])
@pytest.mark.parametrize(("resolution", "late"), [(192, 3), (480, 7), (480, 9), (1024, 16), (1024, 20), (32767, 600)])
def test_a_constant_offset_is_found_to_the_tick(places: list[Fraction], resolution: int, late: int) -> None:
    assert constant_offset(song(places, resolution)) == 0
    found = constant_offset(song(places, resolution, late))
    # thirds of a tick cut off can outweigh whole ones; the middle of them is then a tick early
    assert found == late or (found == late - 1 and resolution % 3)
    early = constant_offset(song([place + 4 for place in places], resolution, -late))
    assert early == -late or (early == -late - 1 and resolution % 3)


@pytest.mark.parametrize("resolution", [4, 24, 48, 89, 96, 100, 256, 960])
def test_an_exact_song_has_no_offset(resolution: int) -> None:
    for places in SONGS:
        assert constant_offset(song(places, resolution)) == 0


def test_an_empty_song_has_no_offset() -> None:
    assert constant_offset(score([])) == 0
    assert shift(score([]), 5).note_count == 0


def test_fewer_than_five_notes_tell_nothing() -> None:
    assert constant_offset(song(SIXTEENTHS[:4], 480, 7)) == 0
    assert constant_offset(song(SIXTEENTHS[:5], 480, 7)) == 7


def test_onsets_anywhere_have_no_constant_offset() -> None:
    chance = random.Random(7)  # noqa: S311  # a seeded song, not a secret
    for _ in range(50):
        ticks = [chance.randrange(480 * 64) for _ in range(200)]
        assert constant_offset(score([(tick, 60) for tick in ticks], 480, tolerance_ticks=1)) == 0


def test_a_few_strummed_chords_are_no_offset() -> None:
    """Four in five on the beat and the rest spread after it: taking their mean out would spoil the four."""
    places = [(step * 48, 60) for step in range(80)] + [
        (step * 192 + spread, 64) for step in range(4) for spread in (5, 10, 15, 20)
    ]
    assert constant_offset(score(places, 192, tolerance_ticks=1)) == 0


def test_notes_far_more_unsteady_than_late_have_no_constant_offset() -> None:
    """2 ticks late on the mean, and each from 4 early to 8 late."""
    unsteady = [(480 * beat + late, 60) for beat in range(1, 40) for late in (-4, -1, 2, 5, 8)]
    assert constant_offset(score(unsteady, 480, tolerance_ticks=1)) == 0


def test_some_late_notes_among_many_anywhere_are_no_offset() -> None:
    chance = random.Random(11)  # noqa: S311  # a seeded song, not a secret
    anywhere = [(chance.randrange(480 * 64), 60) for _ in range(400)]
    late = [(step * 240 + 18, 62) for step in range(80)]
    assert constant_offset(score([*anywhere, *late], 480, tolerance_ticks=1)) == 0


def test_ornaments_do_not_change_the_offset_that_most_notes_share() -> None:
    ornaments = [(step * 480 + 21, 62) for step in range(20)]
    late = [(step * 240 + 12, 60) for step in range(80)]
    assert constant_offset(score([*late, *ornaments], 480, tolerance_ticks=1)) == 12


def from_beats(song: Score) -> Floats:
    """Signed distance of every onset from the nearest 24th of a quarter, in ticks; another way than the code's."""
    place = song.resolution / 24
    return np.asarray(song.onset_ticks - place * np.round(song.onset_ticks / place), dtype=np.float64)


def test_a_real_song_late_throughout() -> None:
    """All 53 onsets stand 4 to 32 ticks of 1,024 after their sixteenths, 16.08 on the mean."""
    late, _ = read_score(SCORES / "29_m21t_test17.mid")
    assert constant_offset(late) == 16
    mended = shift(late, 16)
    assert constant_offset(mended) == 0
    assert abs(from_beats(mended)).max() <= 16


def test_a_real_song_late_and_unsteady() -> None:
    """Guitar, bass and drums stand -4 to 35 ticks of 1,024 from their 32nds; nine in ten are late."""
    late, findings = read_score(SCORES / "40_freedoom_D_E2M9.mid")
    offset = constant_offset(late)
    assert 16 <= offset <= 24
    assert any(finding.code == "constant-offset" and "auto" in finding.hint for finding in findings)
    assert np.mean(from_beats(shift(late, offset)) ** 2) < np.mean(from_beats(late) ** 2) / 2
    assert len(shift(late, offset).bar_map.ticks) == len(late.bar_map.ticks) == 56


def test_real_songs_on_their_beats_have_no_offset() -> None:
    """Number 43 among them: 82.1 % of its onsets stand exactly on the beat and its guitar chords are strummed."""
    for path in SCORES.glob("*.mid"):
        if path.name[:2] not in {"29", "40"}:
            assert constant_offset(read_score(path)[0]) == 0, path.name


def test_taking_an_offset_out_moves_every_onset_and_nothing_else() -> None:
    late = song(SIXTEENTHS, 480, 7)
    moved = shift(late, 7)
    assert moved.onset_ticks.tolist() == song(SIXTEENTHS, 480).onset_ticks.tolist()
    assert moved.duration_ticks.tolist() == late.duration_ticks.tolist()
    assert (moved.tempo_map, moved.parts, moved.sha256) == (late.tempo_map, late.parts, late.sha256)
    assert shift(moved, -7).onset_ticks.tolist() == late.onset_ticks.tolist()


def test_a_note_on_its_place_in_a_late_song_begins_at_0() -> None:
    moved = shift(score([(0, 60, 80, 1), (7, 62, 80, 0), (487, 60, 80, 0)], 480), 7)
    assert moved.onset_ticks.tolist() == [0, 0, 480]
    assert moved.part.tolist() == [0, 1, 0], "and the order is by part again"
    assert moved.pitch_midi.tolist() == [62, 60, 60]


def test_more_than_the_first_note_allows_is_refused() -> None:
    with pytest.raises(UsageError, match=r"an offset of 501 ticks .* at most 500 can be taken out"):
        shift(score([(480, 60)], 480), 501)
    assert shift(score([(480, 60)], 480), 500).onset_ticks.tolist() == [0]


def with_bars(song: Score, count: int) -> Score:
    """The song with that many bars of 4/4."""
    fours = frozen_ints([4] * count)
    labels = tuple(str(number + 1) for number in range(count))
    bars = BarMap(frozen_ints(np.arange(count) * 1920), labels, fours, fours, count * 1920)
    return replace(song, bar_map=bars)


def test_a_bar_that_held_only_lateness_goes() -> None:
    late = score([(480 * beat + 100, 60) for beat in range(16)], 480)
    held = with_bars(replace(late, duration_ticks=frozen_ints([480] * 16)), 5)
    assert song_end(held.onset_ticks, held.onset_ticks + 480, 480) > 4 * 1920
    assert shift(held, 100).bar_map.labels == ("1", "2", "3", "4")
    assert shift(held, 100).bar_map.end_ticks == 4 * 1920


def test_bars_that_were_empty_stay() -> None:
    assert len(shift(with_bars(score([(100, 60)], 480), 3), 100).bar_map.ticks) == 3


def test_a_bar_that_notes_move_into_is_added() -> None:
    early = score([(480 * beat - 10, 60) for beat in range(1, 17)], 480)
    assert len(early.bar_map.ticks) == 4
    assert shift(early, -10).bar_map.labels == ("1", "2", "3", "4", "5")
    assert shift(early, -10).bar_map.end_ticks == 5 * 1920


@given(
    st.lists(st.tuples(st.integers(0, 5000), st.integers(0, 127)), min_size=1, max_size=30),
    st.integers(-20, 20),
)
def test_a_shifted_song_keeps_its_notes_and_has_bars_for_them(notes: list[tuple[int, int]], ticks: int) -> None:
    before = score(notes, 480)
    after = shift(before, ticks)
    assert after.note_count == before.note_count
    assert sorted(after.pitch_midi.tolist()) == sorted(before.pitch_midi.tolist())
    assert after.onset_ticks.tolist() == sorted(after.onset_ticks.tolist())
    bars = after.bar_map
    assert len(bars.ticks) == len(bars.labels) == len(bars.beats) == len(bars.beat_types)
    assert after.onset_ticks[-1] < bars.end_ticks
    assert bars.end_ticks - 1920 < song_end(after.onset_ticks, after.onset_ticks + after.duration_ticks, 480)
    assert np.all(np.diff(np.append(bars.ticks, bars.end_ticks)) == 1920)
