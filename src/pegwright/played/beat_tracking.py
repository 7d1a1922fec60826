"""From a performance to its beat: where each quarter begins, tracked from what is known of it.

Two readings compete: even playing (`beam_search`), and a player whose tempo moves (`free_beat`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import TypeAlias

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats
from pegwright.frozen import frozen
from pegwright.played.backwards import agreed_share, agreement
from pegwright.played.bar_places import SongMetre
from pegwright.played.beam_search import GUESSES, BeatHypothesis, follow_pulses
from pegwright.played.beats import BeatTrack, first_line
from pegwright.played.chords import clusters
from pegwright.played.free_beat import FreeBeat, Tempo, free_beat, from_the_end, sure_beside
from pegwright.played.likelihood import FIRST_PLAYER_S, Onsets
from pegwright.played.model import rhythm_model
from pegwright.played.note_values import mean_step, written_ratio
from pegwright.played.path import RhythmPath, best_path
from pegwright.played.snap import holes_of
from pegwright.played.struck import Struck, StruckNotes, struck_by
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


@frozen()
class Known:
    """What is known of a song beside its notes.

    Args:
        tempo: whether the tempo at the start is meant.
        metre: if it was given.
        own_beat: whether the guide is the file's own beat.
    """

    tempo: bool = True
    metre: SongMetre | None = None
    own_beat: bool = False


Followed: TypeAlias = tuple[Track, RhythmPath | None]  # the rhythms of even playing; None where the tempo moves
Pulses: TypeAlias = list[tuple[float, Pulse]]  # how likely each is, as a logarithm


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
        pitch: of each note; equal for all that say nothing of a bass.
        velocity, lasts: of each note, the latter in ticks until it is released.
    """

    guide: BeatTrack
    base: int
    quarter_s: float
    seconds: Floats
    time_s: Floats
    voice: Ints
    line: Ints
    mark: Ints
    pitch: Ints
    velocity: Ints
    lasts: Floats

    @property
    def drums(self) -> bool:
        """Whether most notes are struck on drums, which change family at every beat and repeat whole patterns."""
        return 2 * int(np.count_nonzero(self.mark)) > len(self.mark)


def playing(score: Score, seconds: Floats, guide: BeatTrack) -> Playing:
    """Onsets in the time of a guide, with what was struck at each.

    Args:
        score: its notes in order of time.
        seconds: shape (n,), when each was played.
        guide: the beat track to measure time by.
    """
    pitch, percussion = score.pitch_midi, score.percussion_notes()
    _, voice = np.unique(score.part * 128 + pitch, return_inverse=True)
    _, line = np.unique(score.part * 129 + np.where(percussion, pitch, 128), return_inverse=True)
    mark = np.where(percussion, pitch + 1, 0)
    base, quarter_s, time_s = _timed(seconds, guide)
    return Playing(
        guide=guide,
        base=base,
        quarter_s=quarter_s,
        seconds=seconds,
        time_s=time_s,
        voice=voice,
        line=line,
        mark=mark,
        pitch=np.where(percussion, 0, pitch),
        velocity=score.velocity,
        lasts=score.duration_ticks / score.resolution,
    )


def _timed(seconds: Floats, guide: BeatTrack) -> tuple[int, float, Floats]:
    """The quarter that is counted from, seconds a quarter, and the times along the guide."""
    quarters = guide.quarters_at(seconds)
    base = first_line(float(quarters[0]))
    span = quarters[-1] - quarters[0]
    quarter_s = float((seconds[-1] - seconds[0]) / span) if span > 0 else float(guide.quarter_s_at(seconds)[0])
    return base, quarter_s, (quarters - base) * quarter_s


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


def even_from_start(places: tuple[Fraction, ...], play: Playing) -> BeatHypothesis:
    """Even playing that begins as the guide does; see `from_start`."""
    return hypothesis(places, play, _first_pulse(play), EVEN)


def from_start(places: tuple[Fraction, ...], play: Playing, even: BeatHypothesis, known: Known) -> Followed:
    """Begin as the guide does, then follow the notes.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets along the guide.
        even: even playing, from `even_from_start`.
        known: of the song.
    """
    tempo = Tempo(play.quarter_s, float(play.time_s[0]) / play.quarter_s, known.tempo)
    return _follow(places, play, _first_pulse(play), even, lambda struck: free_beat(places, struck, tempo, known.metre))


def _first_pulse(play: Playing) -> Pulses:
    return [(0.0, Pulse(0.0, play.quarter_s, START_SPREAD_S, START_TEMPO_SPREAD * play.quarter_s, DRIFT))]


