"""Measuring sound in tests, apart from the code that makes it: onsets, pitches, decays and peaks."""

from __future__ import annotations

import shutil
import wave
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from pegwright.preview.soundfont import PROGRAM

Samples = NDArray[np.float64]
RATE_HZ = 44_100
FONT_FOLDERS = ("/usr/share/sounds/sf2", "/usr/share/sounds/sf3", "/usr/share/soundfonts")
SOUNDFONTS = sorted(font for folder in FONT_FOLDERS for font in Path(folder).glob("*.sf[23]") if font.is_file())
needs_soundfont = pytest.mark.skipif(
    not shutil.which(PROGRAM) or not SOUNDFONTS,
    reason=f"{PROGRAM} or a SoundFont in {', '.join(FONT_FOLDERS)} is not installed",
)


def read_wav(data: bytes) -> Samples:
    """Samples of a WAV file, shape (channels, n), 1 being full scale."""
    with wave.open(BytesIO(data), "rb") as file:
        assert (file.getframerate(), file.getsampwidth(), file.getnchannels()) == (RATE_HZ, 2, 2)
        frames = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2")
    return frames.reshape(-1, 2).T / 32768.0


def loudest_hz(samples: Samples, low_hz: float, high_hz: float) -> float:
    """The loudest tone of a band: the highest bin of a windowed spectrum, between bins by a parabola.

    Source: J. O. Smith, Spectral Audio Signal Processing, on quadratic interpolation of peaks (from memory).
    """
    count = 2 ** (len(samples) - 1).bit_length() * 4
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), count))
    hz = np.fft.rfftfreq(count, 1 / RATE_HZ)
    band = np.flatnonzero((hz > low_hz) & (hz < high_hz))
    top = int(band[np.argmax(spectrum[band])])
    before, here, after = np.log(spectrum[top - 1 : top + 2] + 1e-30)
    return float((top + 0.5 * (before - after) / (before - 2 * here + after)) * RATE_HZ / count)


def cents(hz: float, expected_hz: float) -> float:
    return float(1200 * np.log2(hz / expected_hz))


def decay_60_db_s(samples: Samples, begin_s: float, end_s: float) -> float:
    """How long the samples take to lose 60 dB, from a line through their level in dB between two moments."""
    frame = 882
    frames = samples[: len(samples) // frame * frame].reshape(-1, frame)
    level_db = 10 * np.log10(np.mean(frames**2, axis=1) + 1e-20)
    time_s = (np.arange(len(frames)) + 0.5) * frame / RATE_HZ
    here = (time_s >= begin_s) & (time_s <= end_s)
    slope = np.polyfit(time_s[here], level_db[here], 1)[0]
    return float(-60 / slope)


def oversampled_peak(samples: Samples, times: int = 16) -> float:
    """The greatest magnitude of band-limited samples, by a long filter of scipy's."""
    from scipy import signal

    return max(float(np.abs(signal.resample_poly(row, times, 1, window=("kaiser", 12.0))).max()) for row in samples)


def onsets_s(samples: Samples, ratio: float = 16.0, dead_s: float = 0.012) -> Samples:
    """Moments at which something new sounds.

    What rings on follows from what was; a blow does not. So the samples are foretold from those before them, and an
    onset is where the error of that, over half a millisecond, jumps to `ratio` times what it was 1.5 ms earlier and
    before; within `dead_s` of an onset there is no other.

    Source: linear prediction by the autocorrelation method, J. Makhoul, "Linear Prediction: A Tutorial Review",
        Proceedings of the IEEE 63(4), 1975 (from memory).
    """
    from scipy import signal

    error = np.sum([_unforetold(row) ** 2 for row in samples], axis=0)
    now = np.convolve(error, np.ones(22) / 22)[: len(error)]
    keep = np.exp(-1 / (0.004 * RATE_HZ))
    before = signal.lfilter([1 - keep], [1, -keep], error)
    lag = int(0.0015 * RATE_HZ)
    before = np.concatenate([np.full(lag, 1e-12), before[:-lag]]) + 2e-7  # and never less than -67 dB
    found: list[float] = []
    for place in np.flatnonzero(now > ratio * before) / RATE_HZ:
        if not found or place - found[-1] > dead_s:
            found.append(float(place))
    return np.array(found)


def _unforetold(row: Samples, order: int = 48, hop: int = 2048) -> Samples:
    """The error of linear prediction, by overlapping pieces that each have a predictor of their own."""
    from scipy import linalg

    padded = np.pad(row, (2 * hop, 3 * hop))
    weight = np.hanning(2 * hop + 1)[:-1]
    out = np.zeros(len(row) + 2 * hop)
    for begin in range(0, len(row) + hop, hop):
        piece = padded[begin : begin + 4 * hop] * np.hanning(4 * hop)
        likeness = np.fft.irfft(np.abs(np.fft.rfft(piece, 8 * hop)) ** 2)[: order + 1]
        likeness[0] += likeness[0] * 1e-7 + 1e-9
        taps = np.append(1.0, -linalg.solve_toeplitz(likeness[:order], likeness[1:]))
        made = np.convolve(padded[begin + hop - order : begin + 3 * hop], taps, "valid") * weight
        out[begin : begin + 2 * hop] += made[: len(out) - begin]
    return out[hop:-hop]
