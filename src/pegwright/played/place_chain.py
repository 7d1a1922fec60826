"""The likeliest place for every onset where the beats are given: a chain whose state is a place and a family.

Each half of a quarter keeps to one family of places (`families.py`), and a song changes family seldom: which families
it uses, and how often each of their places is struck, is learnt from the song (as in the expectation-maximisation
algorithm). So a song of sixteenths has no triplets, however loosely it is played. Real players are not off by a normal
law: most onsets are within a few milliseconds, some far off, the more so the longer beats and notes are; and what is
late makes the next late. So an onset is judged by its distance from its place and by the change of that distance since
the onset before, both with heavy tails that widen with the beat. What comes again in the song is placed together
(`alike_places.py`).

Source: A. P. Dempster, N. M. Laird and D. B. Rubin, "Maximum likelihood from incomplete data via the EM algorithm", J.
Royal Statistical Society B 39 (1977); L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77 (1989); chains
over the onsets of all voices: E. Nakamura, K. Yoshii and S. Sagayama, "Rhythm transcription of polyphonic piano music
based on merged-output HMM for multiple voices", IEEE/ACM Trans. Audio, Speech and Language Processing 25 (2017).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.alike_places import Recurring, said_by_alike
from pegwright.played.beats import BeatTrack
from pegwright.played.chords import Chords
from pegwright.played.families import Family, common_shares
from pegwright.played.fine_places import fine_places
from pegwright.played.model import TINY

ROUNDS = 5  # of sums; habits are learnt after each but the last
BLOCK = 256  # onsets whose steps are in memory together
STAYS_INSIDE, STAYS = 0.98, 0.88  # chance that a family goes on: into the second half of a quarter, into the next one
FAR = 4  # quarters after which nothing is left of it
FIRST_PLAYER_S, FIRST_STEP_S = 0.02, 0.018
LEAST_S, SPREAD_WEIGHT = 0.006, 30.0  # onsets that the first spreads count as
WIDE, WIDER = 0.4, 0.01  # shares of onsets off by more than usual, and by anything
WIDE_SPREADS, WIDER_SPREADS = 2.5, 14.0
OF_BEAT, OF_STEP = 0.06, 0.15  # by how much of a beat, or of the time since the onset before, the former are off
SHORTEST_BEAT, LONGEST_BEAT = 0.5, 2.0  # quarters, for that
DISTANCE_WEIGHT = 0.5  # of the distance from a place, which is not independent of its change
OF_LONGER = 0.2  # likewise, of what a quarter lasts longer than those beside it
LATE_AGAIN = 0.8  # share of an onset's distance that the next one has too
CHORD_S, SPREAD_CHORDS = 0.015, 0.2  # spread of notes struck together, and the share of chords spread three times that
STEP_IN_CHORD = 2.0  # by how much less likely notes a step apart were struck together, as a logarithm
FIRST_TOGETHER, TOGETHER_WEIGHT, NEAR_S = 0.7, 5.0, 0.06
TOGETHER_MIN, TOGETHER_MAX = 0.05, 0.95
FASTEST_S, TOO_FAST = 0.08, 6.0  # notes follow each other this fast at most (trills: 12 to 14 a second, from memory)
RAREST, STRUCK_MIN = 1e-4, 0.01
HELD_SHARES = 6.0  # quarters that the usual shares of families count as
DOUBT = 2.0  # power of certainties, by which they are calibrated: players err alike in what is alike
NEVER = -60.0


@frozen(eq=False)
class States:
    """Where each group of onsets may lie; columns of shape (c, s), but for `family` (s,) and the last two (c,).

    Args:
        unit: place, in units from quarter 0.
        slot: which place of its family.
        half: half quarters from quarter 0.
        away_s: time of the group less that of the place.
        family: which family each state is of.
        quarter_s: seconds a quarter.
        longer_s: by how much the quarter lasts longer than the shorter of those beside it: where a player holds back,
            notes come early within it, no one knows by how much.
    """

    unit: Ints
    slot: Ints
    half: Ints
    away_s: Floats
    family: Ints
    quarter_s: Floats
    longer_s: Floats


@frozen(eq=False)
class StateSteps:
    """Every step between states of one onset and the next; each of shape (steps, s, s).

    Args:
        change_s: of the distance from the place.
        lasts_s: how long the step is by the beat.
        wide_s: what the wide part of the law of the change has beside its own.
        units: how far the step goes.
    """

    change_s: NDArray[np.float64]
    lasts_s: NDArray[np.float64]
    wide_s: NDArray[np.float64]
    units: NDArray[np.int64]


@frozen(eq=False)
class Usage:
    """What a song does: how common each family is, how often each of its places is struck, how evenly it is played."""

    share: Floats
    struck: tuple[Floats, ...]
    together: float
    player_s: float
    step_s: float


@frozen(eq=False)
class Sums:
    """Sums over all ways through a song: `steps` (c - 1, s, s) up to a factor, from the left, and from the right."""

    steps: NDArray[np.float32]
    left: Floats
    right: Floats

    @property
    def certainty(self) -> NDArray[np.float64]:
        """Shape (c, s): how probable each state is."""
        both: NDArray[np.float64] = self.left * self.right
        both /= both.sum(axis=1, keepdims=True) + TINY
        return both

    def pairs(self, first: int, past: int) -> NDArray[np.float64]:
        """How probable each step is, from onset `first` on, before onset `past`."""
        pairs: NDArray[np.float64] = self.left[first:past, :, None] * self.right[first + 1 : past + 1, None, :]
        pairs *= self.steps[first:past]
        pairs /= pairs.sum(axis=(1, 2), keepdims=True) + TINY
        return pairs


@frozen(eq=False)
class Placed:
    """The place of each group of onsets, how sure it is, and how evenly the song is played.

    Args:
        unit: shape (c,), in units from quarter 0.
        certainty: shape (c,), 0..1.
        player_s: standard deviation of most onsets about their places, in seconds.
    """

    unit: Ints
    certainty: Floats
    player_s: float


def placed(
    families: tuple[Family, ...],
    chords: Chords,
    alike: Recurring,
    beats: BeatTrack,
    resolution: int,
    *,
    beat_quarters: float,
    drums: bool,
) -> Placed:
    """Put groups of onsets in the places that were meant.

    Args:
        families: of places.
        chords: the onsets.
        alike: which of them are.
        beats: when the beats fell, exact.
        resolution: units a quarter.
        beat_quarters: how far beats that were given lie apart.
        drums: whether the song is one of drums, whose fine places are struck by themselves.
    """
    states = _states(families, chords, beats, resolution)
    usage = Usage(
        common_shares(families),
        tuple(family.struck for family in families),
        FIRST_TOGETHER,
        FIRST_PLAYER_S,
        FIRST_STEP_S,
    )
    chain = _PlaceChain(families, states, chords, resolution, beat_quarters=beat_quarters, drums=drums)
    sums = chain.sums(usage)
    for _ in range(ROUNDS - 1):
        usage = chain.learnt(usage, sums)
        sums = chain.sums(usage)
    # only now, so that no group hears from others what it said to them
    sums = chain.sums(usage, said_by_alike(alike, states.unit % resolution, sums.certainty, resolution))
    unit = states.unit[np.arange(len(states.unit)), _best(sums)]
    sure = (sums.certainty * (states.unit == unit[:, None])).sum(axis=1)
    return Placed(unit, np.clip(sure, 0.0, 1.0) ** DOUBT, usage.player_s)


def _states(families: tuple[Family, ...], chords: Chords, beats: BeatTrack, resolution: int) -> States:
    quarters = beats.quarters_at(chords.time_s)
    quarter_s, near = beats.quarter_s_at(chords.time_s), np.floor(quarters).astype(np.int64)
    unit, slot, family = [], [], []
    for number, each in enumerate(families):
        places = (each.units + resolution * np.arange(-1, 2)[:, None]).ravel()
        away = np.abs((quarters - near)[:, None] * resolution - places)
        closest = np.sort(np.argsort(away, axis=1, kind="stable")[:, : each.reached], axis=1)
        unit.append(places[closest] + near[:, None] * resolution)
        slot.append(closest % len(each.units))
        family += [number] * each.reached
    units = np.concatenate(unit, axis=1)
    away_s = (quarters[:, None] - units / resolution) * quarter_s[:, None]
    lines = near[:, None] + np.arange(-1.0, 3.0)
    before_s, here_s, after_s = np.diff(beats.seconds_at(lines.ravel()).reshape(-1, 4), axis=1).T
    longer_s = np.maximum(here_s - np.minimum(before_s, after_s), 0.0)
    half, slots = 2 * units // resolution, np.concatenate(slot, axis=1)
    return States(units, slots, half, away_s, np.array(family), quarter_s, longer_s)


def _log_density(
    away_s: NDArray[np.float64], spread_s: float, wide_s: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Log likelihood of a distance, and how probable it is that it is a usual one.

    Args:
        away_s: distances.
        spread_s: the usual spread.
        wide_s: what the wide part has beside that, of a shape like the distances.
    """
    square = (away_s / spread_s) ** 2
    wide = np.sqrt(WIDE_SPREADS**2 + (wide_s / spread_s) ** 2)
    wider = np.maximum(WIDER_SPREADS, 2 * wide)
    usual = (1 - WIDE - WIDER) * np.exp(-0.5 * square)
    total = usual + WIDE / wide * np.exp(-0.5 * square / wide**2) + WIDER / wider * np.exp(-0.5 * square / wider**2)
    total += 1e-12
    return np.log(total / spread_s), usual / total


