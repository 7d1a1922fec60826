"""Remedies: every one, when applied, does what it says."""

from __future__ import annotations

import json
import math
import shlex
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

import samples
import strategies
import thorough
from commands import SONGS, WHEEL, runner
from pegwright.ask.options import FitOptions
from pegwright.ask.request import Request
from pegwright.check.verify import verify
from pegwright.config import load_wheel
from pegwright.edit.parts import move_part
from pegwright.edit.turns import cut_turns
from pegwright.errors import UsageError
from pegwright.fit.placing import place_song
from pegwright.fit.turn import tempo_of
from pegwright.placement import Outcome
from pegwright.remedy.additions import Addition, AdditionKind, row_additions, with_additions
from pegwright.remedy.budget import FULL_WORK, Budget
from pegwright.remedy.candidates import changes_to_try
from pegwright.remedy.changes import Change, ChangeKind, apply_changes
from pegwright.remedy.song_remedies import SILENT, Shortfall, find_remedies, levels_of
from pegwright.remedy.wheel_changes import fewest_changes
from pegwright.score import Part, Score
from pegwright.song_pipeline.fitting import fit_file, remedies_for
from pegwright.tell.audible import Audibility
from pegwright.tell.findings import fit_with_findings
from pegwright.verdict.judge import judge
from pegwright.wheel import LostHole, StrikeLimit, Wheel
from pegwright.write.report.remedies import remedies_json, remedies_text


def worth(score: Score, wheel: Wheel, options: FitOptions, written: Score | None = None) -> Shortfall:
    """Counted anew from a whole fit; `written` is the song before anything was changed."""
    placement, _ = fit_with_findings(score, wheel, options)
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
    return Shortfall(counts[SILENT], counts[Audibility.AUDIBLE], merged, sum(counts[1:SILENT]))


@settings(max_examples=thorough.cases(25, 60))
@given(strategies.scores(most=12), strategies.wheels(), strategies.options())
def test_every_remedy_when_applied_does_what_it_says(score: Score, wheel: Wheel, options: FitOptions) -> None:
    placement = place_song(score, wheel, options)
    remedies = find_remedies([score], wheel, options, [placement])
    if remedies.tried:
        assert remedies.now == worth(score, wheel, options)
    for remedy in remedies.song:
        assert worth(*_changed(score, wheel, options, remedy.changes), score) == remedy.shortfall
        assert remedy.shortfall < remedies.now
    before = levels_of(score, placement)
    for note, found in remedies.notes.items():
        for item in found:
            changed_score, _, changed_options = _changed(score, wheel, options, (item.change,))
            after = place_song(changed_score, wheel, changed_options)
            assert levels_of(changed_score, after)[note] == item.level < before[note]
            assert worth(changed_score, wheel, changed_options, score) == item.shortfall
    assert remedies_text(score, remedies, None)
    assert remedies_json(score, remedies, None)


def _changed(score: Score, wheel: Wheel, options: FitOptions, changes: tuple) -> tuple[Score, Wheel, FitOptions]:  # type: ignore[type-arg]  # of Change
    (changed,), chosen = apply_changes([score], options, changes)
    return changed, wheel, chosen


@settings(max_examples=thorough.cases(50, 200))
@given(strategies.scores(most=12), strategies.wheels(), strategies.options())
def test_changes_to_the_wheel_do_what_they_say_and_none_is_idle(
    score: Score, wheel: Wheel, options: FitOptions
) -> None:
    turns, options = turns_of(score, wheel, options)
    placements = [place_song(turn, wheel, options) for turn in turns]
    remedy = fewest_changes(turns, wheel, options, placements)
    if remedy is None:
        return
    assert remedy.silent_now == silent_by_the_verifier(turns, wheel, options)
    assert remedy.silent < remedy.silent_now
    assert silent_by_the_verifier(turns, with_additions(wheel, remedy.changes), options) == remedy.silent
    for thing in remedy.changes:
        without = with_additions(wheel, set(remedy.changes) - {thing})
        assert silent_by_the_verifier(turns, without, options) > remedy.silent
    assert len(remedy.words) <= len(remedy.changes)
    assert silent_by_the_verifier(turns, remedy.changed, options) == remedy.silent


