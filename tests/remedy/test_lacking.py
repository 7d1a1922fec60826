"""What pieces lack, against a brute force that knows nothing of placing: sets of pitches only."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.ask.options import FitOptions
from pegwright.fit.placing import place_song
from pegwright.placement import Outcome
from pegwright.remedy.additions import Addition, AdditionKind, row_additions, with_additions
from pegwright.remedy.lacking import lacked_by_note
from pegwright.remedy.wheel_changes import fewest_changes
from pegwright.score import Part, Score
from pegwright.tell.findings import fit_with_findings
from pegwright.verdict.judge import judge
from pegwright.verdict.tally import best_additions, tally
from pegwright.verdict.values import SurveyRow, Verdict
from pegwright.wheel import LostHole, PinType, StrikeLimit, Wheel
from samples import channel, score, wheel

DRUMS = Part("Drums", percussion=True)
PITCHES = st.integers(60, 71)
QUARTER = 24


def row(number: int, verdict: Verdict) -> SurveyRow:
    return SurveyRow(f"{number}.mid", verdict)


def plain_song(pitches: list[int]) -> Score:
    """One note on every quarter: nothing but its pitches can keep it out."""
    return score([(QUARTER * number, pitch) for number, pitch in enumerate(pitches)])


def best_semitones(pitches: list[int], channels: set[int], most: int) -> int:
    """By counting alone: the transposition that most notes have a channel at; then the least; then up."""
    return min(
        range(-most, most + 1),
        key=lambda semitones: (-count_in(pitches, channels, semitones), abs(semitones), -semitones),
    )


def count_in(pitches: list[int], channels: set[int], semitones: int) -> int:
    return sum(pitch + semitones in channels for pitch in pitches)


@settings(max_examples=60)
@given(
    st.lists(st.lists(PITCHES, min_size=1, max_size=6), min_size=1, max_size=6),
    st.sets(PITCHES, min_size=1, max_size=5),
    st.integers(0, 3),
)
def test_missing_things_are_counted_as_by_brute_force(songs: list[list[int]], channels: set[int], most: int) -> None:
    on = wheel([channel(f"bell {pitch}", [pitch]) for pitch in sorted(channels)], steps_per_plate=4)
    rows = [row(number, judge(plain_song(song), on, most)) for number, song in enumerate(songs)]
    lacked = []
    for song, told in zip(songs, rows, strict=True):
        semitones = best_semitones(song, channels, most)
        lacks = frozenset(pitch + semitones for pitch in song) - channels
        assert told.verdict is not None
        assert told.verdict.transpose_semitones == semitones
        assert {thing.key for thing in told.verdict.lacks} == lacks
        assert told.verdict.let_in == (0 < len(lacks) <= 5)
        if lacks:
            lacked.append(lacks)
    counted = tally(rows)
    every = {pitch for lacks in lacked for pitch in lacks}
    assert {it.addition.key: (it.lets_in, it.lacked_by) for it in counted.missing} == {
        pitch: (lacked.count(frozenset({pitch})), sum(pitch in lacks for lacks in lacked)) for pitch in every
    }
    for it in counted.together:
        most_let_in = max(
            sum(lacks <= set(chosen) for lacks in lacked if len(lacks) <= 5)
            for chosen in combinations(sorted(every), len(it.additions))
        )
        assert it.exact
        assert it.lets_in == most_let_in


def test_percussion_lacks_its_key_whatever_the_transposition() -> None:
    on = wheel([channel("bell", [62]), channel("snare", [], [38])])
    song = score([(0, 60, 80, 0), (24, 49, 80, 1)], parts=[Part("Melody"), DRUMS])
    verdict = judge(song, on, 12)
    assert verdict.transpose_semitones == 2
    assert verdict.lacks == (Addition(AdditionKind.DRUM_KEY, 49),)
    assert verdict.let_in


@pytest.mark.parametrize(
    ("place", "lacks"),
    [
        (Fraction(1, 2), "row 1/2 of 1"),  # the wheel's own row, which the drum has not
        (Fraction(4, 3), "row 2/3 4/3 of 2"),
        (Fraction(1, 3), "row 1/3 5/3 of 2"),
        (Fraction(3, 4), "row 1/4 3/4 of 1"),
        (Fraction(2, 5), "row 2/5 4/5 of 1"),  # pins at all four fifths would touch
        (Fraction(5, 6), "row 1/6 5/6 of 1"),
        (Fraction(3, 8), "row 1/8 3/8 5/8 7/8 of 1"),
    ],
)
def test_a_note_off_the_grid_lacks_the_simplest_row_within_reach(place: Fraction, lacks: str) -> None:
    on = wheel([channel("drum", [], [38], rows=["on"])], reach_quarters=Fraction(0))
    ticks = 4 * 120  # a step at 480 ticks a quarter is 120
    at = place * 120
    song = score([(0, 38, 80, 0), (ticks + int(at), 38, 80, 0)], resolution=480, parts=[DRUMS])
    verdict = judge(song, on, 0)
    assert verdict.start_steps == 0
    assert [thing.code for thing in verdict.lacks] == [lacks]
    assert verdict.let_in
    assert verdict.at_best.count.left_out_by_reason[Outcome.OFF_GRID] == 1


def test_the_row_that_is_lacking_is_told_where_the_start_puts_it() -> None:
    """Starting on the second step, a third of a step into the song is four thirds of a step round the turn."""
    lost = (LostHole("on", 0),)  # a note on the first step of a plate makes the song start a step later
    on = wheel([channel("drum", [], [38], rows=["on"])], reach_quarters=Fraction(0), lost=lost)
    song = score([(0, 38, 80, 0), (960 + 40, 38, 80, 0)], resolution=480, parts=[DRUMS])
    verdict = judge(song, on, 0)
    assert verdict.start_steps == 1
    assert [thing.code for thing in verdict.lacks] == ["row 2/3 4/3 of 2"]
    assert verdict.let_in


def test_a_note_between_all_rows_lacks_nothing_that_could_be_added() -> None:
    on = wheel([channel("drum", [], [38], rows=["on"])], reach_quarters=Fraction(0))
    song = score([(0, 38, 80, 0), (480 + 7, 38, 80, 0)], resolution=480, parts=[DRUMS])
    verdict = judge(song, on, 0)
    assert (verdict.lacks, verdict.let_in) == ((), False)


def test_a_new_channel_can_lack_a_row_too() -> None:
    """F#, which no channel sounds, comes at a quarter of a step, where no row has a hole: both are lacking."""
    on = wheel([channel("F", [65])], reach_quarters=Fraction(0))
    song = score([(0, 65), (480, 65), (960 + 30, 66)], resolution=480)
    verdict = judge(song, on, 0)
    assert [thing.code for thing in verdict.lacks] == ["pitch 66", "row 1/4 3/4 of 1"]
    assert verdict.let_in


