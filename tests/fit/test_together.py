"""Turns that are placed and verified in one pass come out as each does alone, and many take few passes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crowded import crowd
from pegwright.ask.options import ChannelRule, FitOptions
from pegwright.check import verify as checking
from pegwright.check.subject import lane_ticks, subject_of
from pegwright.check.verify import verify, verify_turns
from pegwright.columns import frozen_ints
from pegwright.edit.turns import cut_turns
from pegwright.errors import UsageError
from pegwright.fit import placing, together
from pegwright.fit.arrange import arrange
from pegwright.fit.placing import fit_turn, fit_turns
from pegwright.fit.together import batches
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.song_pipeline.fitting import fit_score
from pegwright.tell.findings import findings_of
from pegwright.wheel import Wheel
from samples import channel, score, wheel
from strategies import options, scores, wheels

TURN_TICKS = 24 * 48


def equal(one: Placement, other: Placement) -> bool:
    """Whether two placements are alike in every field."""
    return all(np.array_equal(getattr(one, field.name), getattr(other, field.name)) for field in fields(Placement))


def crowded_turns(count: int) -> tuple[list[Score], Wheel]:
    """Turns with every outcome among their notes, the last without a note, on a wheel with limits."""
    song, on = crowd(400)
    turns = [song.with_notes(np.arange(number, song.note_count - 3 * number)) for number in range(count - 1)]
    return [*turns, song.with_notes(np.arange(0))], on


@pytest.mark.parametrize("fold", [False, True])
def test_turns_placed_in_one_pass_are_as_each_alone(fold: bool) -> None:
    turns, on = crowded_turns(6)
    chosen = FitOptions(start_steps=Fraction(9, 2), fold_octaves=fold)
    fits = fit_turns(turns, on, chosen)
    assert len(fits) == len(turns)
    seen = set[int]()
    for turn, fit in zip(turns, fits, strict=True):
        alone = fit_turn(turn, on, chosen)
        assert equal(fit.placement, alone.placement)
        assert list(findings_of(fit)) == list(findings_of(alone))
        seen |= set(fit.placement.outcome.tolist())
    assert seen == set(Outcome)


@pytest.mark.parametrize("rule", ChannelRule)
def test_turns_whose_channels_share_pitches_are_as_each_alone(rule: ChannelRule) -> None:
    on = wheel([channel("left", [60], restrike_ms=400.0), channel("right", [60, 62]), channel("third", [64])])
    turns = [score([(6 * place, 60 + 2 * (place * number % 3)) for place in range(30)]) for number in (1, 2, 5)]
    chosen = FitOptions(channel_rule=rule)
    turns = [replace(turn, parts=turns[0].parts) for turn in turns]
    for turn, fit in zip(turns, fit_turns(turns, on, chosen), strict=True):
        assert equal(fit.placement, fit_turn(turn, on, chosen).placement)


@given(st.lists(scores(), min_size=2, max_size=4), wheels(), options())
@settings(max_examples=60, deadline=None)
def test_random_turns_are_as_each_alone(turns: list[Score], on: Wheel, chosen: FitOptions) -> None:
    first = turns[0]
    turns = [replace(turn, parts=first.parts, tempo_map=first.tempo_map) for turn in turns]
    turns = [turn for turn in turns if settings_alike(turn, first)]
    try:
        alone = [fit_turn(turn, on, chosen) for turn in turns]
    except UsageError:
        with pytest.raises(UsageError):
            fit_turns(turns, on, chosen)
        return
    joined = fit_turns(turns, on, chosen)
    assert all(equal(one.placement, other.placement) for one, other in zip(joined, alone, strict=True))
    assert verify_turns([(turn, fit.placement) for turn, fit in zip(turns, joined, strict=True)], on) == ()


def settings_alike(one: Score, other: Score) -> bool:
    """Whether two scores could be turns of one song."""
    parts = max(one.part.max(initial=0), other.part.max(initial=0))
    return (one.resolution, one.tolerance_ticks) == (other.resolution, other.tolerance_ticks) and parts < len(one.parts)


def song_of_turns(count: int) -> Score:
    """Turns of two notes, no two alike."""
    rows = [(TURN_TICKS * turn + 6 * place, pitch) for turn in range(count) for place, pitch in ((turn, 60), (150, 61))]
    return score(rows)


def test_a_song_of_many_turns_is_placed_and_verified_in_one_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    passes = {"placed": 0, "verified": 0}

    def placed(*arguments: object) -> object:
        passes["placed"] += 1
        return arrange(*arguments)  # type: ignore[arg-type]

    def verified(*arguments: object) -> object:
        passes["verified"] += 1
        return subject_of(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(placing, "arrange", placed)
    monkeypatch.setattr(checking, "subject_of", verified)
    song = fit_score(song_of_turns(100), wheel())
    assert (len(song.turns), len(set(song.running)), song.sounding_count) == (100, 100, 200)
    assert passes == {"placed": 1, "verified": 1}


def test_a_pass_has_no_more_notes_than_it_may(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(together, "BATCH_NOTES", 10)
    monkeypatch.setattr(checking, "BATCH_NOTES", 10)
    turns = cut_turns(song_of_turns(12), wheel())
    assert [len(batch) for batch in batches(turns)] == [5, 5, 2]
    assert [turn.note_count for batch in batches([crowd(20)[0]] * 2) for turn in batch] == [20, 20]
    fits = fit_turns(turns, wheel(), FitOptions())
    pairs = [(turn, fit.placement) for turn, fit in zip(turns, fits, strict=True)]
    assert [len(batch) for batch in checking._batches(pairs, wheel())] == [5, 5, 2]
    assert all(equal(fit.placement, fit_turn(turn, wheel(), FitOptions()).placement) for turn, fit in
               zip(turns, fits, strict=True))  # fmt: skip


def test_places_on_the_lanes_of_a_pass_stay_numbers_of_64_bits(monkeypatch: pytest.MonkeyPatch) -> None:
    turns, on = crowded_turns(4)
    made = verified(turns, on)
    monkeypatch.setattr(checking, "MAX_TICKS", 2 * lane_ticks(on, made[0][1]))
    assert [len(batch) for batch in checking._batches(made, on)] == [2, 2]
    assert verify_turns(made, on) == ()


def test_turns_at_different_settings_are_verified_apart() -> None:
    turns, on = crowded_turns(3)
    starts = [FitOptions(start_steps=Fraction(number)) for number in (0, 0, 5)]
    made = [(turn, fit_turn(turn, on, chosen).placement) for turn, chosen in zip(turns, starts, strict=True)]
    assert [len(batch) for batch in checking._batches(made, on)] == [2, 1]
    assert verify_turns(made, on) == ()


def verified(turns: Sequence[Score], on: Wheel) -> list[tuple[Score, Placement]]:
    """Turns with their placements, which are sound."""
    made = [(turn, fit.placement) for turn, fit in zip(turns, fit_turns(turns, on, FitOptions()), strict=True)]
    assert verify_turns(made, on) == ()
    return made


@pytest.mark.parametrize("name", ["outcome", "channel", "plate", "row", "index", "deviation_ticks", "unison"])
def test_what_breaks_a_rule_in_one_of_several_turns_is_reported_as_of_that_turn_alone(name: str) -> None:
    turns, on = crowded_turns(4)
    made, chance = verified(turns, on), np.random.default_rng(7)
    for number, note in zip(chance.integers(0, 3, 40).tolist(), chance.integers(0, 200, 40).tolist(), strict=True):
        turn, placement = made[number]
        column = np.array(getattr(placement, name))
        column[note] += 1
        wrong: Placement = replace(placement, **{name: frozen_ints(column)})
        changed = [*made[:number], (turn, wrong), *made[number + 1 :]]
        assert verify_turns(changed, on) == verify(turn, on, wrong)


def test_totals_of_every_turn_are_verified() -> None:
    turns, on = crowded_turns(4)
    made = verified(turns, on)
    for number, (turn, placement) in enumerate(made):
        for wrong in (replace(placement, cost_ticks=placement.cost_ticks + 1), replace(placement, weight=7)):
            changed = [*made[:number], (turn, wrong), *made[number + 1 :]]
            assert verify_turns(changed, on) == verify(turn, on, wrong) != ()


def test_pins_of_two_turns_do_not_bear_on_one_another_wherever_they_are() -> None:
    """The same notes on every channel, channels so near that all pins of one place would touch."""
    on = wheel([channel(f"bar {pitch}", [pitch]) for pitch in range(60, 64)])
    near = replace(on, geometry=replace(on.geometry, channel_pitch_mm=0.01))
    turns = [score([(6, pitch), (30 + 6 * pitch, 60)]) for pitch in range(60, 64)]
    turns = [replace(turn, parts=turns[0].parts) for turn in turns]
    made = verified(turns, on)
    for turn, placement in made:
        assert verify(turn, near, placement) == ()
    assert verify_turns(made, near) == ()