def turns_of(score: Score, wheel: Wheel, options: FitOptions) -> tuple[tuple[Score, ...], FitOptions]:
    """The turns of a song and its options with the tempo that they share."""
    return cut_turns(score, wheel), replace(options, us_per_quarter=tempo_of(score, options)[0])


def silent_by_the_verifier(turns: Sequence[Score], on: Wheel, options: FitOptions) -> int:
    """Notes that have neither a pin nor another note's pin, counted one by one from placements that were verified."""
    silent = 0
    for turn in turns:
        placement, _ = fit_with_findings(turn, on, options)
        assert verify(turn, on, placement) == ()
        pinned = [outcome == Outcome.PLACED for outcome in placement.outcome.tolist()]
        by = placement.unison.tolist()
        silent += sum(not pin and not (by[note] >= 0 and pinned[by[note]]) for note, pin in enumerate(pinned))
    return silent


@settings(max_examples=thorough.cases(25, 60))
@given(strategies.scores(most=14), strategies.wheels(), st.integers(0, 2), st.booleans())
def test_a_survey_and_the_fewest_changes_agree(score: Score, wheel: Wheel, semitones: int, pause: bool) -> None:
    """Where the survey says that things let a whole piece in, no more changes than these are found to do so too."""
    song = with_a_silent_turn(score, wheel) if pause else score
    try:
        verdict = judge(song, wheel, semitones)
    except UsageError:  # a re-strike longer than a turn
        return
    choice = FitOptions(
        transpose_semitones=verdict.transpose_semitones,
        start_steps=Fraction(verdict.start_steps),
        us_per_quarter=verdict.us_per_quarter,
    )
    turns = cut_turns(song, wheel)
    placements = [place_song(turn, wheel, choice) for turn in turns]
    remedy = fewest_changes(turns, wheel, choice, placements)
    assert verdict.at_best.count.left_out == silent_by_the_verifier(turns, wheel, choice)
    if verdict.fits:
        assert remedy is None
    if not verdict.let_in:
        return
    event(f"{len(verdict.lacks)} things let {len(turns)} turns in")
    assert silent_by_the_verifier(turns, with_additions(wheel, verdict.lacks), choice) == 0
    assert all(
        silent_by_the_verifier(turns, with_additions(wheel, set(verdict.lacks) - {thing}), choice)
        for thing in verdict.lacks
    )
    assert remedy
    assert remedy.silent == 0
    assert len(remedy.changes) <= len(verdict.lacks)


def with_a_silent_turn(score: Score, on: Wheel) -> Score:
    """The song and, after two turns of silence at the least, the song again."""
    turns = score.length_ticks // math.floor(on.turn_quarters * score.resolution) + 3
    later = turns * math.ceil(on.turn_quarters * score.resolution)
    columns = (score.onset_ticks, score.pitch_midi, score.velocity, score.part)
    once = list(zip(*(column.tolist() for column in columns), strict=True))
    return samples.score(
        [*once, *((at + later, pitch, velocity, part) for at, pitch, velocity, part in once)],
        resolution=score.resolution,
        us_per_quarter=int(score.tempo_map.us_per_quarter[0]),
        tolerance_ticks=score.tolerance_ticks,
        parts=score.parts,
    )


@settings(max_examples=thorough.cases(8, 80))
@given(strategies.scores(most=12), strategies.wheels(), strategies.options(), st.booleans())
def test_remedies_over_several_turns_do_what_they_say(
    score: Score, wheel: Wheel, options: FitOptions, pause: bool
) -> None:
    song = with_a_silent_turn(score, wheel) if pause else score
    turns, options = turns_of(song, wheel, options)
    assume(len(turns) > 1)
    placements = [place_song(turn, wheel, options) for turn in turns]
    remedies = find_remedies(turns, wheel, options, placements)
    if remedies.tried:
        assert remedies.now == song_worth(turns, wheel, options, turns)
    for remedy in remedies.song:
        event(f"{len(remedy.changes)} changes help {len(turns)} turns")
        assert song_worth(*applied(turns, wheel, options, remedy.changes), turns) == remedy.shortfall
        assert remedy.shortfall < remedies.now
    before = [level for turn, placement in zip(turns, placements, strict=True) for level in levels_of(turn, placement)]
    assert sorted(remedies.notes) == [
        note for note, level in enumerate(before) if level >= Audibility.SLIGHT and remedies.tried
    ]
    for note, single in remedies.notes.items():
        for item in single:
            changed, _, chosen = applied(turns, wheel, options, (item.change,))
            after = [level for turn in changed for level in levels_of(turn, place_song(turn, wheel, chosen))]
            assert after[note] == item.level < before[note]
            assert song_worth(changed, wheel, chosen, turns) == item.shortfall


