"""Levels and room held against scipy, and the way to 16 bits against what dither promises."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listening import RATE_HZ, oversampled_peak
from pegwright.preview.level import decibels, to_16_bits, true_peak
from pegwright.preview.room import TAIL_S, add_room


def test_a_tone_between_its_samples_is_measured_as_the_standard_asks() -> None:
    # EBU Tech 3341, true peak tests (from memory): a tone of a quarter of the sampling rate and 45 degrees, whose
    # samples all miss its crests by 3 dB, must read within +0.2 and -0.4 dB.
    tone = np.sin(2 * np.pi * np.arange(4000) / 4 + np.pi / 4)
    faded = tone * np.minimum(1, np.minimum(np.arange(4000), np.arange(4000)[::-1]) / 500)
    assert decibels(float(np.abs(tone).max())) == pytest.approx(-3.01, abs=0.01)
    assert -0.4 < decibels(true_peak(faded[None, :])) < 0.2


@settings(max_examples=25)
@given(st.integers(0, 2**32), st.integers(13, 40_000), st.floats(0.05, 0.6))
def test_true_peak_agrees_with_a_longer_oversampling(seed: int, count: int, band: float) -> None:
    from scipy import signal

    noise = np.random.default_rng(seed).standard_normal((2, count))
    music = signal.sosfilt(signal.butter(6, band, output="sos"), noise) * np.hanning(count)
    ours, theirs = decibels(true_peak(music)), decibels(oversampled_peak(music, 8))
    assert -0.45 < ours - theirs < 0.3  # four-fold oversampling of frequencies up to 0.6 of what there can be


def test_silence_and_a_single_sample_have_peaks() -> None:
    assert true_peak(np.zeros((2, 0))) == 0
    assert true_peak(np.zeros((2, 100))) == 0
    assert true_peak(np.array([[0.5], [-0.25]])) == pytest.approx(0.5, abs=0.01)


def test_16_bits_err_by_what_dither_leaves_and_no_more() -> None:
    slow = 0.3 * np.sin(2 * np.pi * 220 * np.arange(2 * RATE_HZ) / RATE_HZ)
    error = to_16_bits(np.stack([slow, -slow])) - 32_767 * np.stack([slow, -slow]).T
    # Rounding and triangular dither of two steps: 1/12 + 1/6 of a step's square, whatever the signal (Lipshitz,
    # Wannamaker and Vanderkooy 1992, from memory).
    assert error.var() == pytest.approx(0.25, rel=0.02)
    assert abs(error.mean()) < 0.005
    assert np.abs(error).max() <= 1.5
    assert abs(np.corrcoef(error[:, 0], error[:, 1])[0, 1]) < 0.02


def test_a_tone_below_the_last_bit_is_still_there() -> None:
    tone = np.sin(2 * np.pi * 441 * np.arange(4 * RATE_HZ) / RATE_HZ)
    made = to_16_bits(np.stack([tone, tone]) * 0.4 / 32_767)
    assert np.dot(made[:, 0], tone) / np.dot(tone, tone) == pytest.approx(0.4, rel=0.05)


def test_full_scale_does_not_wrap() -> None:
    made = to_16_bits(np.array([[1.2, -1.2, 1.0], [0.0, 0.0, -1.0]]))
    assert made[0, 0] == 32_767
    assert made[1, 0] == -32_768


def test_the_room_in_blocks_is_one_convolution() -> None:
    from scipy import signal

    count = 300_000
    answers = []
    for side in range(2):
        click = np.zeros((2, 2 * RATE_HZ))
        click[side, 0] = 1.0
        add_room(click)
        answers.append(click)
    dry = np.random.default_rng(4).standard_normal((2, count))
    wet = dry.copy()
    add_room(wet)
    for ear in range(2):
        parts = (signal.fftconvolve(dry[side], answers[side][ear])[:count] for side in range(2))
        assert np.abs(wet[ear] - sum(parts)).max() < 1e-9


def test_the_room_answers_softly_shortly_and_takes_a_constant_away() -> None:
    click = np.zeros((2, 2 * RATE_HZ))
    click[0, 0] = 1.0
    add_room(click)
    direct, rest = click[0, 0] ** 2, np.sum(click**2) - click[0, 0] ** 2
    assert 0.015 < rest / direct < 0.2
    assert np.abs(click[:, int(1.01 * TAIL_S * RATE_HZ) :]).max() < 1e-9
    assert np.abs(click[:, int(0.9 * RATE_HZ) :]).max() < 0.003
    assert np.abs(click.sum(axis=1)).max() < 0.02  # the constant part of an answer is the sum of its samples
