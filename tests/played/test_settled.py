"""The beat settled by the whole song: parts of ways put together, and songs that the search alone loses."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from commands import SONGS
from pegwright.columns import Ints
from pegwright.played.bar_fronts import Start
from pegwright.played.bar_laws import MOVING
from pegwright.played.bar_places import metre_of
from pegwright.played.bar_search import given_to_search
from pegwright.played.beats import seconds_of
from pegwright.played.free_beat import Tempo, free_beat, song_bar
from pegwright.played.model import PLACES
from pegwright.played.one_way import follow_way
from pegwright.played.settled import at_tempo, joined, settled
from pegwright.played.struck import struck_by
from pegwright.read import read_score
from played.test_backwards import STUMBLED
from played.test_free_beat import notes_at, right_but_for_a_shift, slowed, stumbling


def tune(bars: int = 16) -> tuple[np.ndarray, Ints, np.ndarray]:
    """Bars of 4/4 with one melody and a bass on each bar line: times at 120, holes and pitches."""
    places = np.array([0, 12, 24, 36, 48, 72])
    unit = (96 * np.arange(bars)[:, None] + places).ravel()
    return unit / 48, unit, np.tile([40, 64, 67, 65, 62, 60], bars)


def test_of_two_ways_that_are_wrong_in_different_bars_the_right_one_is_put_together() -> None:
    time_s, unit, pitch = tune()
    struck = struck_by(notes_at(time_s, pitch))
    given_here = given_to_search(song_bar(PLACES, metre_of("4/4")), struck, MOVING)
    start, number = Start(0.0, 0, 0.5, MOVING.start_spread), np.arange(len(unit))
    early = unit + np.where((number > 12) & (number < 17), 3, 0)
    late = unit + np.where((number > 60) & (number < 65), 3, 0)
    ways = [follow_way(given_here, start, each) for each in (early, late)]
    best = joined(given_here, ways)
    assert best.unit.tolist() == unit.tolist()
    assert best.score > max(way.score for way in ways)


def test_a_way_by_itself_stays_what_it_is() -> None:
    time_s, unit, pitch = tune()
    given_here = given_to_search(song_bar(PLACES, metre_of("4/4")), struck_by(notes_at(time_s, pitch)), MOVING)
    way = follow_way(given_here, Start(0.0, 0, 0.5, MOVING.start_spread), unit)
    assert joined(given_here, [way]) is way


@pytest.mark.parametrize("trusted", [True, False])
def test_a_steady_tune_is_sure_and_where_it_was(*, trusted: bool) -> None:
    time_s, unit, pitch = tune()
    struck = struck_by(notes_at(time_s, pitch))
    beat = free_beat(PLACES, struck, Tempo(0.5, 0.0, trusted=trusted), metre_of("4/4"), MOVING)
    found = settled(PLACES, struck, beat)
    whole, sure = found.beat, found.doubts.sure()
    assert (whole.hole_quarters * 24).tolist() == unit.tolist()
    assert whole.hole_quarters.tolist() == beat.hole_quarters.tolist()
    assert sure[:-1].min() > 0.9, "nothing after the last note tells where it lies"
    assert not found.doubts.parted()


def test_the_whole_song_settles_what_the_search_loses() -> None:
    """Over songs whose phrases slow down and songs with stops at random; one by one either may be nearer."""
    before: list[float] = []
    after: list[float] = []
    for name in STUMBLED:
        song, _ = read_score(SONGS / name)
        performances = [slowed(song, 0.4, seed) for seed in range(2)] + [stumbling(song, seed) for seed in range(6)]
        for performance, true in performances:
            struck = struck_by(notes_at(seconds_of(performance, performance.onset_ticks), performance.pitch_midi))
            beat = free_beat(PLACES, struck, Tempo(0.5, 0.0, trusted=True), None, MOVING)
            whole = settled(PLACES, struck, beat).beat
            for each, right in ((beat, before), (whole, after)):
                holes = np.round(24 * each.hole_quarters[struck.which]).astype(np.int64)
                right.append(float(right_but_for_a_shift(holes, true).mean()))
    assert np.mean(after) > np.mean(before) + 0.01


@pytest.mark.parametrize("trusted", [True, False])
@pytest.mark.parametrize("seed", range(3))
def test_a_song_begins_where_it_is_said_to_whatever_ways_are_drawn(seed: int, *, trusted: bool) -> None:
    song, _ = read_score(SONGS / "salt-water-shuffle.musicxml")
    performance, _ = stumbling(song, seed)
    struck = struck_by(notes_at(seconds_of(performance, performance.onset_ticks), performance.pitch_midi))
    for first in (0, 1, 3):
        metre = metre_of("4/4", Fraction(first))
        beat = free_beat(PLACES, struck, Tempo(0.5, 0.0, trusted=trusted), metre, MOVING)
        assert settled(PLACES, struck, beat).beat.unit[0] == 24 * first


def test_a_way_that_counts_at_another_tempo_is_taken_in_the_same_note_values() -> None:
    unit = np.array([0, 12, 24, 48, 48, 60, 96])
    slip = unit >= 48
    alike = [2 * unit + 7, unit + 96, unit // 2, 3 * unit // 2, 2 * unit // 3 + 5]
    ways = np.stack([*alike, unit + 24 * slip, 2 * unit + 48 * slip], axis=1)
    same = np.diff(at_tempo(ways, unit, 96) - unit[:, None], axis=0)
    assert not same[:, :-2].any()
    assert same[:, -2:].tolist() == [[0, 0], [0, 0], [24, 24], [0, 0], [0, 0], [0, 0]]
    assert at_tempo(np.zeros((3, 2), dtype=np.int64), np.zeros(3, dtype=np.int64), 96).tolist() == [[0, 0]] * 3
