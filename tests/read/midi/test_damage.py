"""Damaged MIDI files: read with what was mended told, or refused with one clear error, never anything else."""

from __future__ import annotations

import io
import random
import struct
import tracemalloc
from dataclasses import asdict, replace
from operator import itemgetter
from pathlib import Path

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midi_bytes import END, meta, metre, midi_file, name, note, off, on, tempo, track_chunk, vlq
from pegwright.errors import InputError
from pegwright.findings import Notices, Severity
from pegwright.read.midi.chunks import read_layout
from pegwright.read.midi.events import Events, read_events
from pegwright.read.midi.notices import MidiFault
from pegwright.read.midi.reader import read_midi
from pegwright.score import Score
from places import SCORES

TUNE = midi_file(
    name(b"Tune") + metre(0, 3, 2) + tempo(0, 600_000) + END,
    name(b"Bells") + bytes([0, 0xC0, 14]) + b"".join(note(0, 48, 60 + step) for step in range(8)) + END,
    name(b"Drums") + b"".join(note(48, 48, 36, channel=9) for _ in range(4)) + END,
)


def read(data: bytes) -> tuple[Score, dict[str, tuple[Severity, int]]]:
    score, findings = read_midi(data, "song.mid")
    assert_consistent(score)
    return score, {finding.code: (finding.severity, finding.count) for finding in findings}


def assert_consistent(score: Score) -> None:
    columns = (score.onset_ticks, score.duration_ticks, score.pitch_midi, score.velocity, score.part)
    assert {column.shape for column in columns} == {(score.note_count,)}
    assert score.resolution > 0
    assert 0 <= score.tolerance_ticks <= score.resolution / 64
    bars, tempi = score.bar_map, score.tempo_map
    assert bars.ticks[0] == tempi.ticks[0] == 0
    assert np.all(np.diff(bars.ticks) > 0)
    assert np.all(np.diff(tempi.ticks) > 0)
    assert bars.end_ticks > bars.ticks[-1]
    assert len(bars.ticks) == len(bars.labels) == len(bars.beats) == len(bars.beat_types)
    assert tempi.us_per_quarter.min() > 0
    names = [part.name for part in score.parts]
    assert len(set(names)) == len(names)
    assert all(names)
    assert score.title
    if score.note_count:
        assert score.onset_ticks.min() >= 0
        assert score.duration_ticks.min() >= 0
        assert 0 <= score.pitch_midi.min() <= score.pitch_midi.max() <= 127
        assert 1 <= score.velocity.min() <= score.velocity.max() <= 127
        assert set(score.part.tolist()) == set(range(len(names)))
        assert score.onset_ticks.max() < bars.end_ticks
        order = np.lexsort((score.pitch_midi, score.part, score.onset_ticks))
        assert order.tolist() == list(range(score.note_count))
        str(score.source(score.note_count - 1))


def read_or_refuse(data: bytes) -> Score | None:
    """The score, checked; None where the file was refused as it should be."""
    try:
        return read(data)[0]
    except InputError as error:
        refusal = error
    assert refusal.where
    assert refusal.hint
    assert "\n" not in str(refusal)
    return None


# What other readers play, played too -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("between", "code"),
    [
        (meta(0, 0x01, b"la"), "midi-running-status"),
        (bytes([0, 0xF0, 2, 0x7E, 0xF7]), "midi-running-status"),
        (bytes([0, 0xF7, 1, 0x7E]), "midi-running-status"),
        (bytes([0, 0xF2, 1, 1]), "midi-system-event"),
        (bytes([0, 0xFE]), "midi-system-event"),
    ],
    ids=["text", "sysex", "escape", "song-position", "active-sensing"],
)
def test_running_status_goes_on_across_other_events(between: bytes, code: str) -> None:
    body = on(0, 60) + between + vlq(48) + bytes([60, 0]) + vlq(0) + bytes([62, 70]) + vlq(48) + bytes([62, 0]) + END
    score, found = read(midi_file(body))
    assert score.onset_ticks.tolist() == [0, 48]
    assert score.duration_ticks.tolist() == [48, 48]
    assert found[code] == (Severity.MENDED, 1)


