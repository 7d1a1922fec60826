"""MusicXML to notes: what every element means for the sound."""

from __future__ import annotations

from fractions import Fraction
from typing import TypeAlias

import pytest
from pretty_midi import instrument_name_to_program, note_number_to_drum_name

from musicxml_text import (
    FOUR_FOUR,
    QUARTER,
    attributes,
    backup,
    bar,
    drum,
    forward,
    note,
    one_bar,
    rest,
    score,
    sound,
    tie,
    tuplet,
    words,
)
from pegwright.errors import InputError
from pegwright.findings import Finding, Severity
from pegwright.musicxml.drums import key_of_name
from pegwright.musicxml.notices import Notice
from pegwright.musicxml.reader import read_musicxml
from pegwright.score import Score
from places import ROOT

Quarters: TypeAlias = Fraction | int


def read(data: bytes) -> Score:
    return read_musicxml(data, "tune.musicxml")[0]


def found(data: bytes) -> dict[str, Finding]:
    """What was noticed, by code, but for the short bars of these little scores, and tempo and metre left out."""
    plain = ("tempo-assumed", "metre-assumed", "short-bars", "pickup-bar")
    return {code: finding for code, finding in noticed(data).items() if code not in plain}


def noticed(data: bytes) -> dict[str, Finding]:
    """All that was noticed, by code."""
    return {finding.code: finding for finding in read_musicxml(data, "tune.musicxml")[1]}


def sounding(song: Score) -> list[tuple[Quarters, Quarters, int]]:
    """(onset, duration, pitch) of every note, times in quarters, sorted."""
    return sorted(
        (Fraction(onset, song.resolution), Fraction(duration, song.resolution), pitch)
        for onset, duration, pitch in zip(
            song.onset_ticks.tolist(), song.duration_ticks.tolist(), song.pitch_midi.tolist(), strict=True
        )
    )


def onsets(song: Score) -> list[Quarters]:
    return [onset for onset, _, _ in sounding(song)]


# Time


def test_w3c_triplet_quarters_of_4_at_6_divisions_fall_on_exact_thirds() -> None:
    # W3C MusicXML 4.0, time-modification: three "quarter" notes of duration 4 in a half note, which is
    # 12 divisions; hence divisions 6 and onsets 0, 2/3 and 4/3 of a quarter.
    triplet = tuplet("quarter", 3, 2)
    song = read(one_bar(*(note("C4", 4, triplet) for _ in range(3)), divisions=6))
    assert onsets(song) == [0, Fraction(2, 3), Fraction(4, 3)]
    assert song.resolution == 3
    assert song.tolerance_ticks == 0
    # At 120 a minute: 0, 1/3 and 2/3 of a second.
    us = int(song.tempo_map.us_per_quarter[0])
    assert [Fraction(onset * us, 1_000_000) for onset in onsets(song)] == [0, Fraction(1, 3), Fraction(2, 3)]
    assert not song.tempo_map.stated


def test_w3c_duration_128_at_32_divisions_is_a_whole_note() -> None:
    # W3C MusicXML 4.0, divisions: "divisions 32, duration 128" is a whole note.
    assert sounding(read(one_bar(note("C4", 128), divisions=32))) == [(0, 4, 60)]


def test_chord_notes_do_not_move_the_position_but_backup_and_forward_do() -> None:
    # W3C MusicXML 4.0, duration: it moves the position in backup, forward and notes without chord.
    song = read(
        one_bar(note("C4", 2), note("E4", 2, before="<chord/>"), note("D4", 2), backup(4), forward(1), note("G3", 1))
    )
    assert sounding(song) == [(0, 2, 60), (0, 2, 64), (1, 1, 55), (2, 2, 62)]


def test_divisions_may_change_at_any_bar_and_be_fractions() -> None:
    song = read(
        score(
            [
                bar(attributes("<divisions>0.5</divisions>" + FOUR_FOUR), note("C4", 1), note("D4", "1.0")),
                bar(attributes("<divisions>7</divisions>"), note("E4", 7), note("F4", 1), number=2),
            ]
        )
    )
    assert sounding(song) == [(0, 2, 60), (2, 2, 62), (4, 1, 64), (5, Fraction(1, 7), 65)]


@pytest.mark.parametrize(
    ("divisions", "durations"),
    [
        (256, (85, 85, 86)),
        (256, (85, 85, 85)),
        (128, (43, 43, 42)),
        (128, (42, 43, 43)),
        (2, (1, 1, 0)),
        (4, (1, 1, 2)),
    ],
)
def test_triplets_rounded_to_whole_divisions_are_put_right_and_told(
    divisions: int, durations: tuple[int, int, int]
) -> None:
    triplet = [note("C4", duration, tuplet("eighth", 3, 2)) for duration in durations]
    data = one_bar(*triplet, note("D4", divisions), divisions=divisions)
    assert onsets(read(data)) == [0, Fraction(1, 3), Fraction(2, 3), 1]
    finding = found(data)["rounded-tuplets"]
    assert (finding.severity, finding.count) == (Severity.MENDED, 3)


def test_other_voices_keep_their_place_beside_rounded_triplets() -> None:
    triplets = [note("C4", duration, tuplet("eighth", 3, 2)) for duration in (85, 86, 85, 85, 85, 85)]
    song = read(one_bar(*triplets, note("C4", 512), backup(1023), note("E3", 256), note("E3", 256), divisions=256))
    assert [onset for onset, _, pitch in sounding(song) if pitch == 52] == [0, 1]
    assert [onset for onset, _, pitch in sounding(song) if pitch == 60] == [Fraction(k, 3) for k in range(7)]


