"""Modal synthesis: a struck body as a sum of decaying sines, with bursts of noise for parts without a pitch.

Source: the response of a linear body to a blow is the sum of its modes, each a decaying sine, as in N. H. Fletcher and
    T. D. Rossing, The Physics of Musical Instruments, chapters 1 to 3 (from memory).
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Floats, frozen_floats
from pegwright.frozen import frozen

RATE_HZ = 44_100
LONGEST_S = 4.5  # of one sound; after that every voice here is inaudible among the others
_DECAY_60_DB = float(np.log(1000.0))
_AUDIBLE_DB = 72.0  # a mode is computed until it is this far below the loudest
_FADE_S = 0.06  # at the end, or a quarter of it, so that the cut does not click
_RISE_S = 0.0004  # of a burst, for the same reason
_HIGHEST_HZ = 0.45 * RATE_HZ
_BLOCK = 512
_SKIRT_ORDER = 4  # slope of a burst's band: 12 dB an octave and side


@frozen(eq=False)
class Modes:
    """Decaying sines; columns of shape (m,).

    Args:
        hz: frequencies.
        level: amplitudes at the blow.
        t60_s: how long each takes to lose 60 dB.
    """

    hz: Floats
    level: Floats
    t60_s: Floats


def modes(hz: object, level: object, t60_s: object) -> Modes:
    """Modes from any sequences of numbers.

    Args:
        hz: frequencies, shape (m,).
        level: amplitudes at the blow, shape (m,).
        t60_s: how long each takes to lose 60 dB, shape (m,).
    """
    return Modes(frozen_floats(hz), frozen_floats(level), frozen_floats(t60_s))


@frozen()
class Burst:
    """Noise of a band, decaying.

    Args:
        low_hz, high_hz: where the band falls off.
        level: root mean square at its beginning.
        t60_s: how long it takes to lose 60 dB.
        after_s: how long after the blow it begins.
    """

    low_hz: float
    high_hz: float
    level: float
    t60_s: float
    after_s: float = 0.0


@frozen(eq=False)
class Voice:
    """The sound of one blow.

    Args:
        modes, bursts: its parts.
    """

    modes: Modes
    bursts: tuple[Burst, ...]


def blow(voice: Voice, seed: int) -> Floats:
    """The samples of one blow, until it is inaudible, shape (n,) at `RATE_HZ`.

    Args:
        voice: what is struck.
        seed: of the noise; equal seeds give equal samples.
    """
    rings_s = float(_lengths(voice.modes).max(initial=0.0))
    count = min(int(RATE_HZ * LONGEST_S), max([int(RATE_HZ * rings_s), *map(_burst_length, voice.bursts)]))
    samples = _ring(voice.modes, count)
    for number, burst in enumerate(voice.bursts):
        begin = int(burst.after_s * RATE_HZ)
        part = noise(burst, min(_burst_length(burst), count) - begin, seed + number)
        samples[begin : begin + len(part)] += part
    return _faded(samples)


def _faded(samples: Floats) -> Floats:
    """The samples, their end faded out in place."""
    fade = min(int(_FADE_S * RATE_HZ), len(samples) // 4)
    samples[len(samples) - fade :] *= falling(fade)
    return samples


def falling(count: int) -> Floats:
    """A smooth fall from 1 to 0 over `count` samples: half a cosine."""
    return 0.5 + 0.5 * np.cos(np.pi * np.arange(1, count + 1) / count)


def white(count: int, seed: int) -> Floats:
    """White noise, shape (n,), uniform between -1 and 1; a seed gives the same bits in every version of numpy."""
    raw = np.random.PCG64(seed).random_raw(count)
    return (raw >> np.uint64(11)).astype(np.float64) * 2.0**-52 - 1.0


def _lengths(of: Modes) -> Floats:
    """Shape (m,): seconds until each mode is `_AUDIBLE_DB` below the loudest at the blow; 0 if never audible."""
    loudest = float(of.level.max(initial=0.0))
    above_db = 20 * np.log10(np.maximum(of.level, 1e-9 * loudest) / max(loudest, 1e-300)) + _AUDIBLE_DB
    return np.where(of.hz < _HIGHEST_HZ, np.maximum(above_db, 0.0) / 60 * of.t60_s, 0.0)


def _burst_length(burst: Burst) -> int:
    return int(RATE_HZ * (burst.after_s + burst.t60_s))


def _ring(of: Modes, count: int) -> Floats:
    """The modes, each beginning at 0 in its sine, together shape (n,).

    With w the factor of a mode from sample to sample, its sample b * _BLOCK + j is w**(b * _BLOCK) * w**j, so that
    one matrix product computes all samples of many modes, from few exponentials. Those that decay soon are computed
    separately from those that last.
    """
    factor = (2j * np.pi * of.hz - _DECAY_60_DB / of.t60_s) / RATE_HZ
    lengths = np.minimum(_lengths(of) * RATE_HZ, count)
    samples = np.zeros(-(-count // _BLOCK) * _BLOCK)
    shorter = 0.0
    for longer in (count / 8, count / 3, count):
        here = (lengths > shorter) & (lengths <= longer)
        shorter = longer
        if np.any(here):
            coarse = np.exp(np.outer(np.arange(0, longer, _BLOCK), factor[here]))
            fine = np.exp(np.outer(factor[here], np.arange(_BLOCK))) * of.level[here, None]
            part = (np.hstack([coarse.real, coarse.imag]) @ np.vstack([fine.imag, fine.real])).reshape(-1)
            samples[: len(part)] += _faded(part)
    return samples[:count]


def noise(burst: Burst, count: int, seed: int) -> Floats:
    """The samples of a burst from its own beginning, shape (n,).

    Args:
        burst: the burst.
        count: how many samples.
        seed: equal seeds give equal samples.
    """
    spectrum = np.fft.rfft(white(count, seed))
    hz = np.fft.rfftfreq(count, 1 / RATE_HZ)
    hz[0] = hz[1] if count > 1 else 1.0
    low, high = (burst.low_hz / hz) ** _SKIRT_ORDER, (hz / burst.high_hz) ** _SKIRT_ORDER
    band = np.fft.irfft(spectrum / np.sqrt((1 + low) * (1 + high)), count)
    band *= burst.level / np.sqrt(np.mean(band**2))
    time_s = np.arange(count) / RATE_HZ
    return band * np.exp(-_DECAY_60_DB / burst.t60_s * time_s) * np.minimum(time_s / _RISE_S, 1.0)
