"""Recordings heard by other ears: onsets, pitches, peaks, sides and equal bytes."""

from __future__ import annotations

from functools import lru_cache
from io import BytesIO

import mido
import numpy as np
import pytest

from listening import RATE_HZ, Samples, cents, loudest_hz, onsets_s, oversampled_peak, read_wav
from pegwright.ask.request import Request
from pegwright.bundled import bundled_wheel, songs_folder
from pegwright.columns import frozen_floats, frozen_ints
from pegwright.config import load_wheel
from pegwright.preview.midi_out import midi_bytes
from pegwright.preview.mix import PEAK_DBTP, loudness, record
from pegwright.preview.perform import Compare, Wish, perform
from pegwright.preview.performance import Performance, Sound
from pegwright.preview.wav import wav_bytes
from pegwright.song import FittedSong
from pegwright.song_pipeline.fitting import fit_file


@lru_cache
def fitted_song(name: str) -> FittedSong:
    return fit_file(songs_folder() / name, load_wheel(bundled_wheel()), Request())


def song(name: str, wish: Wish) -> Performance:
    fitted = fitted_song(name)
    return perform(fitted, wish)[0]


def single(sound: Sound, velocity: int = 80, seconds: tuple[float, ...] = (0.0,)) -> Performance:
    count = len(seconds)
    struck = (frozen_ints([velocity] * count), frozen_floats([0.0] * count))
    return Performance("Air", (sound,), frozen_ints([0] * count), frozen_floats(seconds), *struck, 500_000, 24)


def heard(performance: Performance) -> Samples:
    return read_wav(wav_bytes(record(performance)))


def midi_times_s(performance: Performance) -> Samples:
    """The distinct moments at which the MIDI file says that something sounds."""
    file = mido.MidiFile(file=BytesIO(midi_bytes(performance)))
    at, found = 0.0, set()
    for message in file:
        at += message.time
        if message.type == "note_on" and message.velocity:
            found.add(round(at, 5))
    return np.array(sorted(found))


def apart_s(these: Samples, those: Samples) -> Samples:
    """From each of these to the nearest of those."""
    return np.array([np.abs(those - one).min() for one in these])


@pytest.mark.parametrize("name", ["turnstile-tango.mid", "shrimpers-jig.mid", "the-sands-at-evening.musicxml"])
def test_what_is_heard_begins_where_the_midi_file_says_and_nowhere_else(name: str) -> None:
    performance = song(name, Wish(leads=False))
    onsets, times = onsets_s(heard(performance)), midi_times_s(performance)
    assert len(times) > 50
    assert apart_s(times, onsets).max() < 0.002
    assert apart_s(onsets, times).max() < 0.002
    assert np.median(apart_s(times, onsets)) < 0.0001


def test_with_leads_and_limping_seams_too() -> None:
    limp = (1.5, -0.5, 0.8, -1.2, 0.6, 0.0)
    performance = song("rowing-boat-barcarolle.mid", Wish(seam_errors_mm=limp))
    onsets, times = onsets_s(heard(performance)), midi_times_s(performance)
    assert apart_s(onsets, times).max() < 0.002
    first_of_a_cluster = times[np.diff(times, prepend=-1.0) > 0.015]
    assert apart_s(first_of_a_cluster, onsets).max() < 0.002


@pytest.mark.parametrize("pitch", [43, 48, 53, 60, 67, 74, 81, 86])
def test_pitches_in_the_recording_are_within_5_cents(pitch: int) -> None:
    samples = heard(single(Sound("x", pitch, False))).sum(axis=0)
    expected_hz = 440 * 2 ** ((pitch - 69) / 12)
    assert abs(cents(loudest_hz(samples, expected_hz * 0.9, expected_hz * 1.1), expected_hz)) < 5


@pytest.mark.parametrize(
    ("name", "wish"),
    [
        ("donkey-ride-polka.mxl", Wish()),
        ("the-committee-regrets.musicxml", Wish(compare=Compare.BESIDE)),
        ("lullaby-for-a-lighthouse.mid", Wish(even=True)),
    ],
)
def test_a_recording_does_not_clip_has_no_constant_part_and_fades_out(name: str, wish: Wish) -> None:
    recording = record(song(name, wish))
    samples = read_wav(wav_bytes(recording))
    peak_db = 20 * np.log10(oversampled_peak(samples, 8))
    assert peak_db <= -1.0
    assert peak_db == pytest.approx(PEAK_DBTP, abs=0.1)
    assert recording.peak_dbtp == pytest.approx(PEAK_DBTP)
    assert np.abs(samples.mean(axis=1)).max() < 2e-5
    assert np.abs(samples[:, -10:]).max() <= 2 / 32_768
    assert np.abs(samples[:, -4410:]).max() < 0.001


def test_the_same_song_gives_the_same_bytes() -> None:
    performance = song("lamplighters-march.mid", Wish())
    assert wav_bytes(record(performance)) == wav_bytes(record(performance))


def test_channels_stand_from_left_to_right_in_the_order_of_the_wheel() -> None:
    def left_over_right_db(pitch: int, side: float) -> float:
        left, right = heard(single(Sound("x", pitch, False, side)))
        return float(10 * np.log10(np.sum(left**2) / np.sum(right**2)))

    levels = np.array([[left_over_right_db(pitch, side) for side in (-0.55, 0.0, 0.55)] for pitch in (48, 67, 72, 79)])
    assert np.all(np.diff(levels, axis=1) < -2)
    assert levels.mean(axis=0) == pytest.approx([7, 0, -7], abs=2)
    assert np.abs(levels[:, 1]).max() < 2.5  # the walls of a room favour some pitches on one side


def test_the_score_is_on_the_left_and_the_pins_are_on_the_right() -> None:
    performance = song("lamplighters-march.mid", Wish(compare=Compare.BESIDE, leads=False))
    sides = {sound.name.partition(":")[0]: sound.side for sound in performance.sounds}
    assert sides == {"score": -1.0, "pins": 1.0}


def test_louder_velocities_are_louder() -> None:
    soft_and_hard = Performance(
        "Air",
        (Sound("x", 72, False),),
        frozen_ints([0, 0]),
        frozen_floats([0.0, 4.0]),
        frozen_ints([60, 120]),
        frozen_floats([0.0, 0.0]),
        500_000,
        24,
    )
    samples = heard(soft_and_hard).sum(axis=0)
    soft, hard = (np.abs(samples[at : at + RATE_HZ]).max() for at in (0, 4 * RATE_HZ))
    assert 0.8 * loudness(120) / loudness(60) < hard / soft < 1.6 * loudness(120) / loudness(60)


def test_a_string_plucked_again_stops_ringing_first() -> None:
    string = Sound("bass", 43, False)
    once = heard(single(string)).sum(axis=0)
    again = heard(single(string, seconds=(0.0, 0.7133))).sum(axis=0)
    assert np.abs(again[: 2 * RATE_HZ]).max() == pytest.approx(np.abs(once).max(), rel=0.25)


def test_two_strikes_in_a_row_of_a_drum_are_not_one_sound_copied() -> None:
    samples = heard(single(Sound("snare", 38, True), seconds=(0.0, 1.5)))[0]
    first, second = samples[:4000], samples[int(1.5 * RATE_HZ) : int(1.5 * RATE_HZ) + 4000]
    assert 0.2 < np.corrcoef(first, second)[0, 1] < 0.95


def test_nothing_struck_is_an_empty_recording() -> None:
    assert record(single(Sound("x", 72, False), seconds=())).seconds == 0