def test_a_step_back_to_a_place_after_rounded_triplets_finds_the_true_place() -> None:
    triplets = [note("C4", 85, tuplet("eighth", 3, 2)) for _ in range(3)]
    song = read(one_bar(*triplets, note("C4", 256), backup(256), note("E3", 256), divisions=256))
    assert [onset for onset, _, pitch in sounding(song) if pitch == 52] == [1]


def test_a_rest_without_a_type_closes_a_run_of_rounded_triplets() -> None:
    triplet = tuplet("eighth", 3, 2)
    song = read(one_bar(note("C4", 85, triplet), note("C4", 85, triplet), rest(86), note("D4", 256), divisions=256))
    assert onsets(song) == [0, Fraction(1, 3), 1]


def test_a_duration_that_fits_its_divisions_is_trusted_over_the_note_value() -> None:
    # W3C MusicXML 4.0, type and time-modification are notation; duration is sound.
    data = one_bar(note("C4", 3, tuplet("quarter", 3, 2)), note("D4", 1), divisions=6)
    assert onsets(read(data)) == [0, Fraction(1, 2)]
    assert "rounded-tuplets" not in found(data)
    fine = one_bar(note("C4", "3.5", tuplet("quarter", 3, 2)), note("D4", 1), divisions=6)
    assert onsets(read(fine)) == [0, Fraction(7, 12)]


def test_a_note_without_duration_lasts_its_written_value() -> None:
    data = one_bar("<note><pitch><step>C</step><octave>4</octave></pitch><type>half</type><dot/></note>", note("D4"))
    assert sounding(read(data)) == [(0, 3, 60), (3, 1, 62)]
    assert found(data)["no-duration"].count == 1


def test_times_too_fine_to_keep_are_rounded_and_told() -> None:
    primes = (999_999_937, 999_999_893)
    bars = [bar(attributes(f"<divisions>{prime}</divisions>"), note("C4", prime + 1), note("D4")) for prime in primes]
    data = score(bars)
    song = read(data)
    assert song.resolution < 2**31
    assert found(data)["rounded-times"].severity is Severity.MENDED
    assert abs(Fraction(int(song.onset_ticks[1]), song.resolution) - Fraction(primes[0] + 1, primes[0])) < 1e-7


# Pitch


def test_w3c_transposition_of_minus_7_makes_written_60_sound_53() -> None:
    # W3C MusicXML 4.0, transpose: diatonic -4, chromatic -7 for a horn in F; written middle C sounds F3.
    data = one_bar(
        attributes("<transpose><diatonic>-4</diatonic><chromatic>-7</chromatic></transpose>"), note("C4"), note("D4")
    )
    assert [pitch for _, _, pitch in sounding(read(data))] == [53, 55]


def test_octave_change_adds_whole_octaves_and_holds_until_the_next() -> None:
    octave = "<transpose><chromatic>{}</chromatic><octave-change>{}</octave-change></transpose>"
    data = one_bar(
        attributes(octave.format(-2, -1)), note("C4"), attributes(octave.format(0, 0)), note("C4"), divisions=1
    )
    assert [pitch for _, _, pitch in sounding(read(data))] == [46, 60]


def test_alterations_octaves_and_step_names() -> None:
    # W3C MusicXML 4.0, octave: 4 begins at middle C, which is MIDI 60; alter in semitones.
    names = {"C4": 60, "B3": 59, "B#3": 60, "Cb4": 59, "A4": 69, "A0": 21, "C8": 108, "G9": 127, "C-1": 0}
    for name, pitch in names.items():
        assert [found for _, _, found in sounding(read(one_bar(note(name))))] == [pitch], name


def test_microtones_are_rounded_up_at_half_and_pitches_out_of_range_moved_by_octaves_and_told() -> None:
    quarter_tone = (
        "<note><pitch><step>C</step><alter>0.5</alter><octave>4</octave></pitch><duration>1</duration></note>"
    )
    data = one_bar(quarter_tone, note("A9"), note("B-2"))
    assert [pitch for _, _, pitch in sounding(read(data))] == [61, 117, 11]
    assert found(data)["microtones"].count == 1
    assert found(data)["pitch-range"].count == 2
    assert found(data)["pitch-range"].severity is Severity.CHANGED


def test_hidden_notes_sound_and_chord_symbols_do_not() -> None:
    harmony = "<harmony><root><root-step>G</root-step></root><kind>major</kind></harmony>"
    data = one_bar(harmony, note("C4", attributes=' print-object="no"'), note("D4"))
    assert [pitch for _, _, pitch in sounding(read(data))] == [60, 62]


# Ties


def test_ties_are_joined_by_tie_and_not_by_their_picture() -> None:
    # W3C MusicXML 4.0: tie is the sound, tied the notation.
    tied = '<notations><tied type="start"/></notations>'
    data = one_bar(note("C4", 1, tie("start")), note("C4", 1, tie("stop", "start")), note("C4", 1, tie("stop") + tied))
    assert sounding(read(data)) == [(0, 3, 60)]
    data = one_bar(note("C4", 1, tied), note("C4", 1))
    assert sounding(read(data)) == [(0, 1, 60), (1, 1, 60)]
    assert found(data) == {}


