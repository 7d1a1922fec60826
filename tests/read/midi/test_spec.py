"""MIDI files whose meaning is published, and reference libraries' reading of real ones."""

from __future__ import annotations

import io
import warnings
from collections import Counter
from pathlib import Path

import pytest

from midi_bytes import END, midi_file, note, off, on, vlq
from pegwright.findings import Finding
from pegwright.read.midi.reader import read_midi
from pegwright.read.midi.scan import quantity
from pegwright.score import Score
from pegwright.units import ticks_to_ms
from places import SCORES

# Standard MIDI Files 1.0 (MMA RP-001), example files in format 0 and 1: from memory, lengths and end ticks checked by
# arithmetic.
FORMAT_0 = bytes.fromhex(
    "4D546864 00000006 0000 0001 0060"
    "4D54726B 0000003B 00FF580404021808 00FF510307A120 00C005 00C12E 00C246 00923060 003C60"
    "60914340 60904C20 8140823040 003C40 00814340 00804C40 00FF2F00"
)
FORMAT_1 = bytes.fromhex(
    "4D546864 00000006 0001 0004 0060"
    "4D54726B 00000014 00FF580404021808 00FF510307A120 8300FF2F00"
    "4D54726B 00000010 00C005 8140904C20 81404C00 00FF2F00"
    "4D54726B 0000000F 00C12E 60914340 82204300 00FF2F00"
    "4D54726B 00000015 00C246 00923060 003C60 83003000 003C00 00FF2F00"
)

# Standard MIDI Files 1.0, table of variable-length quantities (from memory, each decoded by arithmetic).
QUANTITIES = {
    0x00: "00",
    0x40: "40",
    0x7F: "7F",
    0x80: "8100",
    0x2000: "C000",
    0x3FFF: "FF7F",
    0x4000: "818000",
    0x100000: "C08000",
    0x1FFFFF: "FFFF7F",
    0x200000: "81808000",
    0x8000000: "C0808000",
    0xFFFFFFF: "FFFFFF7F",
}

CORPUS = (
    *(f"bach/bwv{number}" for number in ("10.7", "101.7", "102.7", "104.6", "108.6", "110.7", "111.6", "165.6")),
    *(f"bach/bwv{number}" for number in ("66.6", "253", "281", "248.23-s", "151.5", "20.7", "17.7", "26.6")),
    "demos/chord_realization_exercise",
    "demos/chorale_with_parallels",
    "demos/drum_sample",
    "demos/nested_tuplet_finale_test2",
    "theoryExercises/checker_demo",
    "schumann_robert/opus48no2",
    "leadSheet/fosterBrownHair",
    "leadSheet/berlinAlexandersRagtime",
    "trecento/Fava_Dicant_nunc_iudei",
    "schoenberg/opus19/movement2",
)


def rows(score: Score) -> list[tuple[int, int, int, int]]:
    """(onset, duration, pitch, velocity) of every note, whatever its part."""
    columns = (score.onset_ticks, score.duration_ticks, score.pitch_midi, score.velocity)
    return sorted(zip(*(column.tolist() for column in columns), strict=True))


def codes(findings: tuple[Finding, ...]) -> set[str]:
    return {finding.code for finding in findings}


@pytest.mark.parametrize("data", [FORMAT_0, FORMAT_1], ids=["format-0", "format-1"])
def test_the_examples_of_the_standard_are_the_same_four_notes(data: bytes) -> None:
    score, findings = read_midi(data, "example.mid")
    assert rows(score) == [(0, 384, 48, 96), (0, 384, 60, 96), (96, 288, 67, 64), (192, 192, 76, 32)]
    assert [part.program for part in score.parts] == [5, 46, 70]
    assert score.resolution == 96
    assert (score.bar_map.end_ticks, len(score.bar_map.ticks)) == (384, 1)
    assert not findings
    ends_s = {
        ticks_to_ms(tick, score.resolution, int(score.tempo_map.us_per_quarter[0])) / 1000 for tick in (0, 96, 192, 384)
    }
    assert ends_s == {0.0, 0.5, 1.0, 2.0}  # the standard's example: 96 ticks = 500 000 us