def from_nothing(places: tuple[Fraction, ...], play: Playing, known: Known) -> Followed:
    """Find tempo and beat among many guesses at the first notes; see `from_start`.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets.
        known: of the song.
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
    even = _as_written(hypothesis(places, play, pulses, EVEN))
    return _follow(places, play, pulses, even, lambda struck: free_beat(places, struck, None, known.metre))


def _as_written(even: BeatHypothesis) -> BeatHypothesis:
    """In quarters that are usual for the tempo and for the steps."""
    quarters = float(even.hole_quarters[-1] - even.hole_quarters[0])
    if quarters <= 0:
        return even
    quarter_s = float(even.time_s[-1] - even.time_s[0]) / quarters
    ratio = written_ratio(quarter_s, mean_step(even.hole_quarters))
    pulse = replace(even.pulse, quarter_s=even.pulse.quarter_s / ratio)
    return replace(even, hole_quarters=even.hole_quarters * ratio, pulse=pulse)


@frozen()
class Manner:
    """A way of playing: change of a quarter's length to the next, spread of onsets, widest gap inside a chord.

    `guesses` is the number of hypotheses kept.
    """

    drift: float
    player_s: float
    gap_s: float
    guesses: int = GUESSES


EVEN = Manner(DRIFT, 0.024, 0.025)
# By how much, in log likelihood of a cluster, a tempo that moves must fit better than even playing to be kept, for it
# has more ways to fit; and for its notes to be compared.
FREER, COMPETES = 0.8, 0.6
AS_FREE = 0.45  # the same where as much of it agrees with the beat from the end,
AS_WELL = 0.2  # or so little less
CLEARLY_EVEN = 0.2  # below which the playing is even, and no other beat comes into question
ALIKE = 0.95  # below which even playing still is another reading that fits nearly as well
FEWEST_CLUSTERS = 40  # from which a tempo that moves can be distinguished from even playing
# Playing that seems as rough as this may be neat playing assigned to the wrong holes: neat playing is tried, and kept
# where it fits better and turns out that much neater.
NEAT = Manner(DRIFT, 0.012, EVEN.gap_s, 4)  # neat playing, if it is that, needs few hypotheses
ROUGH = Manner(DRIFT, 0.036, 0.03)
POOR_FIT = 1.5  # log likelihood of a cluster of onsets
ROUGH_S, NEATER = 0.023, 0.6
BEHIND = 15.0  # stopped once this far below even playing in log likelihood: it would not overtake
FREE_DRIFT = 0.06
FREE_SPREAD_S = 0.02
DENSITY_UNIT = 0.5 * math.log(2 * math.pi)  # left out of the fit of even playing


def _follow(
    places: tuple[Fraction, ...],
    play: Playing,
    pulses: Pulses,
    even: BeatHypothesis,
    freely: Callable[[Struck], FreeBeat],
) -> Followed:
    """Follow even playing and a tempo that moves; notes on which the ways to count differ are unsure.

    They differ where both of these fit, and where the beat, followed from the end, comes out otherwise.

    Args:
        places: where holes lie in a quarter.
        play: the onsets.
        pulses: where the beat may begin, for even playing.
        even: even playing.
        freely: follows a tempo that moves.
    """
    struck = struck_by(StruckNotes(play.time_s, play.voice, play.pitch, play.velocity, play.lasts))
    if len(struck.time_s) < FEWEST_CLUSTERS:
        return _evenly(places, play, pulses, even)
    free = freely(struck)
    better = free.fit - (even.fit - DENSITY_UNIT)
    if better < CLEARLY_EVEN:
        return _evenly(places, play, pulses, even)
    back = from_the_end(places, struck, free)
    moving = _along_free(struck, free, free.certainty * agreement(free.hole_quarters, back))
    if better > ALIKE:
        return moving, None
    steady, path = _evenly(places, play, pulses, even)
    quarters = _quarters(steady, struck.time_s)
    as_well = agreed_share(free.hole_quarters, back) + AS_WELL >= agreed_share(quarters, back)
    if better > FREER or (better > AS_FREE and as_well):
        return replace(moving, other=frozen_floats(_quarters(steady, play.time_s))), None
    sure = agreement(quarters, back)
    if better > COMPETES:
        sure = sure * sure_beside(quarters, free)
        steady = replace(steady, other=frozen_floats(free.hole_quarters[struck.which]))
    return replace(steady, sure=frozen_floats(sure[struck.which])), path


def _quarters(track: Track, time_s: Floats) -> Floats:
    """Where a track puts onsets, in quarters."""
    return BeatTrack(track.line_s, np.arange(len(track.line_s), dtype=np.float64)).quarters_at(time_s)


def _evenly(
    places: tuple[Fraction, ...], play: Playing, pulses: Pulses, even: BeatHypothesis
) -> tuple[Track, RhythmPath]:
    """Even playing, or rougher, or neater, whichever fits best."""
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


def _along_free(struck: Struck, beat: FreeBeat, sure: Floats) -> Track:
    count = int(beat.hole_quarters.max(initial=0)) + 2
    length = float(beat.quarter_s[0])
    line_s = float(struck.time_s[0] - beat.hole_quarters[0] * length)
    pulse = Pulse(line_s, length, START_SPREAD_S, 3 * START_TEMPO_SPREAD * length, FREE_DRIFT)
    spread = FREE_SPREAD_S / np.sqrt(np.bincount(struck.which))
    track = smoothed(struck.time_s, beat.hole_quarters, spread, pulse, count)
    holes = frozen_floats(beat.hole_quarters[struck.which])
    return replace(track, sure=frozen_floats(sure[struck.which]), holes=holes)


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