@pytest.mark.parametrize(
    ("sysex", "events"),
    [
        (b"\x7e\xf7", vlq(48) + bytes([60, 0])),
        (b"\xf7", vlq(48) + bytes([60, 0])),
        (b"\x7e\xf7", bytes([0, 62, 3]) + vlq(48) + bytes([62, 0])),
    ],
    ids=["empty", "empty-twice", "three-bytes"],
)
def test_notes_that_mido_takes_for_system_exclusive_data_are_read_as_notes(sysex: bytes, events: bytes) -> None:
    """mido reads a velocity as the length of a system exclusive event, falls in step again and tells nothing."""
    data = midi_file(on(0, 60) + bytes([0, 0xF0, len(sysex)]) + sysex + events + END)
    assert sum(message.type == "sysex" for message in mido.MidiFile(file=io.BytesIO(data)).tracks[0]) == 2
    score, found = read(data)
    assert score.duration_ticks.tolist() == ([48] if len(events) == 3 else [48, 48])
    assert found["midi-running-status"] == (Severity.MENDED, 1)


def test_system_exclusive_between_whole_events_needs_no_mending() -> None:
    body = bytes([0, 0xF0, 5, 0x7E, 0x7F, 9, 1, 0xF7]) + note(0, 48) + bytes([0, 0xF0, 1, 0xF7]) + note(0, 48, 62) + END
    score, found = read(midi_file(body))
    assert score.onset_ticks.tolist() == [0, 48]
    assert set(found) == {"tempo-assumed", "metre-assumed"}


def test_an_unknown_meta_event_keeps_its_time() -> None:
    score, found = read(midi_file(note(0, 24) + meta(24, 0x60, b"?") + note(0, 24, 62) + END))
    assert score.onset_ticks.tolist() == [0, 48]
    assert set(found) == {"tempo-assumed", "metre-assumed"}


@pytest.mark.parametrize("key", [b"\x09\x00", b"\x00\x05", b"\x01", b""])
def test_a_key_signature_of_no_key_is_passed_over(key: bytes) -> None:
    score, found = read(midi_file(meta(0, 0x59, key) + meta(0, 0x59, b"\xfd\x01") + note(0, 24) + END))
    assert score.note_count == 1
    assert found["midi-key-signature"] == (Severity.MENDED, 1)


def test_data_bytes_above_127_are_read_as_127_or_left_out() -> None:
    body = bytes([0, 0x90, 60, 200]) + off(24, 60) + bytes([0, 0x90, 180, 64]) + note(0, 24, 62) + END
    score, found = read(midi_file(body))
    assert score.pitch_midi.tolist() == [60, 62]
    assert score.velocity.tolist() == [127, 64]
    assert found["midi-data-byte"] == (Severity.MENDED, 2)


def test_tempo_and_metre_events_of_a_wrong_length_are_read_as_far_as_they_go() -> None:
    head = meta(0, 0x58, bytes([3, 2])) + meta(0, 0x51, b"\x07\xa1") + meta(0, 0x51, b"\x09\x27\xc0\x00")
    score, found = read(midi_file(head + note(0, 24) + END))
    assert score.bar_map.beats.tolist() == [3]
    assert score.tempo_map.us_per_quarter.tolist() == [600_000]
    assert found["midi-meta-length"] == (Severity.MENDED, 3)


@pytest.mark.parametrize("head", [meta(0, 0x51, b"\x09\x27\xc0\x00"), meta(0, 0x58, bytes([3, 2, 24, 8, 0]))])
def test_one_event_that_is_too_long_is_told_by_itself(head: bytes) -> None:
    _, found = read(midi_file(head + note(0, 24) + END))
    assert found["midi-meta-length"] == (Severity.MENDED, 1)


def test_a_track_without_an_end_is_read_to_its_last_event() -> None:
    score, found = read(midi_file(note(0, 24), on(0, 62)))
    assert score.duration_ticks.tolist() == [24, 0]
    assert found["midi-no-end"] == (Severity.MENDED, 2)


def test_what_stands_after_an_end_of_track_is_left_out() -> None:
    score, found = read(midi_file(note(0, 24) + END + note(0, 24, 62) + END))
    assert score.pitch_midi.tolist() == [60]
    assert found["midi-after-end"][0] == Severity.MENDED


# Chunks ----------------------------------------------------------------------------------------------------------