@pytest.mark.parametrize(("value", "coded"), QUANTITIES.items())
def test_variable_length_quantities_of_the_standard(value: int, coded: str) -> None:
    assert vlq(value).hex().upper() == coded
    assert quantity(bytes.fromhex(coded), 0) == (value, len(coded) // 2)
    body = bytes.fromhex(coded) + bytes([0x90, 60, 64]) + off(1, 60) + END
    score, _ = read_midi(midi_file(body, division=32767), "q.mid")
    assert score.onset_ticks.tolist() == [value]


def test_film_frames_of_the_standard() -> None:
    """E7 28: 25 frames of 40 ticks, so a tick is 1 ms (Standard MIDI Files 1.0, from memory; arithmetic)."""
    score, findings = read_midi(midi_file(note(500, 1000) + END, division=0xE728), "frames.mid")
    us = int(score.tempo_map.us_per_quarter[0])
    assert ticks_to_ms(int(score.onset_ticks[0]), score.resolution, us) == 500
    assert ticks_to_ms(int(score.duration_ticks[0]), score.resolution, us) == 1000
    assert (score.resolution, us) == (500, 500_000)
    assert "midi-frames" in codes(findings)


def test_channel_10_is_general_midi_percussion() -> None:
    """Keys 36 bass drum, 38 acoustic snare, 42 closed hi-hat: GM System Level 1, MMA RP-003 (from memory)."""
    body = b"".join(note(0, 24, key, channel=9) for key in (36, 38, 42)) + note(0, 24, 38, channel=8) + END
    score, _ = read_midi(midi_file(body, form=0), "kit.mid")
    assert [(part.name, part.percussion) for part in score.parts] == [("Channel 9", False), ("Channel 10", True)]
    assert score.pitch_midi[score.percussion_notes()].tolist() == [36, 38, 42]


def agree_with_references(data: bytes, name: str) -> None:
    """The same notes as symusic and pretty_midi count, or the difference explained."""
    import pretty_midi
    import symusic

    score, findings = read_midi(data, name)
    percussion = score.percussion_notes().tolist()
    ours = Counter((*row, drum) for row, drum in zip(unsorted_rows(score), percussion, strict=True))
    symusic_tracks = symusic.Score.from_midi(data).tracks
    theirs = Counter(
        (n.time, n.duration, n.pitch, n.velocity, track.is_drum) for track in symusic_tracks for n in track.notes
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # pretty_midi warns of tempo events outside the first track
        pretty = pretty_midi.PrettyMIDI(io.BytesIO(data))
    pretty_onsets = Counter(
        (pretty.time_to_tick(n.start), n.pitch, n.velocity, instrument.is_drum)
        for instrument in pretty.instruments
        for n in instrument.notes
    )
    our_onsets = Counter(row[:1] + row[2:] for row in ours.elements())
    hanging = sum(finding.count for finding in findings if finding.code == "hanging-notes")
    if not hanging:
        assert ours == theirs
        assert our_onsets == pretty_onsets
        return
    # A note that never ends: symusic drops it, and pairs the offs after it one note late; pretty_midi ends all
    # notes of the pitch at one off and drops what is left. Here it sounds to the next event of its pitch.
    assert sum(ours.values()) == sum(theirs.values()) + hanging
    assert Counter(row[:1] + row[2:] for row in theirs.elements()) <= our_onsets
    assert pretty_onsets <= our_onsets


def unsorted_rows(score: Score) -> list[tuple[int, int, int, int]]:
    columns = (score.onset_ticks, score.duration_ticks, score.pitch_midi, score.velocity)
    return list(zip(*(column.tolist() for column in columns), strict=True))


@pytest.mark.parametrize("path", SCORES.glob("*.mid"), ids=lambda path: path.stem)
def test_real_files_have_the_notes_that_reference_libraries_read(path: Path) -> None:
    agree_with_references(path.read_bytes(), path.name)


@pytest.mark.parametrize("work", CORPUS)
def test_midi_that_music21_writes_has_the_notes_that_reference_libraries_read(work: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # music21's own deprecations are not ours
        from music21 import corpus, midi

        data = midi.translate.streamToMidiFile(corpus.parse(work)).writestr()
    agree_with_references(data, f"{work}.mid")


def test_a_note_on_may_go_on_from_the_status_before_it() -> None:
    """Running status and velocity 0: Standard MIDI Files 1.0 (from memory)."""
    body = on(0, 60) + vlq(24) + bytes([60, 0]) + vlq(0) + bytes([62, 50]) + vlq(24) + bytes([62, 0]) + END
    score, findings = read_midi(midi_file(body), "running.mid")
    assert rows(score) == [(0, 24, 60, 64), (24, 24, 62, 50)]
    assert codes(findings) == {"tempo-assumed", "metre-assumed"}
