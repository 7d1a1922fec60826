"""From a performance to its beat: where each quarter begins, tracked from what is known of it."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats
from pegwright.frozen import frozen
from pegwright.played.beam_search import GUESSES, BeatHypothesis, clusters, follow_pulses
from pegwright.played.beats import BeatTrack, first_line
from pegwright.played.likelihood import FIRST_PLAYER_S, Onsets
from pegwright.played.model import rhythm_model
from pegwright.played.path import RhythmPath, best_path
from pegwright.played.snap import holes_of
from pegwright.played.track import Pulse, Track, smoothed
from pegwright.score import Score

DRIFT = 0.012
START_SPREAD_S = 0.03
START_TEMPO_SPREAD = 0.02
SLOWEST, FASTEST = 70.0, 160.0  # quarter notes a minute to search where nothing is known: little more than an octave
TEMPO_STEP = 1.04
USUAL_TEMPO, TEMPO_SPREAD = 110.0, 0.2  # how likely each is: log-normal, common practice, no source
FIRST_PLACES = 4
FIRST_ROUND = (24,)  # patterns considered while the beat is still being corrected


@frozen(eq=False)
class Playing:
    """Notes in order of time, in the time of a guide track; columns have shape (n,).

    Args:
        guide: musical time as first assumed.
        base: the whole quarter of the guide from which lines are counted.
        quarter_s: seconds a quarter on average, by the guide.
        seconds: when each note was played.
        time_s: time along the guide since `base`: quarters of the guide times `quarter_s`.
        voice, line: as in `Onsets`.
        mark: for each onset, what was struck: kinds that come back at the same places.
    """

    guide: BeatTrack
    base: int
    quarter_s: float
    seconds: Floats
    time_s: Floats
    voice: Ints
    line: Ints
    mark: Ints


def playing(score: Score, seconds: Floats, guide: BeatTrack) -> Playing:
    """Onsets in the time of a guide, with what was struck at each.

    Args:
        score: its notes in order of time.
        seconds: shape (n,), when each was played.
        guide: the beat track to measure time by.
    """
    pitch, percussion = score.pitch_midi, score.percussion_notes()
    quarters = guide.quarters_at(seconds)
    base = first_line(float(quarters[0]))
    span = quarters[-1] - quarters[0]
    quarter_s = float((seconds[-1] - seconds[0]) / span) if span > 0 else float(guide.quarter_s_at(seconds)[0])
    _, voice = np.unique(score.part * 128 + pitch, return_inverse=True)
    _, line = np.unique(score.part * 129 + np.where(percussion, pitch, 128), return_inverse=True)
    mark = np.where(percussion, pitch + 1, 0)
    return Playing(guide, base, quarter_s, seconds, (quarters - base) * quarter_s, voice, line, mark)


def seen_from(track: Track, play: Playing) -> Onsets:
    """The onsets as a track shows them."""
    lines = np.arange(len(track.line_s), dtype=np.float64)
    own = BeatTrack(track.line_s, lines)
    quarters = np.maximum(own.quarters_at(play.time_s), 0.0)
    near = np.clip(np.floor(quarters).astype(np.int64), 0, len(lines) - 2)
    spread = np.maximum(track.spread_s[near], track.spread_s[near + 1])
    return Onsets(quarters, own.quarter_s_at(play.time_s), spread, play.voice, play.line, int(quarters[-1]) + 2)


def along_guide(places: tuple[Fraction, ...], play: Playing) -> tuple[Track, RhythmPath]:
    """Keep to the guide; where its beats are not exact, correct them by the notes; see `from_start`."""
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


def by_guide(play: Playing) -> Onsets:
    """The onsets as the guide shows them."""
    quarters = play.time_s / play.quarter_s
    seconds = play.guide.seconds_at(quarters + play.base)
    spread = np.full(len(quarters), play.guide.spread_s)
    return Onsets(quarters, play.guide.quarter_s_at(seconds), spread, play.voice, play.line, int(quarters[-1]) + 2)


def from_start(places: tuple[Fraction, ...], play: Playing) -> tuple[Track, RhythmPath]:
    """Begin as the guide does, then follow the notes.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets along the guide.
    """
    pulse = Pulse(0.0, play.quarter_s, START_SPREAD_S, START_TEMPO_SPREAD * play.quarter_s, DRIFT)
    return _follow(places, play, [(0.0, pulse)])


def from_nothing(places: tuple[Fraction, ...], play: Playing) -> tuple[Track, RhythmPath]:
    """Find tempo and beat among many guesses at the first notes; see `from_start`."""
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
    return _follow(places, play, pulses)


@frozen()
class _Manner:
    """A way of playing: change of a quarter's length to the next, spread of onsets, widest gap inside a chord.

    `guesses` is the number of hypotheses kept.
    """

    drift: float
    player_s: float
    gap_s: float
    guesses: int = GUESSES


EVEN = _Manner(DRIFT, 0.024, 0.025)
# Rougher and freer playing, tried where even playing does not fit, with the margin by which each must fit better.
OTHERS = ((_Manner(DRIFT, 0.036, 0.03), 0.0), (_Manner(0.04, 0.016, 0.04), 0.15), (_Manner(0.1, 0.016, 0.04), 0.15))
POOR_FIT = 1.5  # log likelihood of a cluster of onsets
# Playing that seems as rough as this may be neat playing assigned to the wrong holes: neat playing is tried, and kept
# where it fits better and turns out that much neater.
NEAT = _Manner(DRIFT, 0.012, EVEN.gap_s, 4)  # neat playing, if it is that, needs few hypotheses
ROUGH_S, NEATER = 0.023, 0.6
BEHIND = 15.0  # stopped once this far below even playing in log likelihood: it would not overtake


def _follow(places: tuple[Fraction, ...], play: Playing, pulses: list[tuple[float, Pulse]]) -> tuple[Track, RhythmPath]:
    def followed(manner: _Manner, at_least: Floats | None = None) -> BeatHypothesis:
        which = clusters(play.time_s, play.voice, manner.gap_s)
        starts = [(chance, replace(pulse, drift=manner.drift)) for chance, pulse in pulses]
        marks = marks_of(which, play.mark)
        return follow_pulses(play.time_s, which, marks, places, starts, manner.player_s, manner.guesses, at_least)

    even = best = followed(EVEN)
    if even.fit <= POOR_FIT:
        best_fit = even.fit
        for manner, doubt in OTHERS:
            hypothesis = followed(manner)
            if hypothesis.fit - doubt > best_fit:
                best_fit, best = hypothesis.fit - doubt, hypothesis
    track, path = _along(places, play, best)
    if path.onsets.player_s > ROUGH_S:
        neat = followed(NEAT, even.so_far - BEHIND)
        if neat.fit > best.fit:
            other, other_path = _along(places, play, neat)
            if other_path.onsets.player_s < NEATER * path.onsets.player_s:
                return other, other_path
    return track, path


def _along(places: tuple[Fraction, ...], play: Playing, hypothesis: BeatHypothesis) -> tuple[Track, RhythmPath]:
    count = int(hypothesis.hole_quarters.max(initial=0)) + 2
    track = smoothed(hypothesis.time_s, hypothesis.hole_quarters, hypothesis.spread_s, hypothesis.pulse, count)
    return track, best_path(rhythm_model(places), seen_from(track, play))


def marks_of(which: Ints, mark: Ints) -> list[int]:
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