def test_ties_hold_over_barlines_voices_and_enharmonic_spelling() -> None:
    data = score(
        [
            bar(attributes(QUARTER), note("C#4", 4, tie("start") + "<voice>1</voice>")),
            bar(note("Db4", 2, tie("stop") + "<voice>2</voice>"), note("Db4", 2), number=2),
        ]
    )
    assert sounding(read(data)) == [(0, 6, 61), (6, 2, 61)]


def test_of_two_equal_pitches_the_tie_of_the_same_voice_is_taken() -> None:
    data = one_bar(
        note("C4", 2, tie("start") + "<voice>1</voice>"), note("C4", 1, tie("stop") + "<voice>1</voice>"), backup(3),
        note("C4", 1, "<voice>2</voice>"), note("C4", 1, tie("start") + "<voice>2</voice>"),
        note("C4", 2, tie("stop") + "<voice>2</voice>"),
    )  # fmt: skip
    assert sounding(read(data)) == [(0, 1, 60), (0, 3, 60), (1, 3, 60)]


def test_ties_of_two_voices_that_meet_are_not_crossed() -> None:
    upper, lower = "<voice>1</voice>", "<voice>2</voice>"
    data = one_bar(
        forward(1), note("C4", 1, tie("start") + lower), note("C4", 1, tie("stop") + lower), backup(3),
        note("C4", 2, tie("start") + upper), note("C4", 2, tie("stop") + upper),
    )  # fmt: skip
    assert sounding(read(data)) == [(0, 4, 60), (1, 2, 60)]


def test_a_note_that_says_it_is_tied_is_joined_before_one_that_does_not() -> None:
    data = one_bar(
        forward(1), note("C4", 1), backup(2), note("C4", 1, tie("start")), note("C4", 2, tie("stop")),
    )  # fmt: skip
    assert sounding(read(data)) == [(0, 3, 60), (1, 1, 60)]
    assert found(data) == {}


def test_unison_notes_stay_two() -> None:
    data = one_bar(note("C4", 2), backup(2), note("C4", 1), note("D4"))
    assert sounding(read(data)) == [(0, 1, 60), (0, 2, 60), (1, 1, 62)]


def test_a_tie_without_an_end_joins_the_next_note_of_its_pitch_or_stays_and_is_told() -> None:
    data = one_bar(note("C4", 1, tie("start")), note("C4"), note("D4", 1, tie("start")), note("E4", 1, tie("stop")))
    assert sounding(read(data)) == [(0, 2, 60), (2, 1, 62), (3, 1, 64)]
    findings = found(data)
    assert findings["tie-end-unmarked"].where == "tune.musicxml:Part P1:bar 1"
    assert {code: findings[code].count for code in findings} == {
        "tie-end-unmarked": 1, "tie-not-ended": 1, "tie-not-begun": 1,
    }  # fmt: skip


@pytest.mark.parametrize("length", [47, 49])
def test_a_tie_torn_by_the_files_own_lengths_is_joined_over_the_barline(length: int) -> None:
    # A note one division short leaves the bar to another voice; one too long is held to the metre, which it fills.
    start = note("C4", length, tie("start") + "<voice>1</voice>") + backup(length)
    full = note("C3", 48, "<voice>2</voice>")
    bars = [
        bar(attributes("<divisions>12</divisions>" + FOUR_FOUR), start, full),
        bar(note("C4", 24, tie("stop", "start")), note("C4", 24, tie("stop")), number=2),
        bar(note("C4", 48), number=3),
    ]
    assert sounding(read(score(bars))) == [(0, 4, 48), (0, 8, 60), (8, 4, 60)]
    assert found(score(bars))["torn-ties"].count == 1
    assert found(score(bars))["torn-ties"].where == "tune.musicxml:Part P1:bar 2"


def test_a_tie_torn_twice_is_one_note() -> None:
    bars = [
        bar(attributes("<divisions>12</divisions>" + FOUR_FOUR), note("C4", 47, tie("start")), rest(1)),
        bar(note("C4", 47, tie("stop", "start")), rest(1), number=2),
        bar(note("C4", 48, tie("stop")), number=3),
    ]
    assert sounding(read(score(bars))) == [(0, 12, 60)]
    assert found(score(bars))["torn-ties"].count == 2


def test_a_torn_tie_takes_no_tie_that_meets_another_note_nor_one_of_two_bars_before() -> None:
    upper, lower = "<voice>1</voice>", "<voice>2</voice>"
    meets = [
        bar(
            attributes(QUARTER + FOUR_FOUR),
            note("C4", 4, tie("start") + upper),
            backup(2),
            note("C4", 2, tie("stop") + lower),
        ),
        bar(note("C4", 4, tie("stop") + upper), number=2),
    ]
    assert sounding(read(score(meets))) == [(0, 8, 60), (2, 2, 60)]
    assert found(score(meets)).keys() == {"tie-not-begun"}
    far = [
        bar(attributes(QUARTER + FOUR_FOUR), note("C4", 3, tie("start")), rest(1)),
        bar(note("D4", 4), number=2),
        bar(note("C4", 4, tie("stop")), number=3),
    ]
    assert sounding(read(score(far))) == [(0, 3, 60), (4, 4, 62), (8, 4, 60)]
    assert found(score(far)).keys() == {"tie-not-ended", "tie-not-begun"}


# Grace notes, cues, ornaments


