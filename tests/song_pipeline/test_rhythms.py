"""Another rhythm that is printed does what it says when it is taken: over random songs, wheels and options."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

import strategies
import thorough
from commands import SONGS, WHEEL
from midi_bytes import tracks_of_notes
from pegwright.ask.options import FitOptions
from pegwright.ask.request import PLAIN, Played, Request
from pegwright.config import load_wheel
from pegwright.errors import UsageError
from pegwright.read import score_of
from pegwright.remedy.budget import Budget
from pegwright.remedy.rhythms import Rhythm, RhythmRemedy
from pegwright.remedy.taking import taken
from pegwright.score import Score
from pegwright.song import FittedSong
from pegwright.song_pipeline.fitting import fit_score
from pegwright.song_pipeline.rhythms import PER_RHYTHMS, rhythm_remedies
from pegwright.wheel import Wheel

PLENTY = 10_000_000
DRUMS = 9  # the channel of percussion, General MIDI 1 (from memory)


def midi_of(score: Score) -> bytes:
    """A score as a MIDI file, a track for each part; of two notes of one pitch and moment in a part one is kept."""
    rows = zip(*(each.tolist() for each in (score.onset_ticks, score.pitch_midi, score.part)), strict=True)
    kept = sorted(set(rows))
    tracks = [
        [(onset, 1, pitch, 80, DRUMS if part.percussion else number) for onset, pitch, of in kept if of == number]
        for number, part in enumerate(score.parts)
    ]
    return tracks_of_notes([track for track in tracks if track], running=False, zero_offs=False)


@st.composite
def requests(draw: st.DrawFn, score: Score) -> Request:
    part = draw(st.sampled_from([part.name for part in score.parts if not part.percussion] or [""]))
    return Request(
        bars=draw(st.sampled_from([None, None, (1, 1)])),
        part_semitones=draw(st.sampled_from([(), ((part, 12),), ((part, -1),)])) if part else (),
        most_at_once=draw(st.sampled_from([None, None, 2])),
        whole_bars=draw(st.booleans()),
        options=FitOptions(
            transpose_semitones=draw(st.sampled_from([0, 0, 1, -12])),
            fold_octaves=draw(st.booleans()),
            start_steps=Fraction(draw(st.integers(0, 7))),
            us_per_quarter=draw(st.sampled_from([None, 350_000, 1_500_000])),
        ),
    )


@settings(max_examples=thorough.cases(60, 300))
@given(st.data(), strategies.scores(most=10), strategies.wheels())
def test_every_rhythm_that_is_taken_does_what_it_says(data: st.DataObject, made: Score, wheel: Wheel) -> None:
    if not made.note_count:
        return
    midi = midi_of(made)
    score, findings = score_of(midi, Path("random.mid"))
    request = data.draw(requests(score))
    try:
        fitted = fit_score(score, wheel, request, findings, midi)
    except UsageError:  # such as a re-strike longer than a turn
        return
    remedies, tried = rhythm_remedies(fitted, Budget(PLENTY))
    event(f"{min(len(remedies), 2)} rhythms or more")
    assert len(remedies) <= min(PER_RHYTHMS, tried)
    for remedy in remedies:
        again = fit_score(score, wheel, taken(request, fitted.options, [remedy.rhythm.change]), findings, midi)
        does_what_it_says(fitted, again, remedy)


def does_what_it_says(fitted: FittedSong, again: FittedSong, remedy: RhythmRemedy) -> None:
    """The song with a remedy taken: the notes that sound, where they sound, and that it is better than before."""
    rhythm = remedy.rhythm
    assert again.sounding_count == remedy.sounding >= fitted.sounding_count
    assert again.left_out_count == remedy.silent
    assert again.count.read == fitted.count.read
    if remedy.sounding == fitted.sounding_count:
        assert rhythm.harm_now is not None
        assert rhythm.harm < rhythm.harm_now
    assert len(rhythm.change.note_edits) == len(set(map(str, rhythm.change.note_edits)))
    for each in rhythm.bars:
        turn = again.turns[each.bar.turn]
        placed = turn.placement.sounding & (turn.placement.deviation_ms == 0)
        onsets = {Fraction(tick, turn.score.resolution) for tick in turn.score.onset_ticks[placed].tolist()}
        assert {Fraction(place, each.bar.problem.resolution) for place in each.places} <= onsets
    told_intervals_are_those_of_the_pins(rhythm, again)


def told_intervals_are_those_of_the_pins(rhythm: Rhythm, again: FittedSong) -> None:
    """The greatest change of an interval within the bars, from where the pins trip and what was written."""
    worst = 0.0
    for each in rhythm.bars:
        problem = each.bar.problem
        quarter_ms = again.turns[0].placement.us_per_quarter / 1000
        written, made = (np.diff(of) / problem.resolution * quarter_ms for of in (problem.written_ticks, each.places))
        worst = max([worst, *np.abs(made - written).tolist()])
    assert rhythm.worst_ms >= worst - 1e-9


@pytest.mark.parametrize("song", ["the-committee-regrets.musicxml", "low-water-slowly.mid", "lamplighters-march.mid"])
def test_the_rhythms_of_the_demo_songs_do_what_they_say(song: str) -> None:
    wheel, data = load_wheel(WHEEL), (SONGS / song).read_bytes()
    score, findings = score_of(data, SONGS / song)
    fitted = fit_score(score, wheel, PLAIN, findings, data)
    remedies, tried = rhythm_remedies(fitted, Budget(PLENTY))
    assert 0 < len(remedies) <= tried
    for remedy in remedies:
        again = fit_score(score, wheel, taken(PLAIN, fitted.options, [remedy.rhythm.change]), findings, data)
        does_what_it_says(fitted, again, remedy)


def test_bars_that_need_the_same_rhythm_have_it_together() -> None:
    song = SONGS / "low-water-slowly.mid"
    score, findings = score_of(song.read_bytes(), song)
    fitted = fit_score(score, load_wheel(WHEEL), PLAIN, findings, song.read_bytes())
    labels = [[bar.bar.label for bar in each.rhythm.bars] for each in rhythm_remedies(fitted, Budget(PLENTY))[0]]
    assert ["3", "7", "11"] in labels


@pytest.mark.parametrize(
    "request_", [Request(swing=Fraction(2)), Request(ornaments=Fraction(1, 8)), Request(played=Played())], ids=str
)
def test_none_is_sought_where_beats_are_not_those_of_the_score(request_: Request) -> None:
    song = SONGS / "low-water-slowly.mid"
    score, findings = score_of(song.read_bytes(), song)
    fitted = fit_score(score, load_wheel(WHEEL), request_, findings, song.read_bytes())
    budget = Budget(PLENTY)
    assert rhythm_remedies(fitted, budget) == ((), 0)
    assert budget.spent == 0


def test_no_more_work_is_done_than_there_is_and_what_is_left_is_said() -> None:
    song = SONGS / "the-committee-regrets.musicxml"
    score, findings = score_of(song.read_bytes(), song)
    fitted = fit_score(score, load_wheel(WHEEL), PLAIN, findings, song.read_bytes())
    counts = []
    for work in (0, 1_000, 5_000, 50_000):
        budget = Budget(work)
        counts.append(len(rhythm_remedies(fitted, budget)[0]))
        assert budget.spent <= work
        assert budget.complete == (work == 50_000)
    assert counts == sorted(counts)
    assert counts[-1] == 3
