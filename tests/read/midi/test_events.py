"""MIDI events, one by one, against those that general reference libraries read from the same bytes."""

from __future__ import annotations

import io
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midi_bytes import END, meta, midi_file, off, on, vlq
from pegwright.findings import Notices, Severity
from pegwright.read.midi.chunks import read_layout
from pegwright.read.midi.events import Events, read_events
from pegwright.read.midi.notices import MidiFault
from pegwright.read.midi.reader import read_midi
from places import SCORES

REAL_FILES = sorted(SCORES.glob("*.mid"))

Row = tuple[int, ...]


def read_with_faults(data: bytes) -> tuple[Events, list[str]]:
    """The events, and the codes of what was wrong."""
    faults = Notices(MidiFault, "song.mid")
    events = read_events(read_layout(data, faults).tracks, faults)
    return events, [finding.code for finding in faults.findings()]


def read(data: bytes) -> Events:
    events, faults = read_with_faults(data)
    assert not faults
    assert not events.breaks
    return events


def note_rows(events: Events) -> list[Row]:
    """(track, tick, channel, pitch, velocity) of every note-on and note-off in file order."""
    notes = events.notes
    columns = (notes.voice >> 4, notes.tick, notes.voice & 15, notes.pitch_midi, notes.velocity)
    return list(zip(*(column.tolist() for column in columns), strict=True))


def assert_same_events(events: Events, tracks: list[Any]) -> None:
    """The same events, in the same order, as mido's messages."""
    timed = []
    for number, track in enumerate(tracks):
        tick = 0
        for message in track:
            tick += message.time
            timed.append((number, tick, message))
    ends = {number: tick for number, tick, _ in timed}
    assert events.track_ends.tolist() == [ends.get(number, 0) for number in range(len(tracks))]
    assert note_rows(events) == [
        (number, tick, message.channel, message.note, message.velocity if message.type == "note_on" else 0)
        for number, tick, message in timed
        if message.type in {"note_on", "note_off"}
    ]
    assert list(events.programs) == [
        (number, tick, message.channel, message.program)
        for number, tick, message in timed
        if message.type == "program_change"
    ]
    kept = {"track_name", "instrument_name", "set_tempo", "time_signature", "key_signature"}
    assert [(track, tick, bytes([0xFF, kind]) + vlq(len(data)) + data) for track, tick, kind, data in events.metas] == [
        (number, tick, bytes(message.bytes())) for number, tick, message in timed if message.type in kept
    ]
    controls = [message for _, _, message in timed if message.type == "control_change" and message.control == 64]
    assert events.pedal_count == sum(message.value >= 64 for message in controls)
    assert events.bend_count == sum(message.type == "pitchwheel" and message.pitch != 0 for *_, message in timed)


@pytest.mark.skipif(not REAL_FILES, reason="the folder of real scores is not here")
@pytest.mark.parametrize("path", REAL_FILES, ids=lambda path: path.stem)
def test_real_files_have_the_events_that_mido_reads(path: Path) -> None:
    assert_same_events(read(path.read_bytes()), mido.MidiFile(path).tracks)


@pytest.mark.skipif(not REAL_FILES, reason="the folder of real scores is not here")
@pytest.mark.parametrize("path", REAL_FILES, ids=lambda path: path.stem)
def test_real_files_have_the_events_that_symusic_reads(path: Path) -> None:
    """symusic hands out notes, not note-ons and note-offs: each has its own on, and its end is one of the offs."""
    import symusic

    data = path.read_bytes()
    events = read(data)
    theirs = symusic.Score.from_midi(data)
    notes = [(note, track.is_drum) for track in theirs.tracks for note in track.notes]
    rows = note_rows(events)
    ons = Counter((tick, pitch, velocity, channel == 9) for _, tick, channel, pitch, velocity in rows if velocity)
    offs = Counter((tick, pitch, channel == 9) for _, tick, channel, pitch, velocity in rows if not velocity)
    their_ons = Counter((note.start, note.pitch, note.velocity, drum) for note, drum in notes)
    their_offs = Counter((note.end, note.pitch, drum) for note, drum in notes)
    assert their_ons <= ons
    assert their_offs <= offs
    assert their_ons == ons or ons.total() > offs.total(), "only notes that never end are missing there"
    tempi = [(tick, int.from_bytes(data, "big")) for _, tick, kind, data in events.metas if kind == 0x51]
    metres = [(tick, data[0], 2 ** data[1]) for _, tick, kind, data in events.metas if kind == 0x58]
    assert sorted(tempi) == sorted((tempo.time, tempo.mspq) for tempo in theirs.tempos)
    assert sorted(metres) == sorted((m.time, m.numerator, m.denominator) for m in theirs.time_signatures)


# Any sound file ---------------------------------------------------------------------------------------------------

SEVEN_BITS, CHANNELS, DELTAS = st.integers(0, 127), st.integers(0, 15), st.integers(0, 0xFFFFFFF) | st.integers(0, 300)
TEXTS = st.text(st.characters(max_codepoint=255), max_size=200)


def messages_of(kind: str, **data: st.SearchStrategy[Any]) -> st.SearchStrategy[mido.Message]:
    return st.builds(mido.Message, st.just(kind), channel=CHANNELS, time=DELTAS, **data)


