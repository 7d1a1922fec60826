"""Simpler ways to put played notes on holes, with which ours is compared: each sees the same and knows as much."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from performed_data import PLACES, UNITS

Holes = NDArray[np.int64]
Floats = NDArray[np.float64]
# Log chances of places in a quarter, by hand: whole quarters, halves, then sixteenths, thirds, half-steps.
PLACE_LOG = dict(zip(PLACES, (0.0, -4.0, -3.5, -2.0, -3.0, -4.0, -1.0, -4.0, -3.0, -2.0, -3.5, -4.0), strict=True))
STAY_LOG, REACH_UNITS = -1.0, 8
TEMPO_BINS, TEMPO_RATIO = 61, 1.02
MOST_STEP = 4 * UNITS
CHORD_S = 0.03


def nearest_sixteenth(quarters: Floats) -> Holes:
    """The nearest sixteenth."""
    return np.round(quarters * 4).astype(np.int64) * (UNITS // 4)


def plain_viterbi(quarters: Floats, quarter_s: Floats, jitter_s: float) -> Holes:
    """The likeliest holes by a first-order chain whose beat is given.

    Args:
        quarters: shape (n,), where the beat puts each onset, rising.
        quarter_s: shape (n,), seconds a quarter there.
        jitter_s: standard deviation of onsets.
    """
    ways: list[tuple[list[int], list[int]]] = []
    before: dict[int, float] = {}
    for at, length in zip(quarters.tolist(), quarter_s.tolist(), strict=True):
        middle = round(at * UNITS)
        now: dict[int, float] = {}
        back = []
        for hole in range(middle - REACH_UNITS, middle + REACH_UNITS + 1):
            if hole % UNITS not in PLACE_LOG:
                continue
            away = (at - hole / UNITS) * length / jitter_s
            best, source = 0.0 if not before else -math.inf, -1
            for earlier, score in before.items():
                value = score + (STAY_LOG if earlier == hole else PLACE_LOG[hole % UNITS])
                if earlier <= hole and value > best:
                    best, source = value, earlier
            if best > -math.inf:
                now[hole] = best - 0.5 * away * away
                back.append(source)
        if not now:  # every hole in reach lies before all that were kept
            now, back = {max(before): max(before.values())}, [max(before, key=before.__getitem__)]
        ways.append((list(now), back))
        before = now
    hole = max(before, key=before.__getitem__)
    found = []
    for holes, back in reversed(ways):
        found.append(hole)
        hole = back[holes.index(hole)]
    return np.array(found[::-1], dtype=np.int64)


def viterbi_by_steps(onset_s: Floats, quarter_s: float, jitter_s: float, wander: float = 0.02) -> Holes:
    """The likeliest holes by a chain over steps between chords and over tempi, of which only the start is known.

    Args:
        onset_s: shape (n,), rising.
        quarter_s: seconds a quarter at the start.
        jitter_s: standard deviation of onsets.
        wander: standard deviation of the change of tempo from one chord to the next.
    """
    chord = np.concatenate([[0], np.cumsum(np.diff(onset_s) > CHORD_S)])
    time = np.bincount(chord, onset_s) / np.bincount(chord)
    lengths = quarter_s * TEMPO_RATIO ** (np.arange(TEMPO_BINS) - TEMPO_BINS // 2)
    places, count = np.array(PLACES), len(PLACES)
    weight = np.array([PLACE_LOG[place] for place in PLACES])
    steps = (places[None, :] - places[:, None] - 1) % UNITS + 1  # within a quarter on
    bins = np.arange(TEMPO_BINS)
    change = -0.5 * ((bins[:, None] - bins) * math.log(TEMPO_RATIO) / wander) ** 2
    score = weight[:, None] - 0.5 * ((bins - TEMPO_BINS // 2) * math.log(TEMPO_RATIO) / 0.02) ** 2
    pointers = []
    for gap in np.diff(time):
        moved = score[:, :, None] + change
        from_tempo = moved.argmax(axis=1)
        best = moved.max(axis=1)  # place, tempo
        rounds = np.arange(MOST_STEP // UNITS) * UNITS
        step = steps[:, :, None] + rounds  # from, to, rounds
        away = (gap - step[..., None] / UNITS * lengths) / (jitter_s * math.sqrt(2))
        value = best[:, None, None, :] + weight[:, None, None] - 0.5 * np.minimum(away**2, 60.0)
        flat = value.transpose(1, 3, 0, 2).reshape(count, TEMPO_BINS, -1)
        pick = flat.argmax(axis=2)
        score = flat.max(axis=2)
        score -= score.max()
        pointers.append((pick, from_tempo, step))
    place, tempo = divmod(int(score.argmax()), TEMPO_BINS)
    taken = []
    for pick, from_tempo, step in reversed(pointers):
        source, turn = divmod(int(pick[place, tempo]), MOST_STEP // UNITS)
        taken.append(int(step[source, place, turn]))
        place, tempo = source, int(from_tempo[source, tempo])
    holes = places[place] + np.concatenate([[0], np.cumsum(taken[::-1])])
    by_note: Holes = holes.astype(np.int64)[chord]
    return by_note