def test_a_longer_header_and_unknown_chunks_are_passed_over() -> None:
    header = struct.pack(">4sIHHH", b"MThd", 10, 0, 1, 96) + bytes(4)
    unknown = b"XFIH" + struct.pack(">I", 5) + b"MTrk!"
    score, found = read(header + unknown + track_chunk(note(0, 24) + END) + unknown)
    assert score.note_count == 1
    assert set(found) == {"tempo-assumed", "metre-assumed"}


@pytest.mark.parametrize("claimed", [0, 5, 7, 1000, 0xFFFFFFFF])
def test_a_wrong_header_length_is_told(claimed: int) -> None:
    score, found = read(TUNE[:4] + struct.pack(">I", claimed) + TUNE[8:])
    assert score.note_count == 12
    assert found["midi-header-length"] == (Severity.MENDED, 1)


@pytest.mark.parametrize("count", [0, 1, 2, 4, 0x8000, 0xFFFF])
def test_a_wrong_track_count_is_told_and_every_track_read(count: int) -> None:
    score, found = read(TUNE[:10] + struct.pack(">H", count) + TUNE[12:])
    assert (score.note_count, len(score.parts)) == (12, 2)
    assert found["midi-track-count"] == (Severity.MENDED, 1)


@pytest.mark.parametrize("form", [0, 3, 0xFFFF])
def test_a_format_that_cannot_be_is_read_as_tracks_together(form: int) -> None:
    score, found = read(TUNE[:8] + struct.pack(">H", form) + TUNE[10:])
    assert score.note_count == 12
    assert found["midi-format"] == (Severity.MENDED, 1)


@pytest.mark.parametrize("claimed", [0, 3, 40, 0x7FFFFFFF, 0xFFFFFFFF])
def test_a_wrong_track_length_does_not_lose_a_note(claimed: int) -> None:
    at = TUNE.index(b"MTrk", TUNE.index(b"MTrk") + 4)
    score, _ = read(TUNE[: at + 4] + struct.pack(">I", claimed) + TUNE[at + 8 :])
    assert score.note_count == 12