def test_grace_notes_sound_a_32nd_each_just_before_the_main_note() -> None:
    grace = "<grace/>"
    data = one_bar(note("C4"), note("E4", before=grace), note("D4", before=grace), note("C4"))
    assert sounding(read(data)) == [
        (0, 1, 60), (Fraction(3, 4), Fraction(1, 8), 64), (Fraction(7, 8), Fraction(1, 8), 62), (1, 1, 60),
    ]  # fmt: skip
    assert (found(data)["grace-notes"].severity, found(data)["grace-notes"].count) == (Severity.NOTE, 2)


def test_grace_chords_sound_together_and_grace_notes_at_a_bars_end_before_the_barline() -> None:
    data = score(
        [
            bar(
                attributes(QUARTER + FOUR_FOUR), note("C4", 4), note("D4", before="<grace/>"),
                note("F4", before="<grace/><chord/>"),
            ),
            bar(note("C4", 4), number=2),
        ]
    )  # fmt: skip
    before = Fraction(31, 8)
    assert sounding(read(data)) == [(0, 4, 60), (before, Fraction(1, 8), 62), (before, Fraction(1, 8), 65), (4, 4, 60)]


def test_grace_notes_before_the_first_beat_go_on_it_and_are_told() -> None:
    data = one_bar(note("D4", before="<grace/>"), note("C4"))
    assert sounding(read(data)) == [(0, Fraction(1, 8), 62), (0, 1, 60)]
    assert found(data)["grace-notes-at-start"].count == 1


def test_a_grace_note_tied_to_its_main_note_lengthens_it() -> None:
    data = one_bar(rest(1), note("C4", 1, tie("start"), before="<grace/>"), note("C4", 1, tie("stop")))
    assert sounding(read(data)) == [(Fraction(7, 8), Fraction(9, 8), 60)]
    first = one_bar(note("C4", 1, tie("start"), before="<grace/>"), note("C4", 1, tie("stop")))
    assert sounding(read(first)) == [(0, 1, 60)]


def test_cue_notes_are_silent_but_take_their_time() -> None:
    # W3C MusicXML 4.0, cue: cue notes are silent.
    data = one_bar(note("C4", 1, before="<cue/>"), note("D4"), note("C4", 1, before="<grace/><cue/>"), note("E4"))
    assert sounding(read(data)) == [(1, 1, 62), (2, 1, 64)]
    assert (found(data)["cue-notes"].severity, found(data)["cue-notes"].count) == (Severity.NOTE, 2)


def test_ornaments_are_played_plain_and_counted() -> None:
    def marked(marks: str) -> str:
        return note("C4", 1, f"<notations>{marks}</notations>")

    data = one_bar(
        marked("<ornaments><trill-mark/><wavy-line type='start'/></ornaments>"),
        marked("<ornaments><tremolo>3</tremolo></ornaments><fermata/>"),
        marked("<arpeggiate/><articulations><staccato/></articulations>"),
        marked("<glissando type='start'/>"),
        marked("<glissando type='stop'/>"),
        divisions=2,
    )
    assert len(sounding(read(data))) == 5
    codes = {code: finding.count for code, finding in found(data).items()}
    assert codes == {"ornaments": 1, "tremolos": 1, "arpeggios": 1, "glissandos": 1, "fermatas": 1}


def test_performed_times_are_told_and_change_nothing() -> None:
    data = one_bar(note("C4", attributes=' attack="5"'), note("D4"))
    assert onsets(read(data)) == [0, 1]
    assert set(found(data)) == {"performed-times"}


def swing(first: str, second: str, kind: str = "") -> str:
    return f"<sound><swing><first>{first}</first><second>{second}</second>{kind}</swing></sound>"


def test_swing_is_kept_bar_by_bar_and_moves_nothing_yet() -> None:
    bars = [
        bar(attributes(f"<divisions>1</divisions>{FOUR_FOUR}"), note("C4"), number=1),
        bar(swing("2", "1"), note("D4"), number=2),
        bar(note("E4"), number=3),
        bar("<sound><swing><straight/></swing></sound>", note("F4"), number=4),
        bar(swing("3", "2", "<swing-type>eighth</swing-type>"), note("F4"), number=5),
    ]
    made = read(score(bars))
    assert list(map(str, made.bar_map.swing)) == ["1", "2", "2", "1", "3/2"]
    assert found(score(bars)) == {}
    assert read(one_bar(note("C4"))).bar_map.swing == ()
    assert read(one_bar("<sound><swing><straight/></swing></sound>", note("C4"))).bar_map.swing == ()


@pytest.mark.parametrize(
    "mark",
    [
        swing("2", "1", "<swing-type>16th</swing-type>"),
        *(swing(*sides) for sides in [("0", "1"), ("2", "-1"), ("99", "98"), ("2.5", "1"), ("", "1"), ("\u0662", "1")]),
        "<sound><swing/></sound>",
    ],
)
def test_swing_that_cannot_be_played_is_told(mark: str) -> None:
    data = one_bar(mark, note("C4"), note("D4"))
    assert set(found(data)) == {"swing"}
    assert read(data).bar_map.swing == ()


def test_a_note_without_a_pitch_is_told() -> None:
    data = one_bar("<note><duration>1</duration></note>", note("D4"))
    assert sounding(read(data)) == [(1, 1, 62)]
    assert found(data)["no-pitch"].count == 1


# Percussion

