"""Another reading of the beat: from where on it differs, in which words, and the option that takes it."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import samples
from commands import SONGS, WHEEL
from pegwright.ask.beat_shifts import beat_shift_of
from pegwright.ask.request import Beat, Played, Request
from pegwright.columns import Ints, frozen_floats, frozen_ints
from pegwright.config import load_wheel
from pegwright.errors import UsageError
from pegwright.findings import Finding
from pegwright.played.alternatives import MOST_PLACES, Alternative, of_reading, of_ways
from pegwright.played.beats import BeatTrack
from pegwright.played.doubts import Doubts, OtherWays
from pegwright.played.findings import UNSURE_CONFIDENCE, UNSURE_ONSETS, findings_of, length_in_words
from pegwright.played.model import PLACES
from pegwright.played.quantise import put_on_holes
from pegwright.played.result import PerformedResult, in_doubt
from pegwright.played.shifted import shifted
from pegwright.read import read_score
from pegwright.score import LOW_CONFIDENCE, Score
from pegwright.song_pipeline import performed
from pegwright.song_pipeline.performed import put_on_grid
from pegwright.units import plural
from played.test_free_beat import right_but_for_a_shift, stumbling

UNITS, NOTES = 24, 96  # six bars of sixteenths


def sixteenths(other_quarters: np.ndarray) -> tuple[Score, PerformedResult]:
    """Even sixteenths with a second reading of their beat."""
    units = 6 * np.arange(NOTES)
    score = samples.score([(int(unit), 60 + int(unit) % 5) for unit in units], resolution=UNITS)
    beats = BeatTrack(frozen_floats(0.5 * np.arange(NOTES // 4 + 3)), frozen_floats(np.arange(NOTES // 4 + 3)))
    result = PerformedResult(
        frozen_ints(units),
        frozen_floats(np.ones(NOTES)),
        frozen_floats(np.zeros(NOTES)),
        UNITS,
        beats,
        10.0,
        False,
    )
    return score, in_doubt(result, beside(other_quarters), PLACES)


def beside(other_quarters: np.ndarray) -> Doubts:
    """What is in doubt where every note is a cluster, and nothing speaks against the beat but another reading."""
    certain = OtherWays(frozen_ints(np.zeros((len(other_quarters), 1))), frozen_floats([1.0]))
    cluster = frozen_ints(np.arange(len(other_quarters)))
    return Doubts(cluster, (certain, certain), certain, False, Fraction(1, UNITS), frozen_floats(other_quarters))


def otherwise(score: Score, result: PerformedResult, metre: str | None = None) -> list[Finding]:
    return [finding for finding in findings_of(score, result, metre) if finding.code == "beat-otherwise"]


def test_a_place_from_which_on_two_readings_differ_is_reported_with_the_option_that_takes_the_other() -> None:
    note = np.arange(NOTES)
    score, result = sixteenths(3.0 - 0.25 * (note >= 48))
    (found,) = otherwise(score, result)
    assert found.where.endswith("bar 4 beat 1")
    assert found.message.startswith("from here on perhaps a sixteenth earlier")
    assert "if it is so add --beat-shift 4=-1/4, if the bars after it sound right --beat-shift 4=0;" in found.hint
    (waltz,) = otherwise(score, result, "3/4")
    assert "--beat-shift 5=-1/4," in waltz.hint, "in the bars of the metre that was given"


def test_a_reading_that_comes_back_and_one_that_wanders() -> None:
    note = np.arange(NOTES)
    score, result = sixteenths(0.25 * ((note >= 30) & (note < 60)))
    assert [found.message.partition(",")[0] for found in otherwise(score, result)] == [
        "from here on perhaps a sixteenth later",
        "from here on perhaps a sixteenth earlier",
    ]
    assert not otherwise(*sixteenths(note * 0.1)), "no steady difference"
    assert not otherwise(*sixteenths(0.5 * (note == 50))), "one onset"


def test_where_the_reading_chosen_is_sure_another_is_not_reported() -> None:
    other = frozen_floats(0.25 * (np.arange(NOTES) >= 48))
    assert of_reading(other, frozen_floats(np.full(NOTES, 0.5))) == (Alternative(48, Fraction(1, 4)),)
    assert not of_reading(other, frozen_floats(np.full(NOTES, 0.95)))


def test_the_shift_that_is_reported_makes_the_two_readings_one() -> None:
    note = np.arange(NOTES)
    score, result = sixteenths(3.0 - 0.25 * (note >= 48))
    moved = shifted(result, int(result.onset_units[48]), Fraction(-1, 4), PLACES)
    assert (moved.onset_units - result.onset_units).tolist() == [0] * 48 + [-6] * 48
    assert not otherwise(score, moved)
    assert (np.diff(moved.beats.quarters) > 0).all()
    assert moved.beats.quarters[-1] == result.beats.quarters[-1] - 0.25


def test_the_place_is_the_first_note_that_lies_elsewhere() -> None:
    """A single note that the two readings put otherwise, near the place, makes medians turn early or late."""
    note = np.arange(NOTES)
    for odd in (44, 45, 50, 51):
        other = 0.25 * (note >= 48)
        other[odd] = 0.25 - other[odd]
        score, result = sixteenths(other)
        (found,) = otherwise(score, result)
        assert found.where.endswith("bar 4 beat 1")


@given(st.lists(st.tuples(st.integers(0, 40), st.floats(0, 1)), max_size=12))
def test_a_stretch_goes_from_its_first_note_in_doubt_to_its_last(unsure: list[tuple[int, float]]) -> None:
    score, result = sixteenths(np.zeros(NOTES))
    confidence = np.ones(NOTES)
    for number, sure in unsure:
        confidence[2 * number + 5] = sure
    found = findings_of(score, replace(result, confidence=frozen_floats(confidence)))
    stretches = [finding for finding in found if finding.code == "beat-unsure"]
    low = np.flatnonzero(confidence < LOW_CONFIDENCE)
    for each in stretches:
        (first,) = [number for number in low.tolist() if str(score.source(number)) == each.where]
        inside = low[(low >= first) & (low < first + each.count)]
        assert inside[-1] == first + each.count - 1
        assert f"with {len(inside)} of {plural(each.count, 'note')} in doubt" in each.message
    means = np.convolve(confidence, np.ones(UNSURE_ONSETS) / UNSURE_ONSETS, "valid")
    assert bool(stretches) == (means < UNSURE_CONFIDENCE - 1e-9).any() or means.min() == pytest.approx(
        UNSURE_CONFIDENCE
    )


def ways_beside(chosen: Ints, *others: tuple[Ints, float]) -> list[tuple[int, Fraction]]:
    ways = [(way - chosen, chance) for way, chance in others]
    return [(each.note, each.quarters) for each in of_ways(ways, Fraction(1, UNITS))]


def test_ways_that_part_from_the_one_chosen_are_reported_where_together_they_are_likely_enough() -> None:
    chosen, number = 6 * np.arange(60), np.arange(60)
    early, late = chosen - 12 * (number >= 20), chosen - 12 * (number >= 22)
    assert ways_beside(chosen, (chosen, 0.9), (early, 0.02)) == []
    assert ways_beside(chosen, (chosen, 0.9), (early, 0.04)) == [(20, Fraction(-1, 2))]
    assert ways_beside(chosen, (early, 0.02), (late, 0.02)) == [(20, Fraction(-1, 2))], "near enough to be one place"
    assert ways_beside(chosen, (chosen + 96, 0.9)) == [], "the same from another bar"
    back = chosen + 24 * ((number >= 20) & (number < 40))
    assert ways_beside(chosen, (back, 0.1)) == [(20, Fraction(1)), (40, Fraction(-1))]
    assert ways_beside(chosen, (chosen + 24 * (number == 30), 0.9)) == [], "one cluster elsewhere"
    assert ways_beside(chosen, (chosen + 120 * (number >= 30), 0.9)) == [], "it has lost count"


def test_of_many_places_the_likeliest_are_reported_in_the_order_of_the_song() -> None:
    chosen, number = 6 * np.arange(400), np.arange(400)
    ways = [(chosen + 12 * (number >= 20 * place), 0.05 + 0.01 * (5 * place % 19)) for place in range(1, 19)]
    found = [note for note, _ in ways_beside(chosen, *ways)]
    likeliest = sorted(range(1, 19), key=lambda place: -(5 * place % 19))[:MOST_PLACES]
    assert found == sorted(20 * place for place in likeliest)


def test_two_readings_at_one_place_are_one_finding_with_both_options() -> None:
    score, result = sixteenths(np.zeros(NOTES))
    both = (Alternative(48, Fraction(1)), Alternative(48, Fraction(1, 2)))
    (found,) = otherwise(score, replace(result, alternatives=both))
    assert found.message == "from here on perhaps an eighth later or a quarter later, by other readings of the beat"
    assert "add --beat-shift 4=1/2 or --beat-shift 4=1, if the bars after it sound right" in found.hint


@pytest.mark.parametrize("name", ["turnstile-tango.mid", "penny-rocket-galop.musicxml", "shrimpers-jig.mid"])
def test_every_option_of_the_report_can_be_taken_and_moves_all_notes_from_there(name: str) -> None:
    wheel, taken = load_wheel(WHEEL), 0
    request = Request(played=Played(Beat.FOLLOW))
    for seed in range(4):
        song, _ = stumbling(read_score(SONGS / name)[0], seed)
        before, findings = put_on_grid(song, wheel, request)
        for option in [text for each in findings for text in re.findall(r"--beat-shift ([^\s;,]+)", each.hint or "")]:
            shift = beat_shift_of(option)
            after, _ = put_on_grid(song, wheel, replace(request, beat_shifts=(shift,)))
            assert after.note_count == before.note_count
            moved = Fraction(int(np.median(after.onset_ticks[-20:] - before.onset_ticks[-20:])), before.resolution)
            assert moved == shift.quarters
            taken += 1
    assert taken, "who stops at every twelfth note or so leaves something open"


def test_the_options_bring_right_what_was_lost() -> None:
    """A player who knows the song takes, in its order, those after which more notes are right."""
    mended = 0
    for name, seed in product(("turnstile-tango.mid", "penny-rocket-galop.musicxml", "shrimpers-jig.mid"), range(4)):
        performance, true = stumbling(read_score(SONGS / name)[0], seed)
        result = put_on_holes(performance, None, Beat.FOLLOW)
        right = before = right_but_for_a_shift(result.onset_units, true).mean()
        for each in result.alternatives:
            moved = shifted(result, int(result.onset_units[each.note]), each.quarters, PLACES)
            better = right_but_for_a_shift(moved.onset_units, true).mean()
            if better > right:
                result, right = moved, better
        mended += before < 0.9 <= right
    assert mended >= 1


def test_a_note_moved_between_the_holes_takes_the_nearest() -> None:
    score, result = sixteenths(np.zeros(NOTES))
    only_sixteenths = tuple(Fraction(place, 4) for place in range(4))
    moved = shifted(result, 24, Fraction(1, 3), only_sixteenths)
    assert set((moved.onset_units[4:] % 6).tolist()) == {0}
    assert score.note_count == len(moved.onset_units)


@pytest.mark.parametrize(
    ("quarters", "words"),
    [(Fraction(1, 4), "a sixteenth"), (Fraction(1, 3), "1/3 of a quarter"), (Fraction(4, 3), "1 1/3 quarters")],
)
def test_lengths_in_words(quarters: Fraction, words: str) -> None:
    assert length_in_words(quarters) == words


def test_the_report_says_what_each_shift_did_and_what_the_next_is_given_after() -> None:
    song, wheel = stumbling(read_score(SONGS / "turnstile-tango.mid")[0], 2)[0], load_wheel(WHEEL)
    request = Request(played=Played(Beat.FOLLOW))
    _, findings = put_on_grid(song, wheel, request)
    hints = [each.hint or "" for each in findings if each.code == "beat-otherwise"]
    assert len(hints) > 2, "else nothing is left to settle"
    assert [hint.startswith("settle the places before it first") for hint in hints] == [False] + [True] * (
        len(hints) - 1
    )
    right = re.findall(r"--beat-shift ([^\s;,]+=0)", hints[0])
    moved = re.findall(r"--beat-shift ([^\s;,]+)", hints[0])[0]
    for shift, code in ((*right, "beat-settled"), (moved, "beat-shifted")):
        _, after = put_on_grid(song, wheel, replace(request, beat_shifts=(beat_shift_of(shift),)))
        (found,) = [each for each in after if each.code in ("beat-settled", "beat-shifted")]
        assert found.code == code
        assert found.message.startswith(f"beat shift {beat_shift_of(shift)}: ")
        left = [each.hint or "" for each in after if each.code == "beat-otherwise"]
        assert all(f", each after {beat_shift_of(shift)}; or tap" in hint for hint in left)


@pytest.mark.parametrize(
    ("subdivisions", "shift", "said"),
    [
        (None, "3=1/2", r"beat shift 3=1/2: \d+ notes an eighth later$"),
        (
            "eighths",
            "3=1/4",
            r"3=1/4: no note, for the hole nearest to the new place is the one that it has$",
        ),
        ("eighths", "3=-1/4", r"\d+ notes a sixteenth earlier, all of them by another distance, to the nearest hole$"),
        (None, "3=0", "nothing was in doubt there about the beat$"),
    ],
)
def test_the_report_says_what_a_shift_made_of_the_notes(subdivisions: str | None, shift: str, said: str) -> None:
    song, wheel = read_score(SONGS / "turnstile-tango.mid")[0], load_wheel(WHEEL)
    request = Request(played=Played(Beat.KEEP), subdivisions=subdivisions, beat_shifts=(beat_shift_of(shift),))
    _, findings = put_on_grid(song, wheel, request)
    (found,) = [each for each in findings if each.code in ("beat-settled", "beat-shifted")]
    assert re.search(said, found.message)


def test_readings_that_differ_by_less_than_anyone_hears_are_not_offered() -> None:
    chosen, number = 6 * np.arange(60), np.arange(60)
    for units, offered in (
        (1, False),
        (2, False),
        (3, False),
        (6, True),
        (8, True),
        (9, False),
        (16, True),
        (30, True),
    ):
        assert bool(ways_beside(chosen, (chosen + units * (number >= 20), 0.5))) == offered


def test_the_option_does_what_the_report_says(monkeypatch: pytest.MonkeyPatch) -> None:
    """The beat is read an eighth late from bar 5 on; taking the option of the report puts every note right."""
    song, wheel = read_score(SONGS / "turnstile-tango.mid")[0], load_wheel(WHEEL)
    late = Fraction(1, 2)

    def slipped(score: Score, *args: object) -> PerformedResult:
        result = put_on_holes(score, *args)  # type: ignore[arg-type]
        begin = 4 * 2 * result.resolution
        wrong = shifted(result, begin, late, PLACES)
        return in_doubt(wrong, beside(np.where(result.onset_units >= begin, -float(late), 0.0)), PLACES)

    request = Request(played=Played(Beat.KEEP))
    right, _ = put_on_grid(song, wheel, request)
    monkeypatch.setattr(performed, "put_on_holes", slipped)
    wrong, findings = put_on_grid(song, wheel, request)
    assert (wrong.onset_ticks != right.onset_ticks).mean() > 0.3
    (found,) = [finding for finding in findings if finding.code == "beat-otherwise"]
    option = re.findall(r"so add --beat-shift (\S+),", found.hint)
    assert "an eighth earlier" in found.message
    mended, after = put_on_grid(song, wheel, replace(request, beat_shifts=tuple(map(beat_shift_of, option))))
    assert sorted(mended.onset_ticks.tolist()) == sorted(right.onset_ticks.tolist())
    assert "beat-otherwise" not in {finding.code for finding in after}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("99=1/4", "lies after 24, the last bar with a note"),
        ("2:7=1/4", "bar 2 has 2 beats, and no beat 7"),
        ("2=1/7", "lie between the places of the grid, 1/24 quarter"),
        ("1=-1/4", "a sixteenth before bar 1"),
        ("5=-4", "before the last note before it"),
        ("24:2.75=1/4", "no note begins there or later"),
    ],
)
def test_a_shift_that_cannot_be_made_is_refused(text: str, said: str) -> None:
    song, wheel = read_score(SONGS / "turnstile-tango.mid")[0], load_wheel(WHEEL)
    request = Request(played=Played(Beat.KEEP), beat_shifts=(beat_shift_of(text),))
    with pytest.raises(UsageError, match=said) as refused:
        put_on_grid(song, wheel, request)
    assert refused.value.where == f"beat shift {text}"
    assert refused.value.hint
