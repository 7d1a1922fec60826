"""Names of notes keep the spelling of the score; channels keep their own."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import WHEEL, Command, runner
from midi_bytes import midi_file
from pegwright.columns import frozen_ints
from pegwright.edit.ornaments import write_out_ornaments
from pegwright.edit.parts import move_part
from pegwright.errors import UsageError
from pegwright.musicxml.reader import read_musicxml
from pegwright.read import read_score
from pegwright.read.midi.reader import read_midi
from pegwright.score import Score
from pegwright.song_pipeline.hand_made import check_score
from pegwright.spelling import UNKNOWN, fifths_of, frozen_spellings, spelled_name
from pegwright.units import pitch_name
from places import SCORES
from samples import score
from thorough import cases

SHARP_MINOR = """<score-partwise version="4.0"><part-list>
<score-part id="P1"><part-name>Chimes</part-name></score-part></part-list><part id="P1">
<measure number="1"><attributes><divisions>1</divisions><key><fifths>3</fifths></key>{transpose}</attributes>
<note><pitch><step>G</step><alter>1</alter><octave>4</octave></pitch><duration>1</duration>
<notations><ornaments><trill-mark/></ornaments></notations></note>
<note><pitch><step>E</step><alter>1</alter><octave>5</octave></pitch><duration>1</duration></note>
<note><pitch><step>B</step><alter>1</alter><octave>3</octave></pitch><duration>1</duration></note>
<note><pitch><step>C</step><alter>-1</alter><octave>5</octave></pitch><duration>1</duration></note>
</measure></part></score-partwise>"""


def names(song: Score) -> list[str]:
    return [song.pitch_name(note) for note in range(song.note_count)]


def test_musicxml_notes_are_named_as_they_are_written() -> None:
    song, _ = read_musicxml(SHARP_MINOR.format(transpose="").encode(), "a.musicxml")
    assert names(song) == ["G#4", "E#5", "B#3", "Cb5"]
    assert song.pitch_midi.tolist() == [68, 77, 60, 71]


def test_a_transposing_part_is_named_as_it_sounds() -> None:
    clarinet = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    song, _ = read_musicxml(SHARP_MINOR.format(transpose=clarinet).encode(), "a.musicxml")
    assert names(song) == ["F#4", "D#5", "A#3", "Bbb4"]


def test_names_move_with_the_notes() -> None:
    song, _ = read_musicxml(SHARP_MINOR.format(transpose="").encode(), "a.musicxml")
    assert names(move_part(song, "Chimes", 12)[0]) == ["G#5", "E#6", "B#4", "Cb6"]
    assert names(move_part(song, "Chimes", -2)[0])[:2] == ["F#4", "D#5"]
    struck, _ = write_out_ornaments(song, Fraction(1, 8))
    assert names(struck)[:3] == ["G#4", "A4", "G#4"], "the trill is with the note above in the key"


# Standard MIDI Files 1.0, FF 59 02 sf mi (from memory): sharps, flats below 0; 0 major, 1 minor.
@pytest.mark.parametrize(
    ("key", "expected"),
    [
        (b"\x03\x01", ["F#4", "G#4", "A4", "A#4", "E#5"]),  # F sharp minor: the leading note is E sharp
        (b"\xfd\x00", ["Gb4", "Ab4", "A4", "Bb4", "F5"]),  # E flat major
        (b"\x00\x00", ["F#4", "Ab4", "A4", "Bb4", "F5"]),
    ],
)
def test_midi_notes_are_named_in_the_key_of_the_file(key: bytes, expected: list[str]) -> None:
    pitches = (66, 68, 69, 70, 77)
    events = b"\x00\xff\x59\x02" + key + b"".join(bytes([0, 0x90, p, 80, 96, 0x80, p, 0]) for p in pitches)
    song, _ = read_midi(midi_file(events), "a.mid")
    assert names(song) == expected


def test_without_a_key_the_names_are_the_usual_ones() -> None:
    song = score([(0, pitch) for pitch in range(60, 72)])
    assert not len(song.spelling)
    assert names(song) == [pitch_name(pitch) for pitch in range(60, 72)]


@pytest.mark.parametrize("path", SCORES.glob("[0-9]*")[: cases(15, 200)], ids=lambda path: path.name)
def test_every_name_is_that_of_its_pitch(path: Path) -> None:
    song, _ = read_score(path)
    steps = dict(zip("CDEFGAB", (0, 2, 4, 5, 7, 9, 11), strict=True))
    for name, pitch in zip(names(song), song.pitch_midi.tolist(), strict=True):
        letter, rest = name[0], name[1:]
        marks = rest[: len(rest) - len(rest.lstrip("#b"))]
        octave = int(rest[len(marks) :])
        assert 12 * (octave + 1) + steps[letter] + marks.count("#") - marks.count("b") == pitch


@given(st.integers(0, 127), st.integers(-128, 127))
def test_a_spelling_that_is_not_of_its_pitch_names_nothing(pitch: int, fifths: int) -> None:
    name = spelled_name(pitch, fifths)
    assert bool(name) == (abs(fifths) <= 19 and fifths * 7 % 12 == pitch % 12)


def test_what_has_no_place_on_the_line_is_unknown() -> None:
    assert (fifths_of("F", 0), fifths_of("B", -2), fifths_of("H", 0), fifths_of("B", 3)) == (-1, -9, UNKNOWN, UNKNOWN)


def test_the_report_names_notes_as_the_score_does_and_channels_as_the_wheel_does(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    pegwright: Command = runner(capsys)
    Path("a.musicxml").write_text(SHARP_MINOR.format(transpose=""), encoding="utf-8")
    report = json.loads(pegwright("fit", "a.musicxml", "-w", WHEEL, "--json").out)
    assert [note["pitch"] for note in report["left_out"]][:1] == ["G#4"]
    assert "G#4 has no channel on this wheel" in [note["detail"] for note in report["left_out"]]
    text = pegwright("song", "a.musicxml", "-w", WHEEL).out
    assert "G#4 (1 note)" in text
    assert "Lowest" in text


def test_the_column_is_small_and_goes_with_the_notes() -> None:
    song = replace(score([(0, 66), (24, 68)]), spelling=frozen_spellings([6, 8]))
    check_score(song)
    assert song.spelling.itemsize == 1
    assert names(song.with_notes(frozen_ints([1]))) == ["G#4"]
    with pytest.raises(UsageError, match="spelling is int64 of shape"):
        check_score(replace(song, spelling=np.array([6, 8])))
    with pytest.raises(UsageError, match="spelling has 1 value"):
        check_score(replace(song, spelling=frozen_spellings([6])))
