"""Remedies: every one, when applied, does what it says."""

from __future__ import annotations

import json
import shlex
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings

import samples
import strategies
from commands import SONGS, WHEEL, runner
from pegwright.config import load_wheel
from pegwright.errors import UsageError
from pegwright.fit.audible import Audibility
from pegwright.fit.changes import Change, Kind, apply_changes
from pegwright.fit.changes_to_try import changes_to_try
from pegwright.fit.edits import move_part
from pegwright.fit.fit_song import fit_song, place_song
from pegwright.fit.options import FitOptions
from pegwright.fit.remedy import SILENT, Worth, find_remedies, levels_of, sounding_notes
from pegwright.fit.verify import verify
from pegwright.fit.wheel_changes import change_wheel, fewest_changes
from pegwright.pipeline import fit_file, remedies_for
from pegwright.placement import Outcome
from pegwright.request import Request
from pegwright.score import Part, Score
from pegwright.wheel import LostHole, StrikeLimit, Wheel
from pegwright.write.remedies import remedies_json, remedies_text


def worth(score: Score, wheel: Wheel, options: FitOptions, written: Score | None = None) -> Worth:
    """Counted anew from a whole fit; `written` is the song before anything was changed."""
    placement, _ = fit_song(score, wheel, options)
    assert verify(score, wheel, placement) == ()
    levels = levels_of(score, placement)
    counts = [int(np.count_nonzero(levels == level)) for level in range(SILENT + 1)]
    pitch = (written or score).pitch_midi.tolist()
    outcome, unison = placement.outcome.tolist(), placement.unison.tolist()
    merged = sum(
        outcome[note] != Outcome.PLACED and outcome[by] == Outcome.PLACED and pitch[note] != pitch[by]
        for note, by in enumerate(unison)
        if by >= 0
    )
    return Worth(counts[SILENT], counts[Audibility.AUDIBLE], merged, sum(counts[1:SILENT]))


@settings(max_examples=60)
@given(strategies.scores(most=12), strategies.wheels(), strategies.options())
def test_every_remedy_when_applied_does_what_it_says(score: Score, wheel: Wheel, options: FitOptions) -> None:
    placement = place_song(score, wheel, options)
    remedies = find_remedies(score, wheel, options, placement)
    if remedies.tried:
        assert remedies.now == worth(score, wheel, options)
    for remedy in remedies.song:
        assert worth(*_changed(score, wheel, options, remedy.changes), score) == remedy.worth
        assert remedy.worth < remedies.now
    before = levels_of(score, placement)
    for note, found in remedies.notes.items():
        for item in found:
            changed_score, _, changed_options = _changed(score, wheel, options, (item.change,))
            after = place_song(changed_score, wheel, changed_options)
            assert levels_of(changed_score, after)[note] == item.level < before[note]
            assert worth(changed_score, wheel, changed_options, score) == item.worth
    assert remedies_text(score, remedies, None)
    assert remedies_json(score, remedies, None)


def _changed(score: Score, wheel: Wheel, options: FitOptions, changes: tuple) -> tuple[Score, Wheel, FitOptions]:  # type: ignore[type-arg]  # of Change
    changed, chosen = apply_changes(score, options, changes)
    return changed, wheel, chosen


@settings(max_examples=100)
@given(strategies.scores(most=12), strategies.wheels(), strategies.options())
def test_changes_to_the_wheel_do_what_they_say_and_none_is_idle(
    score: Score, wheel: Wheel, options: FitOptions
) -> None:
    placement = place_song(score, wheel, options)
    remedy = fewest_changes(score, wheel, options, placement)
    if remedy is None:
        return
    assert remedy.silent_now == np.count_nonzero(~sounding_notes(placement))
    after, _ = fit_song(score, change_wheel(wheel, remedy.changes), options)
    assert verify(score, change_wheel(wheel, remedy.changes), after) == ()
    assert np.count_nonzero(~sounding_notes(after)) == remedy.silent < remedy.silent_now