KIT = (
    '<score-part id="P1"><part-name>Kit</part-name>'
    '<score-instrument id="I1"><instrument-name>One</instrument-name></score-instrument>'
    '<score-instrument id="I2"><instrument-name>Two</instrument-name></score-instrument>'
    '<score-instrument id="I3"><instrument-name>Cowbell</instrument-name></score-instrument>'
    '<midi-instrument id="I1"><midi-unpitched>39</midi-unpitched></midi-instrument>'
    '<midi-instrument id="I2"><midi-unpitched>37</midi-unpitched></midi-instrument>'
    '<midi-instrument id="I3"><midi-unpitched>57</midi-unpitched></midi-instrument></score-part>'
)


def test_midi_unpitched_counts_from_one_and_follows_the_notes_instrument() -> None:
    # W3C MusicXML 4.0, midi-unpitched "from 1 to 128"; W3C percussion tutorial: 39 is the snare drum (GM
    # key 38), 37 the kick (36), 57 the cowbell (56).
    data = score([bar(attributes(QUARTER), *(drum(1, "C5", id_) for id_ in ("I1", "I2", "I3")))], part_list=KIT)
    song = read(data)
    assert [pitch for _, _, pitch in sounding(song)] == [38, 36, 56]
    assert song.parts[0].percussion
    assert found(data) == {}


def test_every_general_midi_percussion_name_is_known() -> None:
    """The names of General MIDI System Level 1, keys 35 to 81, as pretty_midi has them."""
    names = {note_number_to_drum_name(key): key for key in range(35, 82)}
    assert len(names) == 47
    assert {name: key_of_name(name) for name in names} == names


def test_drums_without_a_number_sound_by_name_then_by_place_and_are_never_dropped() -> None:
    def part_list(name: str) -> str:
        return f'<score-part id="P1"><part-name>{name}</part-name></score-part>'

    named = score([bar(attributes(QUARTER), drum(1), drum(1))], part_list=part_list("Tambourine"))
    assert [pitch for _, _, pitch in sounding(read(named))] == [54, 54]
    assert found(named)["drum-by-name"].count == 2
    placed = score([bar(attributes(QUARTER), drum(1, "F4"), drum(1, "C5"), drum(1, "E9"))], part_list=part_list("X"))
    assert [pitch for _, _, pitch in sounding(read(placed))] == [36, 38, 38]
    assert found(placed)["drum-by-place"].count == 3


def test_a_part_with_pitched_and_unpitched_notes_becomes_two() -> None:
    song = read(score([bar(attributes(QUARTER), note("C4"), drum(1, "C5"))]))
    assert [(part.name, part.percussion) for part in song.parts] == [("Part P1", False), ("Part P1, unpitched", True)]
    assert song.part.tolist() == [0, 1]


# Parts, titles, dynamics


def test_parts_keep_their_order_and_get_unique_names_that_are_never_empty() -> None:
    names = ["Violin", "", "Violin", "Violin (2)", " a\n b\u202e "]
    listed = "".join(
        f'<score-part id="P{index}"><part-name>{name}</part-name>'
        f'<midi-instrument id="I{index}"><midi-program>41</midi-program></midi-instrument></score-part>'
        for index, name in enumerate(names, start=1)
    )
    song = read(score(*[[bar(attributes(QUARTER), note("C4"))]] * 5, part_list=listed))
    assert [part.name for part in song.parts] == ["Violin", "Part 2", "Violin (2)", "Violin (2) (2)", "a b"]
    # W3C MusicXML 4.0, midi-program: from 1 to 128, so 41 is General MIDI's violin.
    assert {part.program for part in song.parts} == {instrument_name_to_program("Violin")}
    assert song.part.tolist() == [0, 1, 2, 3, 4]


def test_a_part_missing_from_the_part_list_is_read_and_told() -> None:
    listed = '<score-part id="other"><part-name>Other</part-name></score-part>'
    data = score([bar(attributes(QUARTER), note("C4"))], part_list=listed)
    assert read(data).parts[0].name == "Part 1"
    assert found(data)["unlisted-parts"].count == 1


@pytest.mark.parametrize(
    ("head", "title"),
    [
        ("<work><work-title>Grand  March</work-title></work><movement-title>I</movement-title>", "Grand March"),
        ("<movement-title>Trio</movement-title>", "Trio"),
        ("<work><work-title> </work-title></work>", "tune"),
        (f"<movement-title>{'x' * 5000}</movement-title>", "x" * 200),
    ],
)
def test_the_title_is_the_works_then_the_movements_then_the_files(head: str, title: str) -> None:
    assert read(one_bar(note("C4"), head=head)).title == title


def test_velocity_is_a_percentage_of_forte_90_and_80_where_nothing_is_said() -> None:
    # W3C MusicXML 4.0, note and sound, dynamics: a percentage of the default forte, 90 in MIDI.
    data = one_bar(
        note("C4"), sound('dynamics="50"'), note("D4"), note("E4", attributes=' dynamics="100"'), note("F4"), backup(4),
        note("C5"), note("D5", attributes=' dynamics="1000"'),
    )  # fmt: skip
    song = read(data)
    by_pitch = dict(zip(song.pitch_midi.tolist(), song.velocity.tolist(), strict=True))
    assert by_pitch == {60: 80, 62: 45, 64: 90, 65: 45, 72: 80, 74: 127}


# Bars and metre


