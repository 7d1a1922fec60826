"""A performance as samples: every blow at its moment and place, in a room, at the maximum level without clipping."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats
from pegwright.frozen import frozen
from pegwright.preview.drums import drum
from pegwright.preview.level import decibels, to_16_bits, true_peak
from pegwright.preview.modal import RATE_HZ, blow, falling
from pegwright.preview.performance import Performance, Sound
from pegwright.preview.pitched import LOWEST_BAR_MIDI, bar, string
from pegwright.preview.room import TAIL_S, add_room
from pegwright.preview.sustained import pipe

PEAK_DBTP = -1.1  # so that other ways of oversampling measure at most -1
_VELOCITY_BIN = 8  # velocities within a bin share their colour, not their loudness
_VARIANTS = 3  # of a drum's noise, in turn, so that a roll does not repeat one blow
_CHOKE_S = 0.006
_AUDIBLE_DB = 60.0  # below the loudest moment
_END_S = 0.2
_BAR, _STRING, _DRUM, _PIPE = 0.30, 0.56, 0.42, 0.30


@frozen(eq=False)
class Recording:
    """Stereo samples of 16 bits, shape (n, 2) at `RATE_HZ`, and their true peak in dBTP."""

    samples: NDArray[np.int16]
    peak_dbtp: float

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return len(self.samples) / RATE_HZ


def record(performance: Performance) -> Recording:
    """Play a performance."""
    samples = _blows(performance)
    add_room(samples)
    return levelled(samples)


def levelled(samples: Floats) -> Recording:
    """Samples of shape (2, n) brought to `PEAK_DBTP`, in place, and cut where nothing more is audible."""
    loudest = float(max(samples.max(initial=0.0), -samples.min(initial=0.0)))
    audible = np.flatnonzero((np.abs(samples) > loudest * 10 ** (-_AUDIBLE_DB / 20)).any(axis=0))
    fade = int(_END_S * RATE_HZ)
    kept = samples[:, : audible[-1] + fade + 1 if len(audible) else 0]
    kept[:, -fade:] *= falling(min(fade, kept.shape[1]))
    peak = true_peak(kept)
    gain = 10 ** (PEAK_DBTP / 20) / peak if peak > 0 else 1.0
    kept *= gain
    return Recording(to_16_bits(kept), decibels(peak * gain))


def loudness(velocity: int) -> float:
    """The amplitude of a velocity, 1 at 100; common practice, no source."""
    return float((velocity / 100) ** 1.4)


def _blows(performance: Performance) -> Floats:
    """Every blow at its moment, shape (2, n)."""
    begin = np.rint(performance.seconds * RATE_HZ).astype(np.int64)
    parts = []
    for number in np.unique(performance.sound):
        sound = performance.sounds[number]
        strikes = np.flatnonzero(performance.sound == number)
        velocities = performance.velocity[strikes].tolist()
        takes = _takes(sound, velocities, performance.lasts_s[strikes].tolist())
        parts.append((sound, list(zip(begin[strikes].tolist(), velocities, takes, strict=True))))
    end = max((at + len(take) for _, blows in parts for at, _, take in blows), default=0)
    out = np.zeros((2, end + int(TAIL_S * RATE_HZ)))
    for sound, blows in parts:
        _place(out, sound, blows)
    return out


def _takes(sound: Sound, velocities: list[int], lasts_s: list[float]) -> list[Floats]:
    """The samples of every blow of one sound at full loudness; each colour of it is computed once."""
    if sound.holds:
        colours = [round(seconds * RATE_HZ) for seconds in lasts_s]
    elif sound.percussion:
        colours = [count % _VARIANTS for count in range(len(velocities))]
    else:
        colours = [velocity // _VELOCITY_BIN for velocity in velocities]
    by_colour = {colour: _take(sound, colour) for colour in set(colours)}
    return [by_colour[colour] for colour in colours]


def _take(sound: Sound, colour: int) -> Floats:
    """The samples of one blow; its colour is a length in samples, a variant or a bin of velocities."""
    if sound.holds:
        return _PIPE * pipe(sound.pitch_midi, colour / RATE_HZ)
    seed = 1000 * sound.pitch_midi
    if sound.percussion:
        return _DRUM * blow(drum(sound.pitch_midi), seed + 10 * colour)
    velocity = colour * _VELOCITY_BIN + _VELOCITY_BIN // 2
    if sound.pitch_midi >= LOWEST_BAR_MIDI:
        return _BAR * blow(bar(sound.pitch_midi, velocity), seed)
    return _STRING * blow(string(sound.pitch_midi, velocity), seed)


def _place(out: Floats, sound: Sound, blows: list[tuple[int, int, Floats]]) -> None:
    """Add the blows of one sound (first sample, velocity, samples) on its side, at the same power on every side."""
    angle = (sound.side + 1) * np.pi / 4
    choked = not (sound.percussion or sound.holds) and sound.pitch_midi < LOWEST_BAR_MIDI
    following = [*(at for at, _, _ in blows[1:]), out.shape[1]]
    for (at, velocity, whole), end in zip(blows, following, strict=True):
        take = _choked(whole, end - at) if choked else whole
        for ear, share in enumerate((np.cos(angle), np.sin(angle))):
            out[ear, at : at + len(take)] += take * float(share * loudness(velocity))


def _choked(take: Floats, count: int) -> Floats:
    """The samples of a string that is plucked again after `count` samples, which ends its sound."""
    if count >= len(take):
        return take
    cut = take[:count].copy()
    fade = min(int(_CHOKE_S * RATE_HZ), count)
    cut[count - fade :] *= falling(fade)
    return cut