def test_strikes_too_close_for_a_channel_lack_a_hammer_as_the_remedies_say() -> None:
    """Two strokes 60 ms apart on a channel that needs 90: no other pitch and no row helps that; a hammer does."""
    on = wheel([channel("F", [65])])
    song = score([(0, 65), (480, 65), (540, 65), (960, 66)], resolution=480, us_per_quarter=480_000)
    verdict = judge(song, on, 0)
    assert verdict.at_best.count.left_out_by_reason[Outcome.RESTRIKE] == 1
    assert [thing.code for thing in verdict.lacks] == ["pitch 66", "hammer 2 of F"]
    assert verdict.lack_notes == (1, 1)
    assert verdict.let_in
    choice = FitOptions(us_per_quarter=480_000)
    remedy = fewest_changes([song], on, choice, [place_song(song, on, choice)])
    assert remedy
    assert remedy.changes == verdict.lacks


def test_what_no_addition_remedies_is_not_let_in() -> None:
    """A strike beyond a limit of the drive lacks nothing that could be added: any channel would use the same drive."""
    limit = StrikeLimit("drive", ("F", "G"), 1, 400.0)
    on = wheel([channel("F", [65]), channel("G", [67])], strike_limits=(limit,))
    verdict = judge(score([(0, 65), (480, 65), (480, 67)], resolution=480), on, 0)
    assert verdict.at_best.count.left_out_by_reason == {Outcome.TOO_MANY: 1}
    assert (verdict.lacks, verdict.let_in) == ((), False)


def test_only_what_a_wheel_file_could_have_is_lacking() -> None:
    """A row that the rules of wheel files refuse is not suggested, as `--remedies` does not suggest it."""
    on = wheel([channel("drum", [], [38], rows=["on"])], reach_quarters=Fraction(0))
    song = score([(0, 38, 80, 0), (480 + 60, 38, 80, 0)], resolution=480, parts=[DRUMS])
    assert judge(song, on, 0).let_in
    refused = judge(song, on, 0, could_be_made=lambda changed: changed.channels[0].rows == on.channels[0].rows)
    assert (refused.lacks, refused.let_in) == ((), False)