def test_pickups_are_not_padded_and_short_bars_stay_short() -> None:
    # W3C MusicXML 4.0: a pickup is bar 0, implicit="yes"; its length is the sum of its durations.
    data = score(
        [
            bar(attributes(QUARTER + FOUR_FOUR), note("G4"), number=0),
            bar(note("C4", 4), number=1),
            bar(note("C4", 3), number=2),
        ]
    )
    song = read(data)
    assert song.bar_map.ticks.tolist() == [0, 1, 5]
    assert song.bar_map.labels == ("0", "1", "2")
    assert song.length_ticks == 8
    assert str(song.source(1)) == "tune.musicxml:Part P1:bar 1 beat 1"


def test_rests_alone_neither_pad_a_pickup_nor_stretch_a_bar() -> None:
    melody = [
        bar(attributes(QUARTER + FOUR_FOUR), note("G4"), number=0),
        bar(note("C4", 4)),
        bar(rest(4, ' measure="yes"')),
    ]
    silent = [bar(attributes(QUARTER), rest(4, ' measure="yes"'), number=0), bar(rest(8)), bar(rest(4))]
    song = read(score(melody, silent))
    assert song.bar_map.ticks.tolist() == [0, 1, 5]
    assert song.length_ticks == 9
    assert found(score(melody, silent)).keys() == {"past-bar"}


def test_a_gap_at_a_bars_end_counts_except_where_it_fills_up_for_the_pickup() -> None:
    # W3C MusicXML 4.0, forward moves the position. Programs also close the last bar with one.
    inside = score([bar(attributes(QUARTER + FOUR_FOUR), note("C4", 2), forward(2)), bar(note("D4", 4), number=2)])
    assert onsets(read(inside)) == [0, 4]
    last = score([bar(attributes(QUARTER + FOUR_FOUR), note("G4")), bar(note("C4", 4)), bar(note("C4", 3), forward(1))])
    assert read(last).length_ticks == 8


def test_shorter_parts_wait_at_the_barline_and_are_told() -> None:
    long = [bar(attributes(QUARTER + FOUR_FOUR), note("C4", 4)), bar(note("D4", 4)), bar(note("E4", 4))]
    short = [bar(attributes(QUARTER), note("C3", 3)), bar(note("D3", 4))]
    data = score(short, long)
    assert [onset for onset, _, pitch in sounding(read(data)) if pitch < 60] == [0, 4]
    assert len(read(data).bar_map.labels) == 3
    assert found(data)["uneven-bars"].count == 1


# Bars that are not as long as their metre: (what stands in a full 4/4 bar at 12 divisions, what is reported)
FULL = note("C4", 48, "<voice>1</voice>")
STICKING_OUT = {
    "a further note of a chord": (FULL + note("E4", 64, before="<chord/>"), "past-bar"),
    "a rest at the end": (FULL + rest(3), "past-bar"),
    "a hidden rest at the end": (FULL + rest(3).replace("<note>", '<note print-object="no">'), "past-bar"),
    "a gap at the end": (FULL + forward(3), "past-bar"),
    "a rest of another voice": (FULL + backup(48) + note("C3", 40) + rest(20), "past-bar"),
    "a cue note": (FULL + backup(12) + note("E5", 30, before="<cue/>"), "past-bar"),
    "a last note, where another voice fills the bar": (
        FULL + backup(48) + note("C3", 40, "<voice>2</voice>") + note("C3", 9, "<voice>2</voice>"),
        "notes-past-bar",
    ),
    "a last note, by a rounding": (note("C4", 24) + note("C4", "24.3"), "notes-past-bar"),
}


@pytest.mark.parametrize("name", STICKING_OUT)
def test_what_sticks_out_of_a_full_bar_moves_nothing_and_is_told(name: str) -> None:
    content, code = STICKING_OUT[name]
    data = score([bar(attributes("<divisions>12</divisions>" + FOUR_FOUR), content, number=7), bar(note("G4", 48))])
    song = read(data)
    assert max(onsets(song)) == 4
    assert song.length_ticks == 8 * song.resolution
    assert found(data).keys() - {"cue-notes"} == {code}
    assert (found(data)[code].where, found(data)[code].count) == ("tune.musicxml:bar 7", 1)
    assert "(bar 7)" in found(data)[code].message
    # Nor does it in another part.
    full = [bar(attributes("<divisions>12</divisions>" + FOUR_FOUR), FULL, number=7), bar(note("G4", 48))]
    assert max(onsets(read(score(full, [bar(attributes("<divisions>12</divisions>"), content)])))) == 4


def test_a_chord_note_that_sticks_out_keeps_its_length() -> None:
    data = one_bar(note("C4", 4), note("E4", 5, before="<chord/>"))
    assert sounding(read(data)) == [(0, 4, 60), (0, 5, 64)]


def test_a_chord_whose_first_note_is_a_silent_cue_takes_its_time_where_the_others_sound() -> None:
    # A cadenza of a published piano score: the last chords of the bar begin after its metre's end, their first a cue.
    chord = note("A5", 1, before="<cue/>") + note("C6", 1, before="<chord/>") + note("F6", 1, before="<chord/>")
    data = score([bar(attributes(QUARTER + FOUR_FOUR), chord * 6), bar(note("G4", 4))])
    assert onsets(read(data)) == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6]
    assert found(data).keys() == {"cue-notes", "long-bars"}
    silent = score([bar(attributes(QUARTER + FOUR_FOUR), note("A5", 1, before="<cue/>") * 6), bar(note("G4", 4))])
    assert onsets(read(silent)) == [4]


