"""From part and pitch to channels: transposition, octaves, percussion keys and priorities."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.fit.arrange import NO_CHOICE, Arrangement, arrange, arrange_findings
from pegwright.fit.placing import place_song
from pegwright.score import Part, Score
from pegwright.wheel import Wheel
from samples import channel, score, wheel


class Unlisted(tuple[Part, ...]):
    """The parts of a score, which are asked for one by one and never gone through."""

    __slots__ = ()

    def __iter__(self) -> Iterator[Part]:
        raise AssertionError("all parts of the song are gone through")


def arranged(song: Score, on: Wheel, options: FitOptions) -> tuple[Arrangement, tuple[Finding, ...]]:
    """The arrangement and its findings."""
    made = arrange(song, on, options)
    return made, arrange_findings(song, options, made)


THREE = [channel("low C", [48]), channel("C", [60, 61]), channel("C again", [60]), channel("snare", [], [38, 40])]


def test_all_channels_of_a_pitch_are_choices_and_the_first_is_taken() -> None:
    made, findings = arranged(score([(0, 60), (6, 61), (12, 62), (18, 48)]), wheel(THREE), FitOptions())
    assert made.choices == ((1, 2), (1,), (), (0,))
    assert made.channel.tolist() == [1, 1, NO_CHOICE, 0]
    assert findings == ()


def test_transposition_moves_pitches_but_never_percussion() -> None:
    song = score([(0, 58, 80, 0), (6, 38, 80, 1)])
    made, findings = arranged(song, wheel(THREE), FitOptions(transpose_semitones=2))
    assert made.channel.tolist() == [1, 3]
    assert made.sounding.tolist() == [60, 38]
    assert [(finding.code, finding.severity, finding.count) for finding in findings] == [
        ("transposed", Severity.CHANGED, 1)
    ]
    assert findings[0].message == "1 note transposed 2 semitones higher"


def test_folding_takes_the_nearest_octave_and_the_lower_one_on_a_tie() -> None:
    on = wheel([channel("low", [48]), channel("high", [72])])
    song = score([(0, 60), (6, 36), (12, 96), (18, 61), (24, 0), (30, 127), (36, 120)])
    made, findings = arranged(song, on, FitOptions(fold_octaves=True))
    assert made.sounding.tolist() == [48, 48, 72, 61, 48, 127, 72]
    assert made.octaves.tolist() == [-1, 1, -2, 0, 4, 0, -4]
    assert made.channel.tolist() == [0, 0, 1, NO_CHOICE, 0, NO_CHOICE, 1]
    assert [(finding.message.split(",")[0], finding.count) for finding in findings] == [
        ("1 note folded 4 octaves lower", 1),
        ("1 note folded 2 octaves lower", 1),
        ("1 note folded 1 octave lower", 1),
        ("1 note folded 1 octave higher", 1),
        ("1 note folded 4 octaves higher", 1),
    ]
    assert {finding.where for finding in findings} == {"test.mid:Melody"}


def test_a_pitch_that_has_a_channel_is_not_folded() -> None:
    made, findings = arranged(score([(0, 60)]), wheel(THREE), FitOptions(fold_octaves=True))
    assert (made.octaves.tolist(), findings) == ([0], ())


def test_transposed_out_of_the_midi_range_can_still_be_folded() -> None:
    on = wheel([channel("top", [115])])
    made = arrange(score([(0, 127)]), on, FitOptions(transpose_semitones=24, fold_octaves=True))
    assert (made.sounding.tolist(), made.octaves.tolist(), made.channel.tolist()) == ([115], [-3], [0])


def test_percussion_keys_can_be_replaced() -> None:
    song = score([(0, 35, 80, 1), (6, 35, 80, 1), (12, 38, 80, 1), (18, 35, 80, 0)])
    made, findings = arranged(song, wheel(THREE), FitOptions(drum_keys=((35, 40), (36, 38))))
    assert made.channel.tolist() == [3, 3, 3, NO_CHOICE]  # pitch 35 of the melody is no percussion key
    assert [(finding.message, finding.count) for finding in findings] == [
        ("2 strokes of percussion key 35 sounded by key 40", 2)
    ]


def test_weight_is_priority_then_velocity() -> None:
    song = score([(0, 60, 1, 0), (6, 60, 127, 0), (12, 38, 64, 1)])
    made = arrange(song, wheel(THREE), FitOptions(part_priorities=(("Drums", 99),)))
    assert made.weight.tolist() == [129, 255, 128 * 99 + 64]


def test_priority_of_a_part_that_is_not_there_is_told_with_the_nearest_name() -> None:
    song = score([(0, 60)], parts=(Part("Melody"), Part("Second Violin")))
    with pytest.raises(UsageError) as told:
        arrange(song, wheel(THREE), FitOptions(part_priorities=(("second violin", 2),)))
    assert "no part 'second violin'" in str(told.value)
    assert told.value.hint == "the nearest name is 'Second Violin'; the names are 'Melody' and 'Second Violin'"
    assert told.value.where == "test.mid"


def test_a_turn_asks_for_the_parts_of_its_notes_alone_however_many_the_song_has() -> None:
    many = tuple(Part(f"Part {number}", percussion=number == 700) for number in range(1_000))
    song = replace(score([(0, 60, 80, 3), (6, 38, 80, 700), (12, 61, 80, 999)], parts=many), parts=Unlisted(many))
    on = wheel(THREE)
    made = arrange(song, on, FitOptions())
    assert made.channel.tolist() == [1, 3, 1]
    assert verify(song, on, place_song(song, on, FitOptions())) == ()
