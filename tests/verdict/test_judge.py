"""Verdicts on single pieces: against the fit of one turn, and on songs whose story is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

import strategies
from commands import SONGS, WHEEL
from pegwright.ask.options import FitOptions
from pegwright.config import load_wheel
from pegwright.errors import InternalError, UsageError
from pegwright.note_count import REASONS, NoteCount
from pegwright.placement import Outcome
from pegwright.read import read_score
from pegwright.score import Score
from pegwright.tell.findings import fit_with_findings
from pegwright.verdict.judge import judge
from pegwright.wheel import Wheel
from places import SCORES
from samples import channel, score, wheel
from short_bars import with_bars


@settings(max_examples=40)
@given(strategies.scores(), strategies.wheels())
def test_a_song_of_one_turn_is_told_as_the_fit_tells_it(song: Score, on: Wheel) -> None:
    one_bar = with_bars(song, [song.length_ticks])
    on = replace(on, repinned_within_song=False)
    verdict = judge(one_bar, on, 0)
    placement, _ = fit_with_findings(one_bar, on, FitOptions())
    assert verdict.turns == 1
    count = verdict.as_is.count
    assert count.own_pin == placement.placed_count
    for reason in REASONS:
        shared = count.shared_pin if reason == Outcome.HOLE_USED else 0
        assert count.left_out_by_reason.get(reason, 0) + shared == np.count_nonzero(placement.outcome == reason)
    for sounding in (verdict.as_is, verdict.at_best):
        assert sounding.count.read == song.note_count
        assert 0 <= sounding.share <= 1
        assert (sounding.share == 1) == (sounding.count.left_out == 0)
        assert (sounding.moved == 0) == (sounding.farthest_ms == 0)
    assert verdict.us_per_quarter == placement.us_per_quarter


@pytest.mark.parametrize(
    ("file", "turns", "as_is", "change", "at_best"),
    [
        ("shrimpers-jig.mid", 1, 205, (0, 0), 205),
        ("round-the-pier-and-back.mxl", 2, 382, (0, 0), 382),  # longer than a turn, and in whole over two
        ("lamplighters-march.mid", 1, 203, (0, 1), 204),  # one note at a seam, saved by starting a step later
    ],
)
def test_bundled_songs_are_told_as_their_page_does(
    file: str, turns: int, as_is: int, change: tuple[int, int], at_best: int
) -> None:
    song, _ = read_score(SONGS / file)
    verdict = judge(song, load_wheel(WHEEL), 12)
    assert verdict.turns == turns
    assert (verdict.as_is.count.own_pin, verdict.at_best.count.own_pin) == (as_is, at_best)
    assert (verdict.transpose_semitones, verdict.start_steps) == change
    assert verdict.fits
    assert verdict.fits_as_is == (as_is == at_best)


def test_two_notes_that_are_one_strike_both_sound() -> None:
    verdict = judge(score([(0, 60, 80), (0, 60, 70), (24, 60, 80)]), wheel(), 0)
    assert verdict.as_is.count == NoteCount(3, own_pin=2, shared_pin=1)
    assert verdict.fits_as_is


def test_every_turn_begins_on_the_same_step_at_one_tempo() -> None:
    """Two turns that each need a start of their own cannot both have it: one loses its note at the seam."""
    on = wheel([channel("bell", [60], rows=["half"])])  # the half-way hole of step 32 is lost on every plate
    seam = 24 * 8 - 3
    quarters = 48 * 24
    both = with_bars(score([(seam, 60), (quarters + seam, 60)]), [quarters, quarters])
    assert judge(both, on, 0).fits, "one step later saves both"
    spread = [(quarters * turn + seam - 6 * turn, 60) for turn in range(32)]
    every = with_bars(score(spread), [quarters] * 32)
    assert judge(every, on, 0).at_best.count.left_out_by_reason == {Outcome.LOST_AT_SEAM: 1}


def test_octaves_are_folded_on_request() -> None:
    song, on = score([(0, 48), (24, 60), (48, 61)]), wheel([channel("C", [60])])
    plain, folded = judge(song, on, 0), judge(song, on, 0, fold_octaves=True)
    assert (plain.at_best.count.sounding, folded.at_best.count.sounding) == (1, 2)
    assert [thing.code for thing in folded.lacks] == ["pitch 61"], "no octave of it has a channel"


def test_a_song_without_notes_fits() -> None:
    verdict = judge(score([]), wheel(), 12)
    assert (verdict.as_is.count.read, verdict.fits_as_is, verdict.transpose_semitones) == (0, True, 0)


def test_silent_turns_count_as_turns() -> None:
    quarters = 48 * 24
    song = with_bars(score([(0, 60), (3 * quarters, 60)]), [quarters] * 4)
    verdict = judge(song, wheel(), 0)
    assert (verdict.turns, verdict.bars, verdict.as_is.count.own_pin) == (4, 4, 2)


def test_what_a_bar_longer_than_a_turn_holds_beyond_it_is_told() -> None:
    song = with_bars(score([(0, 60), (50 * 24, 60)]), [60 * 24])
    once = judge(song, replace(wheel(), repinned_within_song=False), 0)
    assert once.at_best.count.left_out_by_reason == {Outcome.PAST_TURN: 1}
    over_two = judge(song, wheel(), 0)
    assert (over_two.turns, over_two.at_best.count.left_out) == (2, 0)


def test_a_piece_that_no_wheel_could_turn_for_is_refused() -> None:
    on = wheel([channel("slow", [60], restrike_ms=60_000.0)])
    with pytest.raises(UsageError, match="less than the re-strike"):
        judge(score([(0, 60)]), on, 0)


def test_a_piece_is_let_in_only_after_the_independent_check(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pegwright.verdict.judge.verify", lambda *_: ("note 1 floats",))
    with pytest.raises(InternalError, match="note 1 floats"):
        judge(score([(0, 60)]), wheel(), 0)
    assert not judge(score([(0, 30)]), wheel(), 0).fits


@pytest.mark.parametrize("semitones", [-1, 49])
def test_transpositions_out_of_bounds_are_refused(semitones: int) -> None:
    with pytest.raises(UsageError, match="0 to 48"):
        judge(score([(0, 60)]), wheel(), semitones)


def test_a_real_piece_of_six_turns_is_accounted_for() -> None:
    song, _ = read_score(SCORES / "31_mutopia_maple-leaf-rag.mid")
    verdict = judge(song, load_wheel(WHEEL), 12)
    assert verdict.turns == 6
    assert verdict.as_is.count.read == verdict.at_best.count.read == song.note_count
    assert verdict.at_best.count.own_pin >= verdict.as_is.count.own_pin
    assert not verdict.let_in