def test_a_step_back_before_the_bar_and_forward_again_comes_back_to_its_place() -> None:
    # The numbers of a published piano score, at 480 divisions: back 320,389 and forward 318,811 after a bar of 3/4.
    three_four = "<time><beats>3</beats><beat-type>4</beat-type></time>"
    after = [note("C4", 1440), backup(320_389), forward(318_949), note("E3", 480), rest(960)]
    data = score([bar(attributes("<divisions>480</divisions>" + three_four), *after), bar(note("G4", 1440))])
    assert sounding(read(data)) == [(0, 1, 52), (0, 3, 60), (3, 3, 67)]
    assert found(data) == {}


def test_a_note_written_before_its_bar_sounds_there_and_is_told() -> None:
    bars = [
        bar(attributes(QUARTER + FOUR_FOUR), note("C4", 4)),
        bar(note("D4", 4), backup(5), note("E3", 1), note("F3", 4), number=2),
    ]
    assert sounding(read(score(bars))) == [(0, 4, 60), (3, 1, 52), (4, 4, 53), (4, 4, 62)]
    assert found(score(bars)).keys() == {"before-bar"}
    assert found(score(bars))["before-bar"].where == "tune.musicxml:Part P1:bar 2"
    first = one_bar(note("D4", 4), backup(5), note("E3", 1), note("F3", 4))
    assert sounding(read(first)) == [(0, 1, 52), (0, 4, 53), (0, 4, 62)]
    assert found(first).keys() == {"before-bar", "before-song"}


def test_a_true_step_back_from_rounded_triplets_comes_to_the_beginning_of_the_bar() -> None:
    triplets = [note("C4", 85, tuplet("eighth", 3, 2)) for _ in range(12)]
    data = one_bar(*triplets, backup(1024), note("E3", 1024), divisions=256)
    assert [onset for onset, _, pitch in sounding(read(data)) if pitch == 52] == [0]
    assert found(data).keys() == {"rounded-tuplets"}


def test_a_step_back_without_end_is_refused() -> None:
    with pytest.raises(InputError, match="steps back more than 100,000 quarters before the bar"):
        read(one_bar(note("C4"), backup(99_999), backup(99_999)))


def test_a_note_of_negative_duration_has_its_written_value_and_steps_back() -> None:
    # Some programs write one where the notes of a voice are longer than their tuplet.
    negative = note("D4", -1, "<type>quarter</type>")
    data = one_bar(note("C4", 2), negative, note("E4", 3))
    assert sounding(read(data)) == [(0, 2, 60), (1, 3, 64), (2, 1, 62)]
    assert found(data).keys() == {"negative-duration"}
    with pytest.raises(InputError, match="the duration '-1' is not a number from 0"):
        read(one_bar(note("C4", -1)))
    with pytest.raises(InputError, match="steps back more than"):
        read(one_bar(*[note("C4", -90_000, "<type>quarter</type>")] * 2))


def test_every_bar_not_as_long_as_its_metre_is_told_with_what_was_done() -> None:
    bars = [
        bar(attributes(QUARTER + FOUR_FOUR), note("C4"), number="0"),
        bar(note("C4", 4)),
        bar(note("C4", 3), number=2),
        bar(note("C4", 6), number="3a"),
        bar(note("C4", 3), number=4),
    ]
    song = read(score(bars))
    assert song.bar_map.ticks.tolist() == [0, 1, 5, 8, 14]
    told = {code: (finding.count, finding.where, finding.message) for code, finding in noticed(score(bars)).items()}
    del told["tempo-assumed"]
    assert told == {
        "pickup-bar": (
            1, "tune.musicxml:pickup bar", "the first bar is shorter than its metre, as a pickup is, and kept so"
        ),
        "short-bars": (2, "tune.musicxml:bar 2", "2 bars shorter than the metre, as long as written (bars 2, 4)"),
        "long-bars": (1, "tune.musicxml:bar 3a", "1 bar longer than the metre, as long as the notes in it (bar 3a)"),
    }  # fmt: skip


def test_a_cadenza_is_as_long_as_its_notes_though_the_other_hand_fills_the_metre() -> None:
    data = score(
        [bar(attributes(QUARTER + FOUR_FOUR), *[note("C5")] * 7, backup(7), note("C3", 4)), bar(note("D4", 4))]
    )
    assert max(onsets(read(data))) == 7
    assert found(data).keys() == {"long-bars"}


def test_the_bars_at_fault_are_named_in_one_line_however_many_there_are() -> None:
    bars = [bar(attributes(QUARTER + FOUR_FOUR) if not n else "", note("C4", 3), number=n) for n in range(2000)]
    message = noticed(score(bars))["short-bars"].message
    assert message == (
        "1,999 bars shorter than the metre, as long as written "
        "(bars 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12 and 1,987 more)"
    )


def test_bars_without_a_stated_metre_are_as_long_as_written() -> None:
    data = score([bar(attributes(QUARTER), note("C4", 4), rest(2)), bar(note("D4", 4), number=2)])
    assert onsets(read(data)) == [0, 6]
    assert noticed(data).keys() == {"tempo-assumed", "metre-assumed"}


def test_bars_with_nothing_in_them_last_as_long_as_their_metre() -> None:
    three_eight = "<time><beats>3</beats><beat-type>8</beat-type></time>"
    data = score([bar(attributes(QUARTER + three_eight)), bar(note("C4", 1), number=2)])
    assert onsets(read(data)) == [Fraction(3, 2)]
    assert found(data)["empty-bars"].count == 1