def test_a_new_channel_that_cannot_keep_up_lacks_a_hammer_too() -> None:
    on = wheel([channel("F", [65], restrike_ms=300.0)])
    song = score([(0, 65), (480, 66), (600, 66)], resolution=480)  # 125 ms apart
    verdict = judge(song, on, 0)
    assert [thing.code for thing in verdict.lacks] == ["pitch 66", "hammer 2 of F#4"]
    assert verdict.let_in


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.integers(0, 47), PITCHES), min_size=1, max_size=12), st.sets(PITCHES, min_size=1, max_size=6)
)
def test_pieces_are_let_in_by_all_they_lack_and_by_nothing_less(
    notes: list[tuple[int, int]], channels: set[int]
) -> None:
    on = wheel(
        [channel(f"bell {pitch}", [pitch], rows=["on"]) for pitch in sorted(channels)], reach_quarters=Fraction(0)
    )
    song = score([(6 * place // 2, pitch) for place, pitch in notes])  # on steps and half-way
    verdict = judge(song, on, 1)
    if not verdict.let_in:
        return

    def out(onto: Wheel) -> int:
        options = FitOptions(transpose_semitones=verdict.transpose_semitones, start_steps=Fraction(verdict.start_steps))
        placement, _ = fit_with_findings(song, onto, options)
        return placement.note_count - int(placement.sounding.sum())

    assert out(with_additions(on, verdict.lacks)) == 0
    for thing in verdict.lacks:
        assert out(with_additions(on, set(verdict.lacks) - {thing})) > 0


def test_a_row_that_its_pins_miss_lets_nothing_in_and_the_search_for_things_ends() -> None:
    """Every pin trips 1.3 mm late and no note may move: a row on the step has no hole where a pin would be on time."""
    on = wheel([channel("drum", [], [38])], reach_quarters=Fraction(0), pin_types=(PinType("late", 1000, 1.3),))
    verdict = judge(score([(0, 38, 80, 0)], parts=[DRUMS]), on, 0)
    assert verdict.at_best.count.left_out_by_reason[Outcome.OFF_GRID] == 1
    assert not verdict.let_in


def test_nothing_is_lacking_beyond_the_pitches_that_there_are() -> None:
    song = score([(0, 120), (24, 3), (48, 60)])
    on, options = wheel(), FitOptions(transpose_semitones=12)
    lacks = lacked_by_note(song, place_song(song, on, options), on)
    assert lacks == {0: (), 1: (Addition(AdditionKind.PITCH, 15),)}


NEEDS = st.lists(
    st.tuples(st.frozensets(st.integers(0, 7), min_size=1, max_size=4), st.integers(1, 5)), min_size=1, max_size=8
)


def pitches(numbers: frozenset[int]) -> frozenset[Addition]:
    return frozenset(Addition(AdditionKind.PITCH, number) for number in numbers)


def by_brute_force(needs: Counter[frozenset[Addition]], count: int) -> int:
    things = sorted({thing for need in needs for thing in need}, key=Addition.order)
    return max(
        sum(pieces for need, pieces in needs.items() if need <= set(chosen))
        for chosen in combinations(things, min(count, len(things)))
    )


@given(NEEDS, st.integers(1, 5))
def test_the_best_things_are_those_of_brute_force(listed: list[tuple[frozenset[int], int]], count: int) -> None:
    needs: Counter[frozenset[Addition]] = Counter()
    for numbers, pieces in listed:
        needs[pitches(numbers)] += pieces
    found = best_additions(needs, count)
    assert found.exact
    assert len(found.additions) <= count
    assert found.lets_in == by_brute_force(needs, count)
    assert found.lets_in == sum(pieces for need, pieces in needs.items() if need <= set(found.additions))


@given(NEEDS, st.integers(1, 5))
def test_things_chosen_greedily_say_so_and_let_in_what_they_say(
    listed: list[tuple[frozenset[int], int]], count: int
) -> None:
    needs: Counter[frozenset[Addition]] = Counter()
    for numbers, pieces in listed:
        needs[pitches(numbers)] += pieces
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("pegwright.verdict.tally.MAX_TRIALS", 0)
        found = best_additions(needs, count)
    within = {thing for need in needs if len(need) <= count for thing in need}
    assert found.exact == (len(within) <= count)
    assert len(found.additions) <= count
    assert found.lets_in == sum(pieces for need, pieces in needs.items() if need <= set(found.additions))
    assert found.lets_in <= by_brute_force(needs, count)
    single = max((pieces for need, pieces in needs.items() if len(need) == 1), default=0)
    assert count > 1 or found.lets_in == single


def test_row_things_are_things_of_the_wheel_first() -> None:
    assert [thing.code for thing in row_additions(wheel())][:3] == ["row 0 of 1", "row 1/2 of 1", "row 2/3 4/3 of 2"]