def applied(
    turns: Sequence[Score], on: Wheel, options: FitOptions, made: tuple[Change, ...]
) -> tuple[Sequence[Score], Wheel, FitOptions]:
    changed, chosen = apply_changes(turns, options, made)
    return changed, on, chosen


def song_worth(turns: Sequence[Score], on: Wheel, options: FitOptions, written: Sequence[Score]) -> Shortfall:
    """The sums over the turns, each counted anew from a whole fit."""
    each = [worth(turn, on, options, before) for turn, before in zip(turns, written, strict=True)]
    silent, audible, merged, moved = (
        sum(column) for column in zip(*((it.silent, it.audible, it.merged, it.moved) for it in each), strict=True)
    )
    return Shortfall(silent, audible, merged, moved)


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
        assert report["count"]["left_out"] == len(report["left_out"]) == remedy.shortfall.silent
        assert report["placed_by_audibility"]["audible"] == remedy.shortfall.audible


def test_the_march_needs_only_another_start() -> None:
    remedies, wheel = remedies_for(fit_file(SONGS / "lamplighters-march.mid", load_wheel(WHEEL), Request()))
    assert [change.typed for change in remedies.song[0].changes] == ["--start 192"]
    assert remedies.song[0].shortfall == Shortfall(0, 0, 0, 0)
    assert len(remedies.song) == 1
    assert wheel is None, "no channel, hammer or row is missing"


def test_a_song_that_fits_needs_no_remedy() -> None:
    score, wheel = samples.score([(0, 60)]), samples.wheel()
    remedies = find_remedies([score], wheel, FitOptions(), [place_song(score, wheel, FitOptions())])
    assert remedies.tried == 0
    assert "Nothing needs a remedy" in remedies_text(score, remedies, None)


def test_several_changes_are_found_together() -> None:
    """A bass too low and a first hole lost: an octave and another start."""
    wheel = samples.wheel(lost=(LostHole("on", 0, plate=0),))
    score = samples.score([(0, 65, 80, 0), (24, 50, 80, 1)], parts=(Part("Tune"), Part("Bass")))
    placement = place_song(score, wheel, FitOptions())
    best = find_remedies([score], wheel, FitOptions(), [placement]).song[0]
    assert best.shortfall == Shortfall(0, 0, 0, 0)
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
    remedies = find_remedies([score], wheel, FitOptions(), [place_song(score, wheel, FitOptions())])
    merging = [remedy for remedy in remedies.song if remedy.changes[0].typed == "--move-part Bass=12"]
    assert [remedy.shortfall for remedy in merging] == [Shortfall(0, 0, 2, 0)]
    assert "all 5 notes sound, 2 sharing the pin of a note of another pitch" in remedies_text(score, remedies, None)
    apart = [remedy for remedy in remedies.song if not remedy.shortfall.merged and not remedy.shortfall.silent]
    assert all(remedies.song.index(remedy) < remedies.song.index(merging[0]) for remedy in apart)


def test_an_idle_channel_is_retuned_before_one_is_added() -> None:
    wheel = samples.wheel([samples.channel("low", [60]), samples.channel("idle", [62])])
    score = samples.score([(0, 60), (24, 64), (48, 66)])
    remedy = fewest_changes([score], wheel, FitOptions(), [place_song(score, wheel, FitOptions())])
    assert remedy
    assert (remedy.silent_now, remedy.silent) == (2, 0)
    assert remedy.changes == (Addition(AdditionKind.RETUNED, 64, channel="idle"), Addition(AdditionKind.PITCH, 66))
    assert remedy.words == ("idle, which the song does not use, retuned to E4 (64)", "a channel for F#4 (66)")


