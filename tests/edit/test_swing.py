"""Swing of written eighths."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.columns import frozen_ints
from pegwright.edit.bars import select_bars
from pegwright.edit.swing import straighten, swing_as_marked, swing_score
from pegwright.errors import UsageError
from pegwright.score import BarMap, Part, Score
from samples import score


def quarters(made: Score) -> list[Fraction]:
    return [Fraction(int(tick), made.resolution) for tick in made.onset_ticks]


def test_eighths_at_two_to_one_land_on_the_triplet() -> None:
    # MusicXML 4.0, `swing`: first to second 2:1.
    swung = swing_score(score([(0, 60), (12, 62), (24, 64), (36, 65)]), Fraction(2))
    assert quarters(swung) == [0, Fraction(2, 3), 1, Fraction(5, 3)]


def test_sixteenths_scale_with_their_half() -> None:
    swung = swing_score(score([(0, 60), (6, 62), (12, 64), (18, 65)]), Fraction(2))
    assert quarters(swung) == [0, Fraction(1, 3), Fraction(2, 3), Fraction(5, 6)]


def test_triplets_are_left_alone() -> None:
    swung = swing_score(score([(0, 60), (8, 62), (16, 64)]), Fraction(2))
    assert quarters(swung) == [0, Fraction(1, 3), Fraction(2, 3)]


def test_three_to_two_and_a_short_first_eighth() -> None:
    notes = score([(0, 60), (12, 62)])
    assert quarters(swing_score(notes, Fraction(3, 2)))[1] == Fraction(3, 5)
    assert quarters(swing_score(notes, Fraction(1, 2)))[1] == Fraction(1, 3)


def test_one_to_one_changes_nothing() -> None:
    notes = score([(0, 60), (12, 62)])
    assert swing_score(notes, Fraction(1)) is notes


def test_ends_move_with_the_onsets_that_follow() -> None:
    notes = replace(score([(0, 60), (12, 62)]), duration_ticks=frozen_ints([12, 12]))
    swung = swing_score(notes, Fraction(2))
    assert [Fraction(int(tick), swung.resolution) for tick in swung.duration_ticks] == [Fraction(2, 3), Fraction(1, 3)]


def test_rounding_of_the_file_counts_as_the_eighth() -> None:
    # 5 ticks a quarter cannot hold an eighth: 2 or 3 stands for it, and so does 2 ticks off by one of 5.
    notes = replace(score([(0, 60), (2, 62)], resolution=5, tolerance_ticks=1))
    swung = swing_score(notes, Fraction(2))
    assert float(quarters(swung)[1]) == pytest.approx(2 * 2 / 5 * 2 / 3, abs=1e-9)


def test_a_pickup_keeps_step_with_the_bar_after_it() -> None:
    notes = score([(0, 60), (12, 62), (24, 64), (36, 65)])
    bars = BarMap(frozen_ints([0, 12]), ("0", "1"), frozen_ints([4, 4]), frozen_ints([4, 4]), 108)
    swung = swing_score(replace(notes, bar_map=bars), Fraction(2))
    # The first note is the second eighth of a pair; its pair begins half a quarter before the piece.
    assert quarters(swung) == [Fraction(1, 6), Fraction(1, 2), Fraction(7, 6), Fraction(3, 2)]


def test_compound_bars_have_no_pairs() -> None:
    notes = score([(0, 60), (12, 62), (24, 64)])
    bars = BarMap(frozen_ints([0]), ("1",), frozen_ints([6]), frozen_ints([8]), 72)
    assert quarters(swing_score(replace(notes, bar_map=bars), Fraction(2))) == [0, Fraction(1, 2), 1]


def test_every_bar_swings_as_it_is_marked() -> None:
    notes = score([(bar * 96 + at, 60) for bar in range(3) for at in (0, 12, 24)])
    ratios = (Fraction(1), Fraction(2), Fraction(3, 2))
    bars = BarMap(
        frozen_ints([0, 96, 192]), ("1", "2", "3"), frozen_ints([4] * 3), frozen_ints([4] * 3), 288, swing=ratios
    )
    marked = replace(notes, bar_map=bars)
    seconds = [Fraction(1, 2), 4 + Fraction(2, 3), 8 + Fraction(3, 5)]
    assert quarters(swing_as_marked(marked))[1::3] == seconds
    assert swing_as_marked(marked).bar_map.swing == ()
    assert quarters(swing_as_marked(select_bars(marked, 2, 3)))[1::3] == [second - 4 for second in seconds[1:]]
    assert swing_as_marked(notes) is notes


@pytest.mark.parametrize("ratio", [Fraction(0), Fraction(-2), Fraction(101, 100)])
def test_ratios_that_cannot_be(ratio: Fraction) -> None:
    with pytest.raises(UsageError, match="swing ratio") as caught:
        swing_score(score([(0, 60)]), ratio)
    assert caught.value.hint
    assert "\n" not in str(caught.value)


@given(
    st.lists(st.tuples(st.integers(0, 400), st.integers(40, 80)), min_size=1, max_size=30, unique=True),
    st.fractions(min_value=Fraction(1, 4), max_value=4, max_denominator=12),
    st.sampled_from([24, 96, 25]),
)
def test_swing_keeps_every_note_and_the_order_of_binary_ones(
    notes: list[tuple[int, int]], ratio: Fraction, resolution: int
) -> None:
    before = score(notes, resolution=resolution)
    after = swing_score(before, ratio)
    assert after.note_count == before.note_count
    assert sorted(after.pitch_midi) == sorted(before.pitch_midi)
    assert (np.diff(after.onset_ticks) >= 0).all()
    assert (after.duration_ticks >= 0).all()
    assert after.length_ticks * before.resolution == before.length_ticks * after.resolution
    # Quarter lines stay where they are.
    on_line = before.onset_ticks[before.onset_ticks % resolution == 0]
    there = {Fraction(int(tick), after.resolution) for tick in after.onset_ticks}
    assert {Fraction(int(tick), resolution) for tick in on_line} <= there


TWO = (Part("Melody"), Part("Piano"))


def test_long_and_short_triplets_are_played_even_and_other_triplets_stay_and_are_counted() -> None:
    long_short, triplets, rest_short = [(0, 60), (16, 62)], [(24, 60), (32, 62), (40, 64)], [(64, 65)]
    straight, findings = straighten(score([*long_short, *triplets, *rest_short, (72, 60), (90, 62)]))
    third = Fraction(1, 3)
    assert quarters(straight) == [0, Fraction(1, 2), 1, 1 + third, 1 + 2 * third, Fraction(5, 2), 3, Fraction(15, 4)]
    assert [found.message for found in findings] == [
        "2 pairs of triplets written long and short played as even eighths",
        "1 quarter note with other triplets stays as written",
    ]
    assert [found.count for found in findings] == [2, 1]


def test_a_song_without_such_triplets_is_said_to_stay_as_it_is() -> None:
    notes = score([(0, 60), (12, 62)])
    straight, (found,) = straighten(notes)
    assert quarters(straight) == quarters(notes)
    assert (found.message, found.count) == (
        "--swing straight finds no triplets written long and short: it changes nothing",
        0,
    )
    marked = replace(notes, bar_map=replace(notes.bar_map, swing=(Fraction(2),) * len(notes.bar_map.ticks)))
    _, (found,) = straighten(marked)
    assert found.message.endswith(": only the score's marks of swing are not played")


def test_each_part_is_judged_by_itself() -> None:
    """True triplets of one part do not keep another from being played even."""
    notes = [(0, 60, 80, 0), (16, 62, 80, 0), (0, 40, 80, 1), (8, 41, 80, 1), (16, 42, 80, 1)]
    straight, findings = straighten(score(notes, parts=TWO))
    melody = straight.part == 0
    assert (straight.onset_ticks[melody].tolist(), straight.onset_ticks[~melody].tolist()) == ([0, 12], [0, 8, 16])
    assert [found.count for found in findings] == [1, 1]


def test_a_short_note_split_in_two_stays_and_nothing_moves_in_compound_time() -> None:
    split, findings = straighten(score([(0, 60), (16, 62), (20, 64)]))
    assert (split.onset_ticks.tolist(), [found.count for found in findings]) == ([0, 16, 20], [0, 1])
    notes = score([(0, 60), (16, 62)])
    compound = replace(notes, bar_map=replace(notes.bar_map, beats=frozen_ints([12]), beat_types=frozen_ints([8])))
    kept, (finding,) = straighten(compound)
    assert (kept.onset_ticks.tolist(), finding.count) == ([0, 16], 0)


def test_ends_of_long_notes_move_with_the_short_notes_and_no_length_is_below_0() -> None:
    notes = replace(score([(0, 60), (16, 62)]), duration_ticks=frozen_ints([16, 8]))
    straight, _ = straighten(notes)
    assert straight.duration_ticks.tolist() == [12, 12]
    held = replace(score([(0, 60), (40, 62)]), duration_ticks=frozen_ints([40, 8]))
    assert straighten(held)[0].duration_ticks.tolist() == [36, 12], "held over the beat to the short note"


@pytest.mark.parametrize(("resolution", "short"), [(96, 64), (100, 67), (100, 66), (25, 17), (480, 319)])
def test_the_files_own_rounding_counts_as_the_triplet(resolution: int, short: int) -> None:
    notes = replace(score([(0, 60), (short, 62)], resolution=resolution), tolerance_ticks=1)
    straight, (finding,) = straighten(notes)
    assert (quarters(straight), finding.count) == ([0, Fraction(1, 2)], 1)


def test_dotted_eighths_are_no_triplets_even_where_ticks_are_coarse() -> None:
    notes = replace(score([(0, 60), (9, 62)], resolution=12), tolerance_ticks=1)
    assert quarters(straighten(notes)[0]) == [0, Fraction(3, 4)]


@given(st.lists(st.tuples(st.integers(0, 7), st.sampled_from([0, 12])), unique=True, min_size=1))
def test_what_was_swung_two_to_one_is_straightened_to_what_was_written(eighths: list[tuple[int, int]]) -> None:
    notes = score([(24 * quarter + half, 60) for quarter, half in eighths])
    straight, (finding,) = straighten(swing_score(notes, Fraction(2)))
    assert quarters(straight) == quarters(notes)
    assert finding.count == sum(half == 12 for _, half in eighths)


def test_marks_of_swing_are_not_played_where_straight_is_asked() -> None:
    notes = score([(0, 60), (12, 62)])
    marked = replace(notes, bar_map=replace(notes.bar_map, swing=(Fraction(2),)))
    straight, _ = straighten(marked)
    assert (straight.onset_ticks.tolist(), straight.bar_map.swing) == ([0, 12], ())