def metas_of(kind: str, **data: st.SearchStrategy[Any]) -> st.SearchStrategy[mido.MetaMessage]:
    return st.builds(mido.MetaMessage, st.just(kind), time=DELTAS, **data)


MESSAGES = st.one_of(
    messages_of("note_on", note=SEVEN_BITS, velocity=SEVEN_BITS),
    messages_of("note_off", note=SEVEN_BITS, velocity=SEVEN_BITS),
    messages_of("polytouch", note=SEVEN_BITS, value=SEVEN_BITS),
    messages_of("control_change", control=SEVEN_BITS | st.just(64), value=SEVEN_BITS),
    messages_of("program_change", program=SEVEN_BITS),
    messages_of("aftertouch", value=SEVEN_BITS),
    messages_of("pitchwheel", pitch=st.integers(-8192, 8191) | st.just(0)),
    st.builds(mido.Message, st.just("sysex"), data=st.lists(SEVEN_BITS, max_size=200), time=DELTAS),
    metas_of("text", text=TEXTS),
    metas_of("track_name", name=TEXTS),
    metas_of("instrument_name", name=TEXTS),
    metas_of("lyrics", text=TEXTS),
    metas_of("set_tempo", tempo=st.integers(0, 0xFFFFFF)),
    metas_of("time_signature", numerator=st.integers(0, 255), denominator=st.integers(0, 28).map(lambda p: 2**p)),
    metas_of("key_signature", key=st.sampled_from(["C", "Abm", "F#", "Cb"])),
    metas_of("smpte_offset", frame_rate=st.sampled_from([24, 25, 30])),
    st.builds(mido.UnknownMetaMessage, st.integers(0x60, 0x6F), st.lists(st.integers(0, 255), max_size=9), time=DELTAS),
)


@given(st.lists(st.lists(MESSAGES, max_size=20), min_size=1, max_size=4), st.integers(0, 2))
def test_the_events_that_mido_writes_are_the_events_read(tracks: list[list[Any]], form: int) -> None:
    """mido writes with running status, which meta and system exclusive events end."""
    ended = [[*track, mido.MetaMessage("end_of_track", time=7)] for track in tracks[: 1 if form == 0 else None]]
    buffer = io.BytesIO()
    mido.MidiFile(type=form, tracks=[mido.MidiTrack(track) for track in ended]).save(file=buffer)
    assert_same_events(read(buffer.getvalue()), ended)


# What a general library reads otherwise, or not at all -----------------------------------------------------------


def test_escapes_and_unknown_meta_events_pass_with_their_time() -> None:
    """F7 may hold any bytes, status bytes among them (Standard MIDI Files 1.0, from memory)."""
    body = on(3, 60) + bytes([4, 0xF7, 3, 0x90, 0x3C, 0xFF]) + meta(5, 0x7F, bytes(200)) + off(6, 60) + END
    assert note_rows(read(midi_file(body))) == [(0, 3, 0, 60, 64), (0, 18, 0, 60, 0)]


@pytest.mark.parametrize(("coded", "read_on"), [("80 80 80 80 80 05", True), ("81 80 80 80 00", False)])
def test_a_quantity_of_more_than_four_bytes_is_read_while_it_is_small_enough(coded: str, read_on: bool) -> None:
    """At most 0FFFFFFF: Standard MIDI Files 1.0, variable-length quantities (from memory)."""
    data = midi_file(on(0, 60) + bytes.fromhex(coded) + bytes([60, 0]) + END)
    events, faults = read_with_faults(data)
    assert [row[1] for row in note_rows(events)] == ([0, 5] if read_on else [0])
    assert faults == []
    codes = [finding.code for finding in read_midi(data, "song.mid")[1] if finding.severity > Severity.NOTE]
    assert [code for code in codes if code != "hanging-notes"] == ([] if read_on else ["midi-track-broken"])
    assert dict(events.breaks) == ({} if read_on else {0: 4})


def test_running_status_does_not_go_on_from_another_track() -> None:
    events, _ = read_with_faults(midi_file(on(0, 60) + off(1, 60) + END, bytes([0, 62, 64]) + END))
    assert dict(events.breaks) == {1: 0}
    assert len(note_rows(events)) == 2


def test_running_status_across_a_meta_event_is_read_and_reported() -> None:
    """A meta event ends running status (Standard MIDI Files 1.0, from memory); every reader goes on all the same."""
    across = on(0, 60) + meta(0, 0x05, b"la") + bytes([24, 60, 0])
    codes = []
    for body in (across + END, across + bytes([0, 0xFE]) + END, across):
        events, faults = read_with_faults(midi_file(body))
        assert len(note_rows(events)) == 2
        codes.append(faults)
    status = "midi-running-status"
    assert codes == [[status], [status, "midi-system-event"], ["midi-no-end", status]]


def test_reading_loads_no_general_midi_library() -> None:
    """mido writes MIDI files here, and reads them only in tests."""
    data = midi_file(on(0, 60) + off(24, 60) + END)
    program = (
        "import sys; from pegwright.read.midi.reader import read_midi; "
        f"score, _ = read_midi({data!r}, 'song.mid'); sys.exit(score.note_count != 1 or 'mido' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