class _PlaceChain:
    """The chain of one song: its sums, and what they say of the song.

    Args:
        families: of places.
        states: where each group may lie.
        chords: the groups.
        resolution: units a quarter.
        beat_quarters: how far the beats given lie apart.
        drums: whether the song is one of drums.
    """

    def __init__(
        self,
        families: tuple[Family, ...],
        states: States,
        chords: Chords,
        resolution: int,
        *,
        beat_quarters: float,
        drums: bool,
    ) -> None:
        self.fine = None if drums else fine_places(states.unit, resolution, beat_quarters)
        self.families, self.states, self.chords, self.resolution = families, states, chords, resolution
        of_beat = OF_BEAT * min(max(beat_quarters, SHORTEST_BEAT), LONGEST_BEAT)
        self.wide_s = (of_beat * states.quarter_s + OF_LONGER * states.longer_s)[:, None]
        self.same_family = states.family[:, None] == states.family
        gap = np.diff(chords.time_s) / CHORD_S
        spread = np.exp(-0.5 * gap**2) * (1 - SPREAD_CHORDS) + np.exp(-gap / 3) * SPREAD_CHORDS / 3
        chord = np.log(np.maximum(spread, TINY) / CHORD_S) - STEP_IN_CHORD * chords.by_step[1:]
        self.chord = np.where(chords.repeats[1:], NEVER, chord)

    def blocks(self) -> Iterator[tuple[int, int]]:
        """Where each block of steps begins and ends."""
        count = len(self.states.unit) - 1
        return ((first, min(first + BLOCK, count)) for first in range(0, count, BLOCK))

    def steps(self, first: int, past: int) -> StateSteps:
        """The steps from onset `first` on, before onset `past`."""
        states = self.states
        units = states.unit[first + 1 : past + 1, None, :] - states.unit[first:past, :, None]
        change_s = states.away_s[first + 1 : past + 1, None, :] - LATE_AGAIN * states.away_s[first:past, :, None]
        lasts_s = units / self.resolution * states.quarter_s[first + 1 : past + 1, None, None]
        wide_s = OF_STEP * np.abs(lasts_s) + OF_LONGER * states.longer_s[first + 1 : past + 1, None, None]
        return StateSteps(change_s, lasts_s, wide_s, units)

    def sums(self, usage: Usage, said: Floats | float = 0.0) -> Sums:
        """Forward and backward sums.

        Args:
            usage: what the song does.
            said: shape (c, s) or none, what else makes each state likelier, as a logarithm.
        """
        silence = self._silence(usage)
        count, each = self.states.unit.shape
        at = DISTANCE_WEIGHT * _log_density(self.states.away_s, usage.player_s, self.wide_s)[0] + said
        steps = np.empty((max(count - 1, 0), each, each), dtype=np.float32)
        for first, past in self.blocks():
            log = self._log_steps(usage, silence, first, past) + at[first + 1 : past + 1, None, :]
            steps[first:past] = np.exp(log - log.max(axis=(1, 2), keepdims=True))
        begin = silence[1][0] + np.log(usage.share)[self.states.family] + at[0]
        left, right = np.empty((count, each)), np.ones((count, each))
        left[0] = np.exp(begin - begin.max())
        for index, step in enumerate(steps):
            left[index + 1] = left[index] @ step
            left[index + 1] /= left[index + 1].sum() + TINY
        for index in range(count - 2, -1, -1):
            right[index] = steps[index] @ right[index + 1]
            right[index] /= right[index].sum() + TINY
        return Sums(steps, left, right)

    def _silence(self, usage: Usage) -> tuple[Floats, Floats, Floats]:
        """What each place struck says of those that are not, as log chances; each of shape (c, s).

        Returns:
            That no later place of the half is struck; that this one is and none before it in its half; that none is
            from the beginning of the half to this one, this one included.
        """
        after, strike, until = (np.zeros(self.states.unit.shape) for _ in range(3))
        for number, family in enumerate(self.families):
            silent, struck = np.log1p(-usage.struck[number]), np.log(usage.struck[number])
            late = np.arange(len(silent)) >= family.early
            total = np.where(late, silent[late].sum(), silent[~late].sum())
            passed = np.cumsum(silent) - np.where(late, silent[~late].sum(), 0.0)
            own = self.states.family == number
            slot = self.states.slot[:, own]
            after[:, own], until[:, own] = (total - passed)[slot], passed[slot]
            strike[:, own] = (passed - silent + struck)[slot]
        return after, strike, until

    def _log_steps(self, usage: Usage, silence: tuple[Floats, Floats, Floats], first: int, past: int) -> Floats:
        """Shape (steps, s, s): log likelihood of each step between states, but for the distance at its end."""
        states, (after, strike, until) = self.states, silence
        step = self.steps(first, past)
        half = states.half[first + 1 : past + 1, None, :] - states.half[first:past, :, None]
        quarters = states.half[first + 1 : past + 1, None, :] // 2 - states.half[first:past, :, None] // 2
        stays = np.where(quarters == 0, STAYS_INSIDE, STAYS ** np.clip(quarters, 1, FAR))
        family = np.log(stays * self.same_family + (1 - stays) * usage.share[states.family])
        here = strike[first + 1 : past + 1, None, :]
        inside = np.where(self.same_family, here - until[first:past, :, None], NEVER)
        new = np.where(half == 0, inside, here + after[first:past, :, None] + family)
        new += np.log(1 - usage.together) + _log_density(step.change_s, usage.step_s, step.wide_s)[0]
        new -= TOO_FAST * np.clip(1 - step.lasts_s / FASTEST_S, 0.0, 1.0)
        if self.fine:
            new -= self.fine.cost(step.units, first, past)
        same = np.where(self.same_family, np.log(usage.together) + self.chord[first:past, None, None], NEVER)
        log: Floats = np.where(step.units == 0, same, np.where(step.units > 0, new, NEVER))
        return log

    def learnt(self, usage: Usage, sums: Sums) -> Usage:
        """What the song does, by the sums: a song of few notes stays near what is usual."""
        certainty = sums.certainty
        new, half, quarter = certainty.copy(), certainty.copy(), certainty.copy()
        weight = square = together = 0.0
        close = np.diff(self.chords.time_s) < NEAR_S
        for first, past in self.blocks():
            pairs, step = sums.pairs(first, past), self.steps(first, past)
            halves = self.states.half[first + 1 : past + 1, None, :] - self.states.half[first:past, :, None]
            quarters = self.states.half[first + 1 : past + 1, None, :] // 2 - self.states.half[first:past, :, None] // 2
            for counted, moves in ((new, step.units), (half, halves), (quarter, quarters)):
                counted[first + 1 : past + 1] = (pairs * (moves > 0)).sum(axis=1)
            together += float((pairs * (step.units == 0)).sum(axis=(1, 2))[close[first:past]].sum())
            pairs *= (step.units > 0) * _log_density(step.change_s, usage.step_s, step.wide_s)[1]
            weight, square = weight + float(pairs.sum()), square + float((pairs * step.change_s**2).sum())
        usual = certainty * _log_density(self.states.away_s, usage.player_s, self.wide_s)[1]
        counted_share = np.bincount(self.states.family, quarter.sum(axis=0), len(self.families))
        share = counted_share + HELD_SHARES * common_shares(self.families)
        return replace(
            usage,
            share=np.maximum(share / share.sum(), RAREST),
            struck=self._struck(new, half),
            together=_mean(together, float(close.sum()), FIRST_TOGETHER),
            player_s=_spread(float((usual * self.states.away_s**2).sum()), float(usual.sum()), FIRST_PLAYER_S),
            step_s=_spread(square, weight, FIRST_STEP_S),
        )

    def _struck(self, new: NDArray[np.float64], half: NDArray[np.float64]) -> tuple[Floats, ...]:
        """How often each place of each family is struck, of the halves in which anything of the family is."""
        struck = []
        for number, family in enumerate(self.families):
            own, count = self.states.family == number, len(family.units)
            slot = self.states.slot[:, own].ravel()
            times = np.bincount(slot, new[:, own].ravel(), count)
            early = float(half[:, own].ravel()[slot < family.early].sum())
            halves = np.where(np.arange(count) < family.early, early, float(half[:, own].sum()) - early)
            share = (times + family.prior_quarters * family.struck) / (halves + family.prior_quarters)
            struck.append(np.clip(share, STRUCK_MIN, 1 - STRUCK_MIN))
        return tuple(struck)


def _mean(total: float, count: float, usual: float) -> float:
    share = (total + TOGETHER_WEIGHT * usual) / (count + TOGETHER_WEIGHT)
    return min(max(share, TOGETHER_MIN), TOGETHER_MAX)


def _spread(square: float, weight: float, usual_s: float) -> float:
    return max(float(np.sqrt((square + SPREAD_WEIGHT * usual_s**2) / (weight + SPREAD_WEIGHT))), LEAST_S)


def _best(sums: Sums) -> Ints:
    """The likeliest way through all states (Viterbi's algorithm)."""
    count, each = sums.left.shape
    total, back = np.log(sums.left[0] + TINY), np.zeros((count, each), dtype=np.int64)
    for index, step in enumerate(sums.steps):
        way = total[:, None] + np.log(step + np.float32(1e-30))
        back[index + 1], total = way.argmax(axis=0), way.max(axis=0)
    state = np.zeros(count, dtype=np.int64)
    state[-1] = total.argmax()
    for index in range(count - 1, 0, -1):
        state[index - 1] = back[index, state[index]]
    return state