def test_a_channel_that_cannot_keep_up_is_given_one_more_and_yet_one_more() -> None:
    """Three strikes 31 ms apart where each hammer needs 90: three hammers, the second and third of one bar."""
    wheel = samples.wheel([samples.channel("bar", [60]), samples.channel("other", [62])], reach_quarters=Fraction(0))
    score = samples.score([(0, 60), (6, 60), (12, 60), (48, 62)], us_per_quarter=125_000)
    remedy = fewest_changes([score], wheel, FitOptions(), [place_song(score, wheel, FitOptions())])
    assert remedy
    assert remedy.silent == 0
    assert remedy.words == ("2 more channels for bar",)
    assert with_additions(wheel, remedy.changes).channels[2:] == tuple(
        replace(wheel.channels[0], name=f"bar, {number}") for number in (2, 3)
    )


def test_a_row_is_found_for_notes_off_the_grid() -> None:
    wheel = samples.wheel()
    score = samples.score([(5, 60), (13, 60), (21, 64)], resolution=32)  # 5/8 of a step and of every other
    placement = place_song(score, wheel, FitOptions(reach_quarters=Fraction(0)))
    remedy = fewest_changes([score], wheel, FitOptions(reach_quarters=Fraction(0)), [placement])
    assert remedy
    assert remedy.silent == 0
    assert len(remedy.changes) == 1
    assert remedy.changes[0] in row_additions(wheel)
    assert Fraction(5, 8) in remedy.changes[0].phases


def test_one_row_is_enough_where_it_has_a_hole_for_every_note() -> None:
    """At 8 and 9 twentieths of a step: fifths have a hole for both, halves, which are simpler, for one alone."""
    wheel = samples.wheel(
        [samples.channel(f"bar {pitch}", [pitch], rows=["on"]) for pitch in (60, 61, 62)],
        rows=(samples.ON,),
        geometry=replace(samples.GEOMETRY, pin_diameter_mm=2.5),  # fifths of a step are 3.125 mm apart
        reach_quarters=Fraction(1, 80),
    )
    score = samples.score([(0, 60), (8, 61), (9, 62)], resolution=80)
    remedy = fewest_changes([score], wheel, FitOptions(), [place_song(score, wheel, FitOptions())])
    assert remedy
    assert remedy.silent == 0
    assert [thing.code for thing in remedy.changes] == ["row 1/5 2/5 3/5 4/5 of 1"]
    verdict = judge(score, wheel, 0)
    assert (verdict.lacks, verdict.let_in) == (remedy.changes, True)


def test_a_channel_is_added_where_the_one_retuned_could_not_keep_up() -> None:
    wheel = samples.wheel([samples.channel("idle", [62], restrike_ms=900.0), samples.channel("bar", [65])])
    score = samples.score([(0, 65), (24, 64), (30, 64), (36, 64)])
    remedy = fewest_changes([score], wheel, FitOptions(), [place_song(score, wheel, FitOptions())])
    assert remedy
    assert (remedy.silent, remedy.changes) == (0, (Addition(AdditionKind.PITCH, 64),))


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
    tempi = [change for change in changes(song, on) if change.kind == ChangeKind.TEMPO]
    assert tempi
    slower = [apply_changes([song], FitOptions(), (change,)) for change in tempi]
    assert max(place_song(made, on, options).placed_count for (made,), options in slower) == 4
    limited = samples.wheel(strike_limits=(StrikeLimit("drive", ("bar 60", "bar 61", "bar 62"), 2, 160.0),))
    chord = samples.score([(0, 60), (3, 61), (6, 62)])
    tempi = [change for change in changes(chord, limited) if change.kind == ChangeKind.TEMPO]
    (made,), options = apply_changes([chord], FitOptions(), (tempi[0],))
    assert place_song(made, limited, options).placed_count == 3, "2 x 62.5 ms become 160 ms"


def changes(song: Score, on: Wheel) -> tuple[Change, ...]:
    placement = place_song(song, on, FitOptions())
    assert placement.left_out_count == 1
    return changes_to_try([song], on, FitOptions(), [placement], Budget(FULL_WORK))
