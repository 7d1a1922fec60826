"""Another reading of the beat: from where on it differs, in which words, and the option that takes it."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

import samples
from commands import SONGS, WHEEL
from pegwright.ask.beat_shifts import beat_shift_of
from pegwright.ask.request import Beat, Played, Request
from pegwright.columns import frozen_floats, frozen_ints
from pegwright.config import load_wheel
from pegwright.errors import UsageError
from pegwright.findings import Finding
from pegwright.played.alternatives import shifted
from pegwright.played.beats import BeatTrack
from pegwright.played.findings import findings_of, length_in_words
from pegwright.played.model import PLACES
from pegwright.played.quantise import put_on_holes
from pegwright.played.result import PerformedResult
from pegwright.read import read_score
from pegwright.score import Score
from pegwright.song_pipeline import performed
from pegwright.song_pipeline.performed import put_on_grid

UNITS, NOTES = 24, 96  # six bars of sixteenths


def sixteenths(other_quarters: np.ndarray, sure: float = 0.5) -> tuple[Score, PerformedResult]:
    """Even sixteenths with a second reading of their beat."""
    units = 6 * np.arange(NOTES)
    score = samples.score([(int(unit), 60 + int(unit) % 5) for unit in units], resolution=UNITS)
    beats = BeatTrack(frozen_floats(0.5 * np.arange(NOTES // 4 + 3)), frozen_floats(np.arange(NOTES // 4 + 3)))
    result = PerformedResult(
        frozen_ints(units),
        frozen_floats(np.full(NOTES, sure)),
        frozen_floats(np.zeros(NOTES)),
        UNITS,
        beats,
        10.0,
        False,
        other_quarters=frozen_floats(other_quarters),
    )
    return score, result


def otherwise(score: Score, result: PerformedResult, metre: str | None = None) -> list[Finding]:
    return [finding for finding in findings_of(score, result, metre) if finding.code == "beat-otherwise"]


def test_a_place_from_which_on_two_readings_differ_is_reported_with_the_option_that_takes_the_other() -> None:
    note = np.arange(NOTES)
    score, result = sixteenths(3.0 - 0.25 * (note >= 48))
    (found,) = otherwise(score, result)
    assert found.where.endswith("bar 4 beat 1")
    assert found.message.startswith("from here on perhaps a sixteenth earlier")
    assert "--beat-shift 4=-1/4;" in found.hint
    (waltz,) = otherwise(score, result, "3/4")
    assert "--beat-shift 5=-1/4;" in waltz.hint, "in the bars of the metre that was given"


def test_a_reading_that_comes_back_and_one_that_wanders() -> None:
    note = np.arange(NOTES)
    score, result = sixteenths(0.5 * ((note >= 30) & (note < 60)))
    assert [found.message.partition(":")[0] for found in otherwise(score, result)] == [
        "from here on perhaps an eighth later",
        "from here on perhaps an eighth earlier",
    ]
    assert not otherwise(*sixteenths(note * 0.1)), "no steady difference"
    assert not otherwise(*sixteenths(0.5 * (note == 50))), "one onset"
    assert not otherwise(*sixteenths(0.25 * (note >= 48), sure=0.95)), "sure of the reading chosen"


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


def test_the_option_does_what_the_report_says(monkeypatch: pytest.MonkeyPatch) -> None:
    """The beat is read an eighth late from bar 5 on; taking the option of the report puts every note right."""
    song, wheel = read_score(SONGS / "turnstile-tango.mid")[0], load_wheel(WHEEL)
    late = Fraction(1, 2)

    def slipped(score: Score, *args: object) -> PerformedResult:
        result = put_on_holes(score, *args)  # type: ignore[arg-type]
        begin = 4 * 2 * result.resolution
        wrong = shifted(result, begin, late, PLACES)
        other = -float(late) * (result.onset_units >= begin)
        return replace(
            wrong, other_quarters=frozen_floats(other), confidence=frozen_floats(np.full(len(result.confidence), 0.5))
        )

    request = Request(played=Played(Beat.KEEP))
    right, _ = put_on_grid(song, wheel, request)
    monkeypatch.setattr(performed, "put_on_holes", slipped)
    wrong, findings = put_on_grid(song, wheel, request)
    assert (wrong.onset_ticks != right.onset_ticks).mean() > 0.3
    (found,) = [finding for finding in findings if finding.code == "beat-otherwise"]
    option = re.findall(r"--beat-shift (\S+);", found.hint)
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
    ],
)
def test_a_shift_that_cannot_be_made_is_refused(text: str, said: str) -> None:
    song, wheel = read_score(SONGS / "turnstile-tango.mid")[0], load_wheel(WHEEL)
    request = Request(played=Played(Beat.KEEP), beat_shifts=(beat_shift_of(text),))
    with pytest.raises(UsageError, match=said) as refused:
        put_on_grid(song, wheel, request)
    assert refused.value.where == f"beat shift {text}"
    assert refused.value.hint
