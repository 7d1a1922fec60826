"""MIDI files of performances, read back by mido, pretty_midi and symusic."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import mido
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.ask.request import Request
from pegwright.bundled import bundled_wheel, songs_folder
from pegwright.columns import frozen_floats, frozen_ints
from pegwright.config import load_wheel
from pegwright.preview.midi_out import MAX_TICKS, midi_bytes, tick_of
from pegwright.preview.perform import Wish, perform
from pegwright.preview.performance import Performance, Sound
from pegwright.song_pipeline.fitting import fit_file
from placed import TITLES

BAR, STRING, DRUM = Sound("chime C5", 72, False), Sound("bass G2", 43, False), Sound("snare", 38, True)


def performance(
    strikes: list[tuple[int, float, int]], sounds: tuple[Sound, ...] = (BAR, STRING, DRUM), **changes: object
) -> Performance:
    """A performance of (sound, seconds, velocity) rows at 120 quarter notes a minute, unless changed by field name."""
    rows = sorted(strikes, key=lambda row: (row[1], row[0]))
    sound, seconds, velocity = zip(*rows, strict=True) if rows else ((), (), ())
    columns = (frozen_ints(sound), frozen_floats(seconds), frozen_ints(velocity), frozen_floats([0.0] * len(rows)))
    made = Performance("Air", sounds, *columns, 500_000, 24)
    return replace(made, **changes)  # type: ignore[arg-type]  # field names and types are the caller's


def struck(data: bytes) -> list[tuple[str, int, int, int, int]]:
    """(track, channel, pitch, velocity, tick) of every note, by mido."""
    found = []
    for track in mido.MidiFile(file=BytesIO(data), charset="utf-8").tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity:
                found.append((track.name, message.channel, message.note, message.velocity, tick))
    return found


def test_the_file_is_of_format_1_with_a_track_for_each_sound_and_drums_on_channel_10() -> None:
    data = midi_bytes(performance([(0, 0.0, 80), (1, 0.25, 70), (2, 0.5, 60), (0, 0.75, 50)]))
    file = mido.MidiFile(file=BytesIO(data))
    assert (file.type, file.ticks_per_beat) == (1, 15_360)
    assert [track.name for track in file.tracks] == ["Air", "chime C5", "bass G2", "snare"]
    quarter = file.ticks_per_beat
    assert struck(data) == [
        ("chime C5", 0, 72, 80, 0),
        ("chime C5", 0, 72, 50, quarter * 3 // 2),
        ("bass G2", 1, 43, 70, quarter // 2),
        ("snare", 9, 38, 60, quarter),
    ]
    tempi = [message.tempo for message in file.tracks[0] if message.type == "set_tempo"]
    assert tempi == [500_000]


def test_the_first_metre_is_the_songs() -> None:
    head = mido.MidiFile(file=BytesIO(midi_bytes(performance([(0, 0.0, 80)], beats=6, beat_type=8)))).tracks[0]
    assert [(it.numerator, it.denominator) for it in head if it.type == "time_signature"] == [(6, 8)]


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.integers(0, 2), st.floats(0, 200), st.integers(1, 127)), max_size=40),
    st.sampled_from([60_000, 350_000, 500_000, 999_999, 3_999_999, 4_000_001, 16_777_216, 60_000_000]),
    st.sampled_from([1, 6, 24, 35, 960, 7_681, 15_360, 99_999]),
)
def test_every_strike_is_within_half_a_tick_of_its_time(
    strikes: list[tuple[int, float, int]], us_per_quarter: int, resolution: int
) -> None:
    made = performance(strikes, us_per_quarter=us_per_quarter, resolution=resolution)
    data = midi_bytes(made)
    file = mido.MidiFile(file=BytesIO(data))
    tempo = next(message.tempo for message in file.tracks[0] if message.type == "set_tempo")
    tick_s = tempo / 1e6 / file.ticks_per_beat
    assert tick_s / 2 < 0.00027
    heard = {(name, tick) for name, _, _, _, tick in struck(data)}
    expected = {
        (made.sounds[sound].name, tick) for sound, tick in zip(made.sound.tolist(), tick_of(made).tolist(), strict=True)
    }
    assert heard == expected
    assert np.all(np.abs(tick_of(made) * tick_s - made.seconds) <= tick_s / 2 + 1e-9)


@given(st.lists(st.integers(0, 2000), max_size=20), st.sampled_from([3, 24, 35, 960]))
def test_strikes_in_holes_are_at_whole_ticks(places: list[int], resolution: int) -> None:
    made = performance([(0, place * 0.5 / resolution, 80) for place in sorted(set(places))], resolution=resolution)
    quarter = resolution * (MAX_TICKS // resolution)
    assert tick_of(made).tolist() == [place * (quarter // resolution) for place in sorted(set(places))]


@pytest.mark.parametrize("name", ["turnstile-tango.mid", "salt-water-shuffle.musicxml", "low-water-slowly.mid"])
@pytest.mark.parametrize("leads", [False, True])
def test_pretty_midi_and_symusic_read_the_strikes_of_the_pins(name: str, leads: bool, tmp_path: Path) -> None:
    import pretty_midi
    import symusic

    wheel = load_wheel(bundled_wheel())
    fitted = fit_file(songs_folder() / name, wheel, Request())
    made, _ = perform(fitted, Wish(turn_count=1, leads=leads))
    file = tmp_path / "pins.mid"
    file.write_bytes(midi_bytes(made))
    # Straight from pins and wheel, in exact arithmetic.
    pins, quarter_s = fitted.turns[0].pins, Fraction(fitted.turns[0].placement.us_per_quarter, 1_000_000)
    expected = []
    for pin in range(pins.pin_count):
        channel, row = wheel.channels[int(pins.channel[pin])], wheel.rows[int(pins.row[pin])]
        steps = int(pins.plate[pin]) * wheel.steps_per_plate + row.position_steps(int(pins.index[pin]))
        late_steps = wheel.pin_types[int(pins.pin_type[pin])].offset_mm / wheel.step_mm
        seconds = float((steps + Fraction(late_steps)) * wheel.step_quarters * quarter_s)
        seconds += leads * channel.lead_ms / 1000
        expected.append((channel.name, (channel.pitches or channel.drum_keys)[0], not channel.pitches, seconds))
    expected.sort(key=lambda note: (note[0], note[3]))
    read_by = {
        "pretty_midi": [
            (track.name, note.pitch, track.is_drum, note.start)
            for track in pretty_midi.PrettyMIDI(str(file)).instruments
            for note in track.notes
        ],
        "symusic": [
            (track.name, note.pitch, track.is_drum, note.start)
            for track in symusic.Score(file, ttype="second").tracks
            for note in track.notes
        ],
    }
    for notes in read_by.values():
        notes.sort(key=lambda note: (note[0], note[3]))
        assert [note[:3] for note in notes] == [note[:3] for note in expected]
        apart = [abs(note[3] - other[3]) for note, other in zip(notes, expected, strict=True)]
        assert max(apart) < 131e-6


def test_channels_of_one_pitch_struck_together_stay_two_notes() -> None:
    import pretty_midi

    twins = (Sound("left", 72, False), Sound("right", 72, False), Sound("low", 48, False), Sound("lower", 48, False))
    data = midi_bytes(performance([(number, 0.5, 80) for number in range(4)], twins))
    assert len({channel for _, channel, *_ in struck(data)}) == 4
    read = pretty_midi.PrettyMIDI(BytesIO(data))
    assert sorted((it.name, len(it.notes)) for it in read.instruments) == sorted((it.name, 1) for it in twins)


def test_a_note_ends_before_the_same_bar_is_struck_again() -> None:
    data = midi_bytes(performance([(0, 0.0, 80), (0, 0.05, 80), (0, 0.05, 90)]))
    track = mido.MidiFile(file=BytesIO(data)).tracks[1]
    kinds = [(it.type, it.velocity) for it in track if it.type.startswith("note")]
    assert kinds == [("note_on", 80), ("note_off", 0), ("note_on", 90), ("note_off", 0)]


def test_two_sides_are_panned_apart() -> None:
    sides = (Sound("score: C5", 72, False, -1.0, alone=True), Sound("pins: C5", 72, False, 1.0, alone=True))
    data = midi_bytes(performance([(0, 0.0, 80), (1, 0.0, 80)], sides))
    pans = {
        track.name: [it.value for it in track if it.type == "control_change" and it.control == 10]
        for track in mido.MidiFile(file=BytesIO(data)).tracks[1:]
    }
    assert pans == {"score: C5": [0], "pins: C5": [127]}
    assert len({channel for _, channel, *_ in struck(data)}) == 2


@pytest.mark.parametrize("title", TITLES)
def test_any_title_makes_a_file_that_others_read(title: str) -> None:
    import symusic

    sounds = (Sound(title or "x", 72, False),)
    data = midi_bytes(performance([(0, 0.0, 80)], sounds, title=title))
    assert midi_bytes(performance([(0, 0.0, 80)], sounds, title=title)) == data
    assert len(data) < 2000
    head, track = mido.MidiFile(file=BytesIO(data), charset="utf-8").tracks
    assert head.name.isprintable()
    assert Counter(it.type for it in track)["note_on"] == 1
    assert symusic.Score.from_midi(data).note_num() == 1


def test_no_strikes_make_a_file_without_notes() -> None:
    assert struck(midi_bytes(performance([]))) == []
