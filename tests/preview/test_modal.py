"""Voices held against the physics they are made from: partials, decays, pitches, and quiet beginnings and ends."""

from __future__ import annotations

import numpy as np
import pytest

from listening import RATE_HZ, cents, decay_60_db_s, loudest_hz
from pegwright.preview.drums import SKIN_RATIOS, WOOD_RATIOS, drum
from pegwright.preview.modal import LONGEST_S, Burst, Voice, blow, modes, noise, white
from pegwright.preview.pitched import BAR_ROOTS, bar, bar_shape, pitch_hz, string

A_SECOND = np.arange(RATE_HZ) / RATE_HZ


def test_bar_roots_solve_the_free_beam_of_euler_and_bernoulli() -> None:
    from scipy.optimize import brentq

    roots = [brentq(lambda x: np.cosh(x) * np.cos(x) - 1, low, low + 1.5) for low in (4.0, 7.1, 10.2, 13.4)]
    assert pytest.approx(roots, abs=1e-8) == BAR_ROOTS
    ratios = (BAR_ROOTS / BAR_ROOTS[0]) ** 2
    # N. H. Fletcher, T. D. Rossing, The Physics of Musical Instruments, table 2.2: 4.730, 7.853, 10.996 and the
    # ratios 1 : 2.756 : 5.404 : 8.933 (from memory; the roots were seen in a page that quotes the table).
    assert ratios == pytest.approx([1, 2.756, 5.404, 8.933], abs=0.001)
    # A measured bar: "uniform aluminum bar", Csound manual, appendix of modal frequency ratios.
    assert ratios == pytest.approx([1, 2.756, 5.423, 8.988], rel=0.007)


def test_a_bar_stands_still_at_its_nodes_and_its_middle_leaves_every_second_mode_alone() -> None:
    swing = np.abs(bar_shape(0.0))
    assert np.abs(bar_shape(0.5) / swing)[[1, 3]] == pytest.approx([0, 0], abs=1e-4)
    # Bars rest on cords at 0.224 of their length (common practice of bar makers; Fletcher and Rossing, from memory).
    assert abs(bar_shape(0.2242)[0] / swing[0]) < 0.001


def test_skins_ring_at_the_zeros_of_bessel_functions() -> None:
    from scipy.special import jn_zeros

    zeros = [jn_zeros(order, count)[count - 1] for order, count in ((0, 1), (1, 1), (2, 1), (0, 2), (3, 1), (1, 2))]
    assert pytest.approx(np.array(zeros) / zeros[0], abs=1e-8) == SKIN_RATIOS
    # R. K. Jones, "In Search of the Missing Fundamental", pages on membrane modes, wtt.pauken.org, which cut the third
    # decimal off: 1.593, 2.135, 2.295, 2.917.
    assert SKIN_RATIOS[[1, 2, 3, 5]] == pytest.approx([1.593, 2.135, 2.295, 2.917], abs=0.001)


def test_a_wooden_block_rings_as_a_measured_wooden_bar() -> None:
    # "uniform wooden bar", Csound manual, appendix of modal frequency ratios.
    assert WOOD_RATIOS == (1.0, 2.572, 4.644, 6.984)