@pytest.mark.parametrize("song", ["lamplighters-march.mid", "the-committee-regrets.musicxml", "low-water-slowly.mid"])
def test_the_options_that_are_told_do_it_on_the_command_line(song: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = SONGS / song
    wheel = load_wheel(WHEEL)
    remedies, _ = remedies_for(fit_file(path, wheel, Request()))
    assert remedies.song
    for remedy in remedies.song:
        typed = [word for change in remedy.changes for word in shlex.split(change.typed)]
        ran = runner(capsys)("fit", path, "--wheel", WHEEL, "--json", *typed)
        report = json.loads(ran.out)
        silent = [note for note in report["left_out"] if note["sounded_by_note"] is None]
        assert len(silent) == remedy.worth.silent
        assert report["placed_by_audibility"]["audible"] == remedy.worth.audible


def test_the_march_needs_only_another_start() -> None:
    remedies, wheel = remedies_for(fit_file(SONGS / "lamplighters-march.mid", load_wheel(WHEEL), Request()))
    assert [change.typed for change in remedies.song[0].changes] == ["--start 192"]
    assert remedies.song[0].worth == Worth(0, 0, 0, 0)
    assert len(remedies.song) == 1
    assert wheel is None, "no channel, hammer or row is missing"


def test_a_song_that_fits_needs_no_remedy() -> None:
    score, wheel = samples.score([(0, 60)]), samples.wheel()
    remedies = find_remedies(score, wheel, FitOptions(), place_song(score, wheel, FitOptions()))
    assert remedies.tried == 0
    assert "Nothing needs a remedy" in remedies_text(score, remedies, None)


def test_several_changes_are_found_together() -> None:
    """A bass too low and a first hole lost: an octave and another start."""
    wheel = samples.wheel(lost=(LostHole("on", 0, plate=0),))
    score = samples.score([(0, 65, 80, 0), (24, 50, 80, 1)], parts=(Part("Tune"), Part("Bass")))
    placement = place_song(score, wheel, FitOptions())
    best = find_remedies(score, wheel, FitOptions(), placement).song[0]
    assert best.worth == Worth(0, 0, 0, 0)
    assert {change.typed for change in best.changes} <= {
        "--start 2",
        "--start 192",
        "--fold-octaves",
        "--move-part Bass=12",
    }
    assert len(best.changes) == 2


def test_a_change_that_merges_notes_says_so_and_comes_after_one_that_does_not() -> None:
    """A bass an octave too low: up an octave it strikes with the tune; with the whole song up it would not."""
    wheel = samples.wheel([samples.channel(f"bar {pitch}", [pitch]) for pitch in (60, 62, 64, 65)])
    tune = [(24 * number, 60 + step, 80, 0) for number, step in enumerate((0, 2, 4))]
    score = samples.score([*tune, (0, 48, 80, 1), (24, 50, 80, 1)], parts=(Part("Tune"), Part("Bass")))
    remedies = find_remedies(score, wheel, FitOptions(), place_song(score, wheel, FitOptions()))
    merging = [remedy for remedy in remedies.song if remedy.changes[0].typed == "--move-part Bass=12"]
    assert [remedy.worth for remedy in merging] == [Worth(0, 0, 2, 0)]
    assert "all 5 notes sound, 2 in one strike with a note of another pitch" in remedies_text(score, remedies, None)
    apart = [remedy for remedy in remedies.song if not remedy.worth.merged and not remedy.worth.silent]
    assert all(remedies.song.index(remedy) < remedies.song.index(merging[0]) for remedy in apart)


def test_an_idle_channel_is_retuned_before_one_is_added() -> None:
    wheel = samples.wheel([samples.channel("low", [60]), samples.channel("idle", [62])])
    score = samples.score([(0, 60), (24, 64), (48, 66)])
    remedy = fewest_changes(score, wheel, FitOptions(), place_song(score, wheel, FitOptions()))
    assert remedy
    assert (remedy.silent_now, remedy.silent) == (2, 0)
    assert sorted(change.words.split()[0] for change in remedy.changes) == ["add", "retune"]


def test_a_row_is_found_for_notes_off_the_grid() -> None:
    wheel = samples.wheel()
    score = samples.score([(5, 60), (13, 60), (21, 64)], resolution=32)  # 5/8 of a step and of every other
    placement = place_song(score, wheel, FitOptions(reach_quarters=Fraction(0)))
    remedy = fewest_changes(score, wheel, FitOptions(reach_quarters=Fraction(0)), placement)
    assert remedy
    assert remedy.silent == 0
    assert len(remedy.changes) == 1
    assert remedy.changes[0].row
    assert remedy.changes[0].row.phases == (Fraction(5, 8),)


@pytest.mark.parametrize(
    ("name", "semitones", "said"),
    [("Melodi", 12, "Melody"), ("Drums", 12, "percussion"), ("Melody", 120, "reaches pitch 180")],
)
def test_a_part_that_cannot_be_moved_is_told(name: str, semitones: int, said: str) -> None:
    with pytest.raises(UsageError, match=said):
        move_part(samples.score([(0, 60, 80, 0), (0, 36, 80, 1)]), name, semitones)


def test_moving_a_part_leaves_the_others() -> None:
    score = samples.score([(0, 60, 80, 0), (0, 36, 80, 1)])
    moved, findings = move_part(score, "Melody", -5)
    assert moved.pitch_midi.tolist() == [55, 36]
    assert findings[0].count == 1


def test_a_slower_tempo_is_tried_for_every_channel_of_a_note_and_for_limits() -> None:
    """Either hammer could strike each of four notes; the second is the quick one and needs 100 ms where 62.5 are."""
    both = [samples.channel("slow", [60], restrike_ms=900.0), samples.channel("quick", [60], restrike_ms=100.0)]
    on = samples.wheel(both)
    song = samples.score([(0, 60), (3, 60), (6, 60), (9, 60)])
    tempi = [change for change in changes(song, on) if change.kind == Kind.TEMPO]
    assert tempi
    slower = [apply_changes(song, FitOptions(), (change,)) for change in tempi]
    assert max(place_song(made, on, options).placed_count for made, options in slower) == 4
    limited = samples.wheel(strike_limits=(StrikeLimit("drive", ("bar 60", "bar 61", "bar 62"), 2, 160.0),))
    chord = samples.score([(0, 60), (3, 61), (6, 62)])
    tempi = [change for change in changes(chord, limited) if change.kind == Kind.TEMPO]
    made, options = apply_changes(chord, FitOptions(), (tempi[0],))
    assert place_song(made, limited, options).placed_count == 3, "2 x 62.5 ms become 160 ms"


def changes(song: Score, on: Wheel) -> tuple[Change, ...]:
    placement = place_song(song, on, FitOptions())
    assert placement.left_out_count == 1
    return changes_to_try(song, on, FitOptions(), placement)
