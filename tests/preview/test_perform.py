"""What is played: the pins, the score with them, and only what was changed."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from pegwright.ask.options import FitOptions
from pegwright.errors import UsageError
from pegwright.placement import Outcome
from pegwright.preview.perform import PAUSE_S, Compare, Wish, perform, sound_of
from pegwright.preview.performance import Performance, Sound
from pegwright.score import Score
from pegwright.strikes import DEFAULT_VELOCITY
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Wheel
from placed import song_of
from samples import ON, channel, score, wheel

QUARTER_S = 0.5
ON_WHEEL = wheel(
    [
        channel("bar", [60], lead_ms=20, rows=["on"]),
        channel("string", [48], lead_ms=5, rows=["on"]),
        channel("drum", [], [38], lead_ms=40, rows=["on"]),
    ],
    rows=(ON,),
)
# A quarter note is 24 ticks and a step 6: the bar is moved at 25, left out at 51 (off the grid); 61 has no channel.
SONG = score([(0, 60, 100, 0), (25, 60, 50, 0), (51, 60, 70, 0), (0, 48, 90, 0), (24, 61, 60, 0), (48, 38, 110, 1)])


def played(
    song: Score = SONG, on: Wheel = ON_WHEEL, options: FitOptions | None = None, **wishes: object
) -> tuple[list[tuple[str, float, int]], Performance, float]:
    """(sound, seconds, velocity) of each strike, by time."""
    placement, _ = fit_with_findings(song, on, options or FitOptions())
    wish = Wish(**wishes)  # type: ignore[arg-type]  # field names and types are the caller's
    made, put_off_s = perform(song_of(song, on, placement), wish)
    names = [made.sounds[sound].name for sound in made.sound]
    rows = zip(names, np.round(made.seconds, 6).tolist(), made.velocity.tolist(), strict=True)
    return list(rows), made, put_off_s


def test_the_pins_are_heard_their_leads_late_and_as_loud_as_the_score() -> None:
    strikes, made, put_off_s = played()
    assert strikes == [("string", 0.005, 90), ("bar", 0.02, 100), ("bar", 0.52, 50), ("drum", 1.04, 110)]
    assert put_off_s == 0
    assert made.sounds == (
        Sound("bar", 60, False, -0.55),
        Sound("string", 48, False, 0.0),
        Sound("drum", 38, True, 0.55),
    )
    assert (made.us_per_quarter, made.beats, made.beat_type) == (500_000, 4, 4)


def test_without_leads_strikes_are_where_pins_trip() -> None:
    assert [seconds for _, seconds, _ in played(leads=False)[0]] == [0.0, 0.0, 0.5, 1.0]


def test_even_strikes_are_all_alike() -> None:
    assert {velocity for _, _, velocity in played(even=True, compare=Compare.AFTER)[0]} == {DEFAULT_VELOCITY}


def test_turns_follow_one_another() -> None:
    turn_s = 48 * QUARTER_S
    once, thrice = played()[0], played(turn_count=3)[0]
    later = [(name, round(seconds + turn * turn_s, 6), loud) for turn in range(3) for name, seconds, loud in once]
    assert thrice == later


def test_seams_are_heard() -> None:
    song = score([(plate * 32 * 6, 60) for plate in range(6)])
    limp = (1.0, 0.0, 0.0, 0.0, 0.0, -1.0)
    ms_per_mm = 24_000 / ON_WHEEL.geometry.circumference_mm
    seconds = [seconds for _, seconds, _ in played(song, leads=False, seam_errors_mm=limp)[0]]
    assert seconds == pytest.approx([0.0] + [4.0 * plate + ms_per_mm / 1000 for plate in range(1, 6)], abs=2e-6)


def test_beside_one_another_the_score_is_on_the_left_whole_and_as_late_as_the_pins_are() -> None:
    strikes, made, _ = played(compare=Compare.BESIDE)
    late_s = 0.02  # the middle lead of the four pins: 5, 20, 20, 40
    assert [row for row in strikes if row[0].startswith("pins: ")] == [
        (f"pins: {row[0]}", *row[1:]) for row in played()[0]
    ]
    assert [row for row in strikes if row[0].startswith("score: ")] == [
        ("score: C3", late_s, 90),
        ("score: C4", late_s, 100),
        ("score: C#4", round(QUARTER_S + late_s, 6), 60),
        ("score: C4", round(QUARTER_S * 25 / 24 + late_s, 6), 50),
        ("score: Acoustic Snare", round(QUARTER_S * 2 + late_s, 6), 110),
        ("score: C4", round(QUARTER_S * 51 / 24 + late_s, 6), 70),
    ]
    assert {(sound.name[:5], sound.side, sound.alone) for sound in made.sounds} == {
        ("score", -1.0, True),
        ("pins:", 1.0, True),
    }


def test_after_one_another_the_pins_begin_when_the_score_has_ended() -> None:
    strikes, made, _ = played(compare=Compare.AFTER, leads=False)
    begin_s = 4 * QUARTER_S + PAUSE_S  # one bar of 4/4
    pins = [(name, seconds) for name, seconds, _ in strikes if name.startswith("pins: ")]
    assert pins == [
        ("pins: bar", begin_s),
        ("pins: string", begin_s),
        ("pins: bar", begin_s + 0.5),
        ("pins: drum", begin_s + 1),
    ]
    assert not any(sound.alone for sound in made.sounds)


def test_only_what_was_changed() -> None:
    moved, left_out = ("bar", 0.5, 50), [("C#4", 0.5, 60), ("C4", round(QUARTER_S * 51 / 24, 6), 70)]
    assert Counter(played(only_changed=True, leads=False)[0]) == Counter([moved, *left_out])
    strikes = played(only_changed=True, leads=False, compare=Compare.BESIDE)[0]
    assert Counter(strikes) == Counter(
        [
            ("pins: bar", 0.5, 50),
            ("score: C4", round(QUARTER_S * 25 / 24, 6), 50),
            *((f"score: {name}", *rest) for name, *rest in left_out),
        ]
    )


def test_nothing_changed_is_nothing_to_hear() -> None:
    assert played(score([(0, 60)]), only_changed=True)[0] == []


def test_notes_in_are_all_heard_in_the_score() -> None:
    strikes = played(compare=Compare.BESIDE)[0]
    assert sum(name.startswith("score: ") for name, *_ in strikes) == SONG.note_count


def test_the_score_is_heard_in_the_key_that_was_asked_for() -> None:
    song = score([(0, 58, 80, 0), (24, 127, 80, 0), (48, 38, 80, 1)])
    strikes = played(song, options=FitOptions(transpose_semitones=2), compare=Compare.AFTER)[0]
    assert [name for name, *_ in strikes if name.startswith("score")] == ["score: C4", "score: Acoustic Snare"]


def test_a_strike_before_the_songs_start_puts_all_off_by_a_quarter_note() -> None:
    on = replace(ON_WHEEL, rows=(replace(ON, phases=(Fraction(1, 2),)),), reach_quarters=Fraction(1, 8))
    strikes, _, put_off_s = played(score([(0, 60)]), on, FitOptions(start_steps=Fraction(4)), leads=False)
    assert put_off_s == QUARTER_S
    assert strikes == [("bar", QUARTER_S - 0.0625, 80)]


def test_more_than_a_file_should_hold_is_refused() -> None:
    turn_s = 24.0
    assert len(played(score([(0, 60)]), turn_count=26, leads=False)[0]) == 26
    with pytest.raises(
        UsageError, match=rf"{26 * turn_s:.0f} s to hear, above the maximum, 600 s \(take fewer --turns"
    ):
        played(score([(0, 60)]), turn_count=27, leads=False)


def test_a_channel_sounds_its_first_pitch_or_its_first_drum_key() -> None:
    assert sound_of(channel("a", [72, 60], [38]), 0.5) == Sound("a", 72, False, 0.5)
    assert sound_of(channel("b", [], [76, 42]), 0.0) == Sound("b", 76, True, 0.0)
    assert sound_of(channel("c"), 0.0) is None


def test_a_channel_that_plays_nothing_is_not_heard() -> None:
    on = replace(ON_WHEEL, channels=(channel("blank", rows=["on"]), *ON_WHEEL.channels))
    strikes, made, _ = played(on=on)
    assert [name for name, *_ in strikes] == ["string", "bar", "bar", "drum"]
    assert [sound.name for sound in made.sounds] == ["bar", "string", "drum"]


def test_an_empty_song_is_no_strikes() -> None:
    for wishes in ({}, {"compare": Compare.BESIDE}, {"only_changed": True}):
        assert played(score([]), **wishes)[0] == []


def test_the_song_of_these_tests_is_what_it_says() -> None:
    placement, _ = fit_with_findings(SONG, ON_WHEEL, FitOptions())
    assert Counter(placement.outcome.tolist()) == {Outcome.PLACED: 4, Outcome.NO_CHANNEL: 1, Outcome.OFF_GRID: 1}