@pytest.mark.parametrize(
    ("time", "beats", "beat_type"),
    [
        ("<beats>6</beats><beat-type>8</beat-type>", 6, 8),
        ("<beats>3+2</beats><beat-type>8</beat-type>", 5, 8),
        ("<beats>2</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>", 7, 8),
        ("<senza-misura/>", 5, 4),
    ],
)
def test_metres_are_added_up_and_free_bars_counted_in_quarters(time: str, beats: int, beat_type: int) -> None:
    bars = read(score([bar(attributes(QUARTER + f"<time>{time}</time>"), note("C4", 5))])).bar_map
    assert (bars.beats.tolist(), bars.beat_types.tolist(), bars.stated) == ([beats], [beat_type], True)


def test_where_parts_disagree_on_the_metre_the_first_is_followed() -> None:
    three_two = "<time><beats>3</beats><beat-type>2</beat-type></time>"
    six_four = "<time><beats>6</beats><beat-type>4</beat-type></time>"
    parts = ([bar(attributes(QUARTER + metre), note("C4", 6))] for metre in (three_two, six_four))
    bars = read(score(*parts)).bar_map
    assert (bars.beats.tolist(), bars.beat_types.tolist()) == ([3], [2])


def test_a_file_without_metre_is_read_as_common_time_not_stated() -> None:
    bars = read(score([bar(attributes(QUARTER), note("C4", 4))])).bar_map
    assert (bars.beats.tolist(), bars.beat_types.tolist(), bars.stated) == ([4], [4], False)


# Tempo


def metronome(*units: str, per_minute: str = "") -> str:
    content = "".join(
        f"<beat-unit>{unit.rstrip('.')}</beat-unit>" + "<beat-unit-dot/>" * unit.count(".") for unit in units
    )
    minute = f"<per-minute>{per_minute}</per-minute>" if per_minute else ""
    return f"<direction><direction-type><metronome>{content}{minute}</metronome></direction-type></direction>"


@pytest.mark.parametrize(
    ("mark", "us"),
    [
        # W3C MusicXML 4.0, sound tempo: quarter notes per minute, whatever the beat.
        (sound('tempo="90"'), 666_667),
        (metronome("quarter", per_minute="60"), 1_000_000),
        (metronome("quarter.", per_minute="60"), 666_667),
        (metronome("half", per_minute="c. 60"), 500_000),
        (metronome("eighth", per_minute="120-132"), 1_000_000),
        # The old dotted quarter lasts as long as the new quarter: slower, from 120 to 80.
        (metronome("quarter.", "quarter"), 750_000),
        (sound('tempo="0"'), 500_000),
        (sound('tempo="nan"'), 500_000),
    ],
)
def test_tempo_comes_from_sound_and_metronome_marks(mark: str, us: int) -> None:
    tempi = read(one_bar(mark, note("C4"))).tempo_map
    assert (tempi.ticks.tolist(), tempi.us_per_quarter.tolist()) == ([0], [us])
    assert tempi.stated == ('tempo="0"' not in mark and "nan" not in mark)


def test_the_sound_of_a_direction_is_followed_before_its_metronome_mark() -> None:
    both = metronome("quarter", per_minute="60").replace("</direction>", '<sound tempo="90"/></direction>')
    assert read(one_bar(both, note("C4"))).tempo_map.us_per_quarter.tolist() == [666_667]


def test_tempo_changes_stand_where_they_are_written_and_offsets_move_them_only_if_they_sound() -> None:
    shifted = (
        "<direction><direction-type><words>a tempo</words></direction-type>"
        '<offset{}>1</offset><sound tempo="60"/></direction>'
    )
    for attribute, tick in (' sound="yes"', 2), ("", 1):
        song = read(one_bar(note("C4"), shifted.format(attribute), note("D4", 3)))
        assert song.tempo_map.ticks.tolist() == [0, tick]
        assert song.tempo_map.us_per_quarter.tolist() == [500_000, 1_000_000]


def test_where_parts_disagree_on_the_tempo_the_first_is_followed() -> None:
    upper = [bar(attributes(QUARTER), sound('tempo="60"'), note("C4", 4))]
    lower = [bar(attributes(QUARTER), sound('tempo="70"'), note("C3", 4), sound('tempo="75"'))]
    assert read(score(upper, lower)).tempo_map.us_per_quarter.tolist() == [1_000_000]


def test_a_tempo_and_metre_not_stated_are_told() -> None:
    silent = {finding.code: finding for finding in read_musicxml(score([bar(note("C4"))]), "tune.xml")[1]}
    assert set(silent) == {"tempo-assumed", "metre-assumed"}
    assert silent["tempo-assumed"].message == "the file states no tempo; 120 quarter notes a minute assumed"
    stated = one_bar(sound('tempo="100"'), note("C4", 4))
    assert read_musicxml(stated, "tune.xml")[1] == ()


def test_every_notice_is_explained_in_the_docs() -> None:
    page = (ROOT / "docs" / "reading-musicxml.md").read_text(encoding="utf-8")
    codes = {notice.value[0] for notice in Notice}
    assert len(codes) == len(Notice)
    assert {code for code in codes if f"`{code}`" not in page} == set()


def test_a_score_without_notes_is_a_score_with_bars() -> None:
    data = one_bar(rest(4), words("Fine"))
    song = read(data)
    assert (song.note_count, song.length_ticks, song.parts[0].name) == (0, 4, "Part P1")
    assert found(data)["no-notes"].severity is Severity.NOTE
