"""Thinning: the musical order in which notes go, and every one told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import samples
import strategies
import thorough
from pegwright.ask.options import FitOptions
from pegwright.columns import frozen_ints
from pegwright.edit.thinning import MAX_FINDINGS, thin
from pegwright.errors import UsageError
from pegwright.findings import Severity
from pegwright.score import Part, Score

PARTS = (Part("Tune"), Part("Drums", percussion=True), Part("Bass"))


@settings(max_examples=thorough.cases(60, 300))
@given(strategies.scores(), st.integers(1, 4))
def test_no_more_than_asked_begin_at_once_and_every_drop_is_told(score: Score, most: int) -> None:
    thinner, findings = thin(score, most, FitOptions())
    assert score.note_count == thinner.note_count + sum(finding.count for finding in findings)
    _, before = np.unique(score.onset_ticks, return_counts=True)
    onsets, after = np.unique(thinner.onset_ticks, return_counts=True)
    assert after.tolist() == np.minimum(before, most).tolist()
    assert set(onsets.tolist()) == set(score.onset_ticks.tolist())
    assert all(finding.severity == Severity.CHANGED for finding in findings)


def test_doublings_go_before_inner_notes_and_these_before_outer_ones() -> None:
    chord = [(0, 48, 90, 2), (0, 60, 90, 0), (0, 64, 90, 0), (0, 67, 90, 0), (0, 72, 90, 0), (0, 77, 90, 0)]
    score = samples.score(chord, parts=PARTS)
    gone = []
    for most in range(5, 0, -1):
        thinner, findings = thin(score, most, FitOptions())
        gone.append([finding.message.split(" (")[0] for finding in findings])
        kept = thinner.pitch_midi.tolist()
    assert gone[0] == ["C5"], "C5 and C4 double the bass note; of two alike the later goes first"
    assert sorted(gone[1]) == ["C4", "C5"]
    assert sorted(gone[2]) == ["C4", "C5", "G4"], "inner notes of equal weight: the later first"
    assert sorted(gone[3]) == ["C4", "C5", "E4", "G4"]
    assert kept == [77], "of the two outer notes the later in the score goes first"


def test_a_unison_goes_though_it_is_an_outer_note() -> None:
    score = samples.score([(0, 60, 90, 0), (0, 72, 90, 0), (0, 72, 70, 2)], parts=PARTS)
    thinner, findings = thin(score, 2, FitOptions())
    assert thinner.velocity.tolist() == [90, 90]
    assert [finding.code for finding in findings] == ["thinned-doubling"]
    assert findings[0].where == "test.mid:Bass:bar 1 beat 1"


def test_priority_of_a_part_saves_its_notes() -> None:
    score = samples.score([(0, 60, 100, 0), (0, 40, 50, 2)], parts=PARTS)
    assert thin(score, 1, FitOptions())[0].pitch_midi.tolist() == [60]
    assert thin(score, 1, FitOptions(part_priorities=(("Bass", 5),)))[0].pitch_midi.tolist() == [40]


def test_a_short_note_goes_before_a_long_one() -> None:
    score = samples.score([(0, 60, 50, 0), (0, 62, 100, 2)], resolution=24, parts=PARTS)
    short = replace(score, duration_ticks=frozen_ints([24, 3]))
    thinner, findings = thin(short, 1, FitOptions())
    assert thinner.pitch_midi.tolist() == [60]
    assert findings[0].code == "thinned-ornament"


def test_very_many_drops_are_summed_up() -> None:
    score = samples.score([(tick, pitch) for tick in range(1100) for pitch in (60, 64, 67)])
    _, findings = thin(score, 1, FitOptions())
    assert len(findings) == 1
    assert findings[0].count == 2200 > MAX_FINDINGS


def test_none_at_once_is_refused() -> None:
    with pytest.raises(UsageError, match="0 notes at once"):
        thin(samples.score([(0, 60)]), 0, FitOptions())
