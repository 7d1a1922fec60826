"""A score put together in memory is refused where it contradicts itself, and let through where it does not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given

import samples
from pegwright.ask.request import Request
from pegwright.bundled import bundled_songs
from pegwright.columns import frozen_ints
from pegwright.errors import UsageError
from pegwright.read import read_score
from pegwright.score import Part, Score
from pegwright.song_pipeline.fitting import fit_score
from pegwright.song_pipeline.hand_made import check_score
from strategies import scores

SOUND = samples.score([(0, 60, 80, 0), (24, 62, 80, 0), (24, 64, 80, 0), (48, 65, 80, 1)])


@pytest.mark.parametrize("path", bundled_songs(), ids=lambda path: path.stem)
def test_scores_that_were_read_pass(path: object) -> None:
    check_score(read_score(str(path))[0])


@given(scores())
def test_sound_scores_pass(score: Score) -> None:
    check_score(score)


def with_tempi(**changes: object) -> Score:
    return replace(SOUND, tempo_map=replace(SOUND.tempo_map, **changes))  # type: ignore[arg-type]


def with_bars(**changes: object) -> Score:
    return replace(SOUND, bar_map=replace(SOUND.bar_map, **changes))  # type: ignore[arg-type]


def with_column(name: str, values: object) -> Score:
    return replace(SOUND, **{name: values})  # type: ignore[arg-type]


FAULTS: list[tuple[Callable[[], Score], str]] = [
    (lambda: replace(SOUND, sha256="none"), "sha256 is 'none', not 64 hex digits"),
    (lambda: replace(SOUND, resolution=0), "resolution is 0, outside 1 to 2,147,483,648"),
    (lambda: replace(SOUND, tolerance_ticks=-1), "tolerance_ticks is -1, below 0"),
    (lambda: with_column("onset_ticks", [0, 24, 24, 48]), "onset_ticks is list, not int64"),
    (lambda: with_column("velocity", np.full(4, 80.5)), r"velocity is float64 of shape \(4,\), not int64"),
    (lambda: with_column("part", frozen_ints([[0, 0], [0, 0]])), r"part is int64 of shape \(2, 2\)"),
    (lambda: with_column("pitch_midi", frozen_ints([60])), "pitch_midi has 1 value, onset_ticks 4"),
    (lambda: with_column("pitch_midi", frozen_ints([60, 62, 128, 129])), r"pitch_midi\[2\] is 128.* and 1 more"),
    (lambda: with_column("velocity", frozen_ints([0, 80, 80, 80])), r"velocity\[0\] is 0, outside 1 to 127"),
    (lambda: with_column("part", frozen_ints([0, 0, 0, 2])), r"part\[3\] is 2, outside 0 to 1"),
    (lambda: with_column("onset_ticks", frozen_ints([-1, 24, 24, 48])), r"onset_ticks\[0\] is -1, outside 0"),
    (lambda: with_column("duration_ticks", frozen_ints([6, -6, 6, 6])), r"duration_ticks\[1\] is -6"),
    (lambda: with_column("ornament", frozen_ints([0, -1, -1, -1])), r"ornament\[0\] is 0, outside -1 to -1"),
    (lambda: with_column("written", frozen_ints([0])), "written has 1 value"),
    (lambda: with_column("confidence", [1.0, 1.0, 1.0, 1.0]), "confidence is list, not float64"),
    (lambda: with_column("confidence", np.ones(3)), "confidence has 3 values, onset_ticks 4"),
    (lambda: with_column("confidence", np.array([1, 0.5, 1.5, np.nan])), r"confidence\[2\] is 1.5, outside 0 to 1"),
    (lambda: SOUND.with_notes(frozen_ints([0, 2, 1, 3])), "note 1 is not where it belongs"),
    (lambda: replace(SOUND, parts=(Part("A"), Part("A"))), "parts are called"),
    (lambda: with_tempi(ticks=frozen_ints([])), r"tempo_map.ticks is \[\]"),
    (lambda: with_tempi(ticks=frozen_ints([5])), r"tempo_map.ticks is \[5\]"),
    (lambda: with_tempi(us_per_quarter=frozen_ints([0])), r"us_per_quarter\[0\] is 0"),
    (lambda: with_tempi(us_per_quarter=frozen_ints([1, 2])), "us_per_quarter has 2 values, tempo_map.ticks 1"),
    (lambda: with_bars(ticks=frozen_ints([0, 0])), r"bar_map.ticks is \[0, 0\]"),
    (lambda: with_bars(labels=()), "bar_map.labels has 0 values, bar_map.ticks 1"),
    (lambda: with_bars(beats=frozen_ints([0])), r"bar_map.beats\[0\] is 0"),
    (lambda: with_bars(beat_types=frozen_ints([0])), r"bar_map.beat_types\[0\] is 0"),
    (lambda: with_bars(swing=(Fraction(2), Fraction(2))), "bar_map.swing has 2 values"),
    (lambda: with_bars(end_ticks=40), "bar_map.end_ticks is 40, outside 48"),
    (lambda: with_bars(end_ticks=2**62), "bar_map.end_ticks is"),
]


@pytest.mark.parametrize(("make", "message"), FAULTS, ids=[message for _, message in FAULTS])
def test_contradictions_are_refused_before_the_fit(make: Callable[[], Score], message: str) -> None:
    check_score(SOUND)
    with pytest.raises(UsageError, match=message):
        fit_score(make(), samples.wheel())


def test_a_request_of_no_turns_or_no_reports_is_refused() -> None:
    for asked in ({"turns": 0}, {"report_best": 0}, {"offset": "soon"}):
        with pytest.raises(UsageError):
            Request(**asked)


def test_every_note_of_a_hand_made_score_is_accounted_for() -> None:
    fitted = fit_score(SOUND, samples.wheel())
    assert fitted.edited.notes_read == SOUND.note_count == fitted.placed_count + fitted.left_out_count
    assert fitted.placed_count == 3  # the fourth is a drum key that no channel stands for
