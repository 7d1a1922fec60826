from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from pegwright.columns import frozen_ints
from pegwright.draw.bars import END_LABEL, BarMark, bar_marks
from pegwright.score import BarMap, Score
from placed import placed
from samples import score, wheel

WHEEL = wheel(plate_count=2, steps_per_plate=32)  # 64 sixteenths: four bars of 4/4


def song(bars: list[tuple[int, str, int, int]], end: int) -> Score:
    """A song at 24 ticks a quarter with (tick, label, beats, beat type) bars."""
    ticks, labels, beats, beat_types = zip(*bars, strict=True)
    bar_map = BarMap(frozen_ints(ticks), labels, frozen_ints(beats), frozen_ints(beat_types), end)
    return replace(score([(0, 60)]), bar_map=bar_map)


def marks(made: Score, start_steps: Fraction = Fraction(0)) -> tuple[BarMark, ...]:
    placement = replace(placed([], WHEEL, made).placement, resolution=144, start_ticks=int(start_steps * 36))
    return bar_marks(made, WHEEL, placement)


def test_bars_and_beats_fall_where_the_song_has_them_and_its_end_is_told() -> None:
    assert marks(song([(0, "1", 4, 4), (96, "2", 3, 4)], 168)) == (
        BarMark(Fraction(0), "1", (Fraction(4), Fraction(8), Fraction(12))),
        BarMark(Fraction(16), "2", (Fraction(20), Fraction(24))),
        BarMark(Fraction(28), END_LABEL),
    )


def test_a_song_runs_on_from_the_last_plate_to_the_first() -> None:
    assert marks(song([(0, "1", 4, 4), (96, "2", 4, 4)], 192), Fraction(53)) == (
        BarMark(Fraction(53), "1", (Fraction(57), Fraction(61), Fraction(1))),
        BarMark(Fraction(5), "2", (Fraction(9), Fraction(13), Fraction(17))),
        BarMark(Fraction(21), END_LABEL),
    )


def test_a_pickup_has_the_beats_that_it_lasts() -> None:
    pickup, first, *_ = marks(song([(0, "0", 4, 4), (24, "1", 4, 4)], 120))
    assert pickup == BarMark(Fraction(0), "0")
    assert first.position_steps == 4


def test_six_eight_has_six_beats_as_the_score_counts_them() -> None:
    (bar, _) = marks(song([(0, "1", 6, 8)], 72))
    assert bar.beats == tuple(Fraction(2 * beat) for beat in range(1, 6))


def test_what_lies_a_turn_after_the_beginning_has_no_mark() -> None:
    bars = [(96 * number, str(number + 1), 4, 4) for number in range(6)]
    made = marks(song(bars, 576), Fraction(3))
    assert [mark.label for mark in made] == ["1", "2", "3", "4"]
    cut = marks(song([(0, "1", 5, 4), *[(120 + 96 * n, str(n + 2), 4, 4) for n in range(4)]], 504))
    assert [mark.label for mark in cut] == ["1", "2", "3", "4"]
    assert cut[-1].beats == (Fraction(56), Fraction(60))


def test_a_song_that_fills_the_turn_has_no_end_mark() -> None:
    bars = [(96 * number, str(number + 1), 4, 4) for number in range(4)]
    assert [mark.label for mark in marks(song(bars, 384))] == ["1", "2", "3", "4"]


def test_places_off_the_steps_are_exact() -> None:
    made = marks(song([(0, "1", 1, 4), (8, "2", 1, 4)], 16), Fraction(1, 3))
    assert [mark.position_steps for mark in made] == [Fraction(1, 3), Fraction(5, 3), Fraction(3)]


@given(st.integers(0, 2303), st.integers(1, 7), st.sampled_from([2, 4, 8, 16]))
def test_marks_lie_on_the_turn_in_the_order_of_the_song(start: int, beats: int, beat_type: int) -> None:
    length = 96 * beats // beat_type or 1
    bars = [(length * number, str(number + 1), beats, beat_type) for number in range(9)]
    made = marks(song(bars, 9 * length), Fraction(start, 36))
    places = [place for mark in made for place in (mark.position_steps, *mark.beats)]
    assert all(0 <= place < WHEEL.turn_steps for place in places)
    after = [(place - Fraction(start, 36)) % WHEEL.turn_steps for place in places]
    assert after == sorted(after)
