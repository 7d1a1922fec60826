"""The beat of even playing by the patterns of its quarters: for few notes, and for drums, these say more than bars do.

Also the beat of a guide that is kept to, and corrected where its beats are not exact.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import TypeAlias

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats
from pegwright.frozen import frozen
from pegwright.played.beam_search import GUESSES, BeatHypothesis, follow_pulses
from pegwright.played.chords import clusters
from pegwright.played.free_beat import OFF_BEAT, on_beat
from pegwright.played.likelihood import FIRST_PLAYER_S
from pegwright.played.model import rhythm_model
from pegwright.played.note_values import mean_step, written_ratio
from pegwright.played.path import RhythmPath, best_path
from pegwright.played.playing import Playing, by_guide, seen_from
from pegwright.played.snap import holes_of
from pegwright.played.track import Pulse, Track, smoothed

DRIFT = 0.012
START_SPREAD_S = 0.03
START_TEMPO_SPREAD = 0.02
SLOWEST, FASTEST = 70.0, 160.0  # quarter notes a minute to search where nothing is known: little more than an octave
TEMPO_STEP = 1.04
USUAL_TEMPO, TEMPO_SPREAD = 110.0, 0.2  # how likely each is: log-normal, common practice, no source
FIRST_PLACES = 4
FIRST_ROUND = (24,)  # patterns considered while the beat is still being corrected

Pulses: TypeAlias = list[tuple[float, Pulse]]  # how likely each is, as a logarithm


@frozen()
class Manner:
    """A way of playing: change of a quarter's length to the next, spread of onsets, widest gap inside a chord.

    `guesses` is the number of hypotheses kept.
    """

    drift: float
    player_s: float
    gap_s: float
    guesses: int = GUESSES


EVENLY = Manner(DRIFT, 0.024, 0.025)
# Playing that seems as rough as this may be neat playing assigned to the wrong holes: neat playing is tried, and kept
# where it fits better and turns out that much neater.
NEAT = Manner(DRIFT, 0.012, EVENLY.gap_s, 4)  # neat playing, if it is that, needs few hypotheses
ROUGH = Manner(DRIFT, 0.036, 0.03)
POOR_FIT = 1.5  # log likelihood of a cluster of onsets
ROUGH_S, NEATER = 0.023, 0.6
BEHIND = 15.0  # stopped once this far below even playing in log likelihood: it would not overtake


def along_guide(places: tuple[Fraction, ...], play: Playing) -> tuple[Track, RhythmPath]:
    """Keep to the guide; where its beats are not exact, correct them by the notes."""
    model, spread, onsets = rhythm_model(places), play.guide.spread_s, by_guide(play)
    count = int(play.time_s[-1] / play.quarter_s) + 3
    if spread == 0:
        track = Track(frozen_floats(np.arange(count) * play.quarter_s), np.zeros(count))
        return track, best_path(model, onsets)
    path = best_path(model, onsets, FIRST_ROUND)
    holes = holes_of(path) / model.resolution
    tapped = play.guide.quarters - play.base
    tapped = tapped[(tapped >= 0) & (tapped < count)]
    time_s, quarters = np.append(play.time_s, tapped * play.quarter_s), np.append(holes, tapped)
    spreads_s = np.repeat([FIRST_PLAYER_S, spread], [len(holes), len(tapped)])
    pulse = Pulse(0.0, play.quarter_s, 10 * spread, START_TEMPO_SPREAD * play.quarter_s, DRIFT)
    track = smoothed(time_s, quarters, spreads_s, pulse, count - 1)
    return track, best_path(model, seen_from(track, play))


def from_guide(places: tuple[Fraction, ...], play: Playing) -> BeatHypothesis:
    """Even playing that begins as the guide does.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets along the guide.
    """
    return hypothesis(places, play, first_pulse(play), EVENLY)


def first_pulse(play: Playing) -> Pulses:
    """The beat as the guide begins."""
    return [(0.0, Pulse(0.0, play.quarter_s, START_SPREAD_S, START_TEMPO_SPREAD * play.quarter_s, DRIFT))]


def begun_pulses(play: Playing) -> Pulses:
    """The beat at the guide's tempo where the first note lies anywhere: on a beat, between two, or by the guide.

    Args:
        play: the onsets along the guide.
    """
    (_, guide), first_s = first_pulse(play)[0], float(play.time_s[0])
    if on_beat(first_s / play.quarter_s):
        return [(0.0, guide)]
    between = replace(guide, line_s=first_s - play.quarter_s / 2)
    return [(0.0, replace(guide, line_s=first_s)), (OFF_BEAT, between), (0.0, guide)]


def any_pulse(places: tuple[Fraction, ...], play: Playing) -> Pulses:
    """Many guesses at the beat, where nothing is known.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets.
    """
    model = rhythm_model(places)
    shares = model.usage @ model.member
    likely = np.argsort(-shares)[:FIRST_PLACES]
    pulses = []
    for step in range(int(math.log(FASTEST / SLOWEST) / math.log(TEMPO_STEP)) + 1):
        tempo = SLOWEST * TEMPO_STEP**step
        quarter_s = 60 / tempo
        prior = -0.5 * (math.log(tempo / USUAL_TEMPO) / TEMPO_SPREAD) ** 2
        for place in likely:
            line_s = float(play.time_s[0]) - quarter_s * float(model.places[place]) / model.resolution
            chance = prior + math.log(shares[place] / shares.sum())
            pulse = Pulse(line_s, quarter_s, START_SPREAD_S, 1.5 * START_TEMPO_SPREAD * quarter_s, DRIFT)
            pulses.append((chance, pulse))
    return pulses


def as_written(even: BeatHypothesis) -> BeatHypothesis:
    """In quarters that are usual for the tempo and for the steps."""
    quarters = float(even.hole_quarters[-1] - even.hole_quarters[0])
    if quarters <= 0:
        return even
    quarter_s = float(even.time_s[-1] - even.time_s[0]) / quarters
    ratio = written_ratio(quarter_s, mean_step(even.hole_quarters))
    pulse = replace(even.pulse, quarter_s=even.pulse.quarter_s / ratio)
    return replace(even, hole_quarters=even.hole_quarters * ratio, pulse=pulse)


def evenly(
    places: tuple[Fraction, ...], play: Playing, pulses: Pulses, even: BeatHypothesis
) -> tuple[Track, RhythmPath]:
    """Even playing, or rougher, or neater, whichever fits best.

    Args:
        places: where holes lie in a quarter.
        play: the onsets.
        pulses: where the beat may begin.
        even: even playing.
    """
    best = even
    if even.fit <= POOR_FIT:
        best = max(even, hypothesis(places, play, pulses, ROUGH), key=lambda each: each.fit)
    track, path = _along(places, play, best)
    if path.onsets.player_s > ROUGH_S:
        neat = hypothesis(places, play, pulses, NEAT, even.so_far - BEHIND)
        if neat.fit > best.fit:
            other, other_path = _along(places, play, neat)
            if other_path.onsets.player_s < NEATER * path.onsets.player_s:
                return other, other_path
    return track, path


def hypothesis(
    places: tuple[Fraction, ...], play: Playing, pulses: Pulses, manner: Manner, at_least: Floats | None = None
) -> BeatHypothesis:
    """The best beat that one manner of playing gives.

    Args:
        places: where holes lie in a quarter.
        play: the onsets.
        pulses: where the beat may begin.
        manner: of playing.
        at_least: as in `follow_pulses`.
    """
    which = clusters(play.time_s, play.voice, manner.gap_s)
    starts = [(chance, replace(pulse, drift=manner.drift)) for chance, pulse in pulses]
    marks = _marks_of(which, play.mark)
    return follow_pulses(play.time_s, which, marks, places, starts, manner.player_s, manner.guesses, at_least)


def _along(places: tuple[Fraction, ...], play: Playing, hypothesis: BeatHypothesis) -> tuple[Track, RhythmPath]:
    count = int(hypothesis.hole_quarters.max(initial=0)) + 2
    track = smoothed(hypothesis.time_s, hypothesis.hole_quarters, hypothesis.spread_s, hypothesis.pulse, count)
    return track, best_path(rhythm_model(places), seen_from(track, play))


def _marks_of(which: Ints, mark: Ints) -> list[int]:
    """For each cluster, a number for what was struck: the percussion keys, or how many notes at once."""
    struck: list[set[int]] = [set() for _ in range(int(which[-1]) + 1)]
    count = np.bincount(which)
    for cluster, key in zip(which.tolist(), mark.tolist(), strict=True):
        if key:
            struck[cluster].add(key)
    names: dict[object, int] = {}
    return [
        names.setdefault(frozenset(keys) or min(int(many), 4), len(names))
        for keys, many in zip(struck, count, strict=True)
    ]