def test_a_huge_length_claims_no_memory() -> None:
    body = on(0, 60) + bytes([0, 0xF0, 0xFF, 0xFF, 0xFF, 0x7F, 1, 2, 3])
    data = midi_file(body)
    data = data[:18] + b"\xff\xff\xff\xff" + data[22:]
    read(midi_file(note(0, 1) + END))  # what is loaded once is not counted
    tracemalloc.start()
    score, found = read(data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert score.note_count == 1
    assert found["midi-track-broken"] == (Severity.MENDED, 1)
    assert peak < 2_000_000


def test_bytes_around_the_file_are_passed_over() -> None:
    wrapped = b"RMIDdata" + struct.pack("<I", len(TUNE)) + TUNE + b"LIST\4\0\0\0INFO"
    score, found = read(b"RIFF" + struct.pack("<I", len(wrapped)) + wrapped)
    assert score.note_count == 12
    assert not found
    score, found = read(bytes(128) + TUNE + bytes(100))
    assert score.note_count == 12
    assert found["midi-leading-bytes"] == found["midi-stray-bytes"] == (Severity.MENDED, 1)


# Refusals --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"MThd", "4 bytes and no whole header found"),
        (TUNE[:14], "no track with any event in it"),
        (midi_file(b"", b""), "no track with any event in it"),
        (midi_file(b"\x00\x90"), "not one whole event"),
        (midi_file(b"\x00\x40\x40"), "not one whole event"),
        (midi_file(note(0, 1) + END, division=0), "0 ticks per quarter note; from 1 to 32,767 are possible"),
        (midi_file(note(0, 1) + END, division=0x9C28), "time in 100 frames a second of 40 ticks; 24, 25, 29 or 30"),
        (midi_file(note(0, 1) + END, division=0xE700), "time in 25 frames a second of 0 ticks"),
        (midi_file(*[END] * 1001), "1,001 tracks; at most 1,000 are read"),
    ],
)
def test_what_cannot_be_read_is_refused_in_one_line(data: bytes, message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        read_midi(data, "song.mid")
    assert str(caught.value).startswith("song.mid: ")
    assert caught.value.hint


# Bad input by the hundred ----------------------------------------------------------------------------------------


def test_cut_short_anywhere_it_gives_the_notes_there_are_or_is_refused() -> None:
    counts = [read_or_refuse(TUNE[:length]) for length in range(len(TUNE))]
    notes = [0 if score is None else score.note_count for score in counts]
    assert notes == sorted(notes), "a longer piece of the file never gives fewer notes"
    assert notes[-1] == 12
    assert counts[30] is not None, "the first event is whole by then"
    refused = [length for length, score in enumerate(counts) if score is None]
    assert refused == list(range(len(refused))), "refused only where nothing is whole yet"


REAL = SCORES / "43_pianobooster_04-FrereJacques.mid"


def test_a_real_file_cut_short_anywhere() -> None:
    data = REAL.read_bytes()
    for length in [*range(64), *range(64, len(data), 29)]:
        read_or_refuse(data[:length])


@given(st.binary(max_size=200))
def test_any_bytes_after_a_header(tail: bytes) -> None:
    read_or_refuse(TUNE[:14] + tail)
    read_or_refuse(TUNE[:14] + track_chunk(tail))
    read_or_refuse(tail)


@given(st.lists(st.tuples(st.integers(0, len(TUNE) - 1), st.integers(0, 7)), min_size=1, max_size=8))
def test_any_bits_flipped(flips: list[tuple[int, int]]) -> None:
    data = bytearray(TUNE)
    for at, bit in flips:
        data[at] ^= 1 << bit
    read_or_refuse(bytes(data))


def test_every_single_byte_replaced() -> None:
    chance = random.Random(1988)  # noqa: S311  # a seeded choice of bytes, not a secret
    for at in range(len(TUNE)):
        for value in {0x00, 0x7F, 0x80, 0xF0, 0xFF, chance.randrange(256)}:
            read_or_refuse(TUNE[:at] + bytes([value]) + TUNE[at + 1 :])


@given(
    st.lists(
        st.one_of(
            st.binary(min_size=1, max_size=6),
            st.builds(note, st.integers(0, 2**28 - 1), st.integers(0, 300), st.integers(0, 127), st.integers(0, 15)),
            st.builds(meta, st.integers(0, 300), st.integers(0, 127), st.binary(max_size=8)),
        ),
        max_size=12,
    ),
    st.integers(0, 65535),
    st.integers(0, 4),
)
def test_any_events_good_and_bad(events: list[bytes], division: int, form: int) -> None:
    read_or_refuse(midi_file(b"".join(events), note(0, 24) + END, form=form, division=division))


def written(events: Events) -> list[bytes]:
    """Tracks of nothing but the events that were kept, each with its status byte."""
    tracks: list[list[tuple[int, bytes]]] = [[(end, b"\xff\x2f\0")] for end in events.track_ends.tolist()]
    for track, tick, kind, content in events.metas:
        tracks[track].append((tick, bytes([0xFF, kind]) + vlq(len(content)) + content))
    for track, tick, channel, program in events.programs:
        tracks[track].append((tick, bytes([0xC0 | channel, program])))
    notes = events.notes
    for voice, tick, *data in zip(
        *(column.tolist() for column in (notes.voice, notes.tick, notes.pitch_midi, notes.velocity)), strict=True
    ):
        tracks[voice >> 4].append((tick, bytes([0x90 | voice & 15, *data])))
    bodies = []
    for end, *timed in tracks:
        body, now = b"", 0
        for tick, event in [*sorted(timed, key=itemgetter(0)), end]:
            body += vlq(tick - now) + event
            now = tick
        bodies.append(body)
    return bodies


@pytest.mark.parametrize("path", [None, *SCORES.glob("*.mid")], ids=lambda path: path.stem if path else "tune")
def test_mending_a_sound_file_changes_no_note_and_tells_nothing(path: Path | None) -> None:
    data = TUNE if path is None else path.read_bytes()
    faults = Notices(MidiFault, "song.mid")
    layout = read_layout(data, faults)
    events = read_events(layout.tracks, faults)
    assert not faults.findings()
    assert not events.breaks
    plain, _ = read_midi(data, "song.mid")
    again, _ = read_midi(midi_file(*written(events), form=layout.format, division=layout.division), "song.mid")
    assert repr(asdict(replace(again, sha256=""))) == repr(asdict(replace(plain, sha256="")))