def test_many_modes_at_once_are_the_sum_of_decaying_sines() -> None:
    hz, level, t60_s = [100.0, 431.7, 2500.0], [1.0, 0.5, 0.25], [2.0, 1.0, 0.5]
    samples = blow(Voice(modes(hz, level, t60_s), ()), seed=0)[: RATE_HZ // 2]
    time_s = A_SECOND[: RATE_HZ // 2]
    expected = sum(
        at * 10 ** (-3 * time_s / long_s) * np.sin(2 * np.pi * tone * time_s)
        for tone, at, long_s in zip(hz, level, t60_s, strict=True)
    )
    assert np.abs(samples - expected).max() < 2e-3  # a mode is left when it is 72 dB below the loudest
    assert np.abs(samples - expected)[: RATE_HZ // 20].max() < 1e-9


def test_modes_too_high_for_the_sampling_are_left_out() -> None:
    high = Voice(modes([300.0, 25_000.0], [1.0, 1.0], [0.5, 0.5]), ())
    low = Voice(modes([300.0], [1.0], [0.5]), ())
    assert np.array_equal(blow(high, 0), blow(low, 0))


@pytest.mark.parametrize("pitch", [28, 40, 43, 48, 53, 59, 60, 67, 72, 79, 86, 96, 103])
def test_pitches_are_within_5_cents(pitch: int) -> None:
    samples = blow((bar if pitch >= 60 else string)(pitch, 80), 1)
    assert abs(cents(loudest_hz(samples, pitch_hz(pitch) * 0.8, pitch_hz(pitch) * 1.2), pitch_hz(pitch))) < 5


def test_pitch_of_midi_numbers() -> None:
    # 440 * 2 ** ((n - 69) / 12), worked out: 21 is 27.5 Hz, 60 is 261.6256, 108 is 4186.009.
    assert [pitch_hz(pitch) for pitch in (21, 60, 69, 81, 108)] == pytest.approx(
        [27.5, 261.6256, 440, 880, 4186.009], abs=5e-4
    )


def test_the_partials_of_a_bar_are_those_of_the_beam_as_measured_in_its_sound() -> None:
    samples = blow(bar(67, 100), 1)[: RATE_HZ // 2]
    first_hz = pitch_hz(67)
    for ratio in (2.7565, 5.4039, 8.9330):
        found = loudest_hz(samples, first_hz * ratio * 0.95, first_hz * ratio * 1.05)
        assert abs(cents(found, first_hz * ratio)) < 5


def test_the_partials_of_a_string_are_stretched_a_little() -> None:
    samples = blow(string(48, 100), 1)[:RATE_HZ]
    first_hz = pitch_hz(48)
    for number in (2, 3, 4, 6, 8):
        found = loudest_hz(samples, first_hz * (number - 0.4), first_hz * (number + 0.4))
        assert -1 < cents(found, first_hz * number) < 8


def test_the_place_of_the_pluck_leaves_a_partial_out() -> None:
    samples = blow(string(45, 80), 1)[:RATE_HZ]
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))

    def level(number: int) -> float:
        hz = round(pitch_hz(45) * number)
        return float(spectrum[hz - 8 : hz + 9].max())

    # Plucked at 0.19, near a fifth, where the fifth partial has a node.
    assert level(5) < 0.5 * level(7) < level(4)


@pytest.mark.parametrize(("pitch", "stated_s"), [(60, 3.37), (72, 2.3), (84, 1.57)])
def test_bars_ring_as_long_as_stated(pitch: int, stated_s: float) -> None:
    assert decay_60_db_s(blow(bar(pitch, 80), 1), 0.1, stated_s) == pytest.approx(stated_s, rel=0.1)


def test_higher_partials_die_sooner() -> None:
    from scipy import signal

    samples = blow(bar(67, 100), 1)
    first_hz = pitch_hz(67)
    times = []
    for ratio in (1.0, 2.7565, 5.4039):
        band = [first_hz * ratio * 0.9, first_hz * ratio * 1.1]
        alone = signal.sosfilt(signal.butter(3, band, "band", fs=RATE_HZ, output="sos"), samples)
        times.append(decay_60_db_s(alone, 0.08, 0.25))
    assert times[0] > 2 * times[1] > 3 * times[2]


def test_a_harder_blow_is_brighter() -> None:
    def brightness(samples: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
        power = np.abs(np.fft.rfft(samples[: RATE_HZ // 10])) ** 2
        return float((power * np.fft.rfftfreq(RATE_HZ // 10, 1 / RATE_HZ)).sum() / power.sum())

    for voice in (bar, string):
        soft, hard = (brightness(blow(voice(60, velocity), 1)) for velocity in (20, 120))
        assert hard > 1.1 * soft


@pytest.mark.parametrize("kind", ["bar", "string", "drum"])
def test_every_voice_begins_and_ends_without_a_click_and_is_of_sound_size(kind: str) -> None:
    for number in {"bar": range(60, 128, 6), "string": range(0, 60, 6), "drum": range(128)}[kind]:
        voice = {"bar": bar, "string": string}[kind](number, 127) if kind != "drum" else drum(number)
        samples = blow(voice, number)
        peak = float(np.abs(samples).max())
        assert 0.1 < peak < 4, number
        assert abs(samples[0]) < 0.01 * peak, number
        assert np.abs(samples[-5:]).max() < 1e-4 * peak, number
        assert 0.04 < len(samples) / RATE_HZ <= LONGEST_S, number
        assert np.all(np.isfinite(samples))


def test_drum_keys_of_the_standard_have_voices_of_their_own_but_for_those_that_are_alike() -> None:
    made = {key: blow(drum(key), 7).tobytes() for key in range(35, 82)}
    assert len(set(made.values())) >= 38
    assert blow(drum(30), 7).tobytes() == blow(drum(90), 7).tobytes()  # keys without a voice: a block


def test_noise_keeps_to_its_band_and_its_decay() -> None:
    samples = noise(Burst(1000.0, 4000.0, 0.5, 0.5), RATE_HZ // 2, seed=3)
    power = np.abs(np.fft.rfft(samples)) ** 2
    hz = np.fft.rfftfreq(len(samples), 1 / RATE_HZ)
    assert power[(hz > 800) & (hz < 5000)].sum() > 0.8 * power.sum()
    assert power[(hz < 300) | (hz > 14_000)].sum() < 0.01 * power.sum()
    assert decay_60_db_s(samples, 0.02, 0.4) == pytest.approx(0.5, rel=0.15)


def test_white_noise_is_even_and_its_bits_never_change() -> None:
    drawn = white(200_000, 5)
    assert abs(drawn.mean()) < 0.005
    assert drawn.var() == pytest.approx(1 / 3, rel=0.01)
    assert drawn.min() >= -1
    assert drawn.max() < 1
    assert np.abs(np.corrcoef(drawn[:-1], drawn[1:])[0, 1]) < 0.01
    assert white(3, 5).tolist() == white(200_000, 5)[:3].tolist()
