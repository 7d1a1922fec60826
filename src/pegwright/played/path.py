"""The best path through the quarters of a song: which pattern in each, and where each quarter's onsets begin.

A first-order chain over quarters whose state is (pattern, split at the beat line). Forward and backward sums give how
probable each pattern is; the habits of the song are then learnt from them (`Habits`) and the sums are computed again;
the path joins the most probable choices of the last round.

Source: C. Raphael, "A hybrid graphical model for rhythmic parsing", Artificial Intelligence 137 (2002), for the joint
choice of rhythm over a chain; E. Nakamura, K. Yoshii and S. Sagayama, "Rhythm transcription of polyphonic piano music
based on merged-output HMM for multiple voices", IEEE/ACM Trans. Audio, Speech and Language Processing 25 (2017), for
chains over the onsets of all voices together. Forward-backward and Viterbi: L. R. Rabiner, "A tutorial on hidden
Markov models", Proc. IEEE 77 (1989), for the sums and for joining up; a path of the greatest posterior probabilities:
P. Fariselli, P. L. Martelli and R. Casadio, "The posterior-Viterbi: a new decoding algorithm for hidden Markov models"
(2005).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.habits import Habits, first_habits, learnt, pairs_seen, player_spread
from pegwright.played.likelihood import Onsets, closeness, pattern_likelihoods, rough_scores, split_candidates
from pegwright.played.model import TINY, RhythmModel, log_odds, narrowed, widened

PATTERNS_KEPT = (40, 24, 20, 16, 16)  # of the rough ranking, for each quarter, round by round
NOISY_ROUNDS = 3  # habits learnt from onsets that lie far from their holes get worse by more rounds than this
NOISY_PLAYER_S = 0.018
SPLITS_KEPT = 4
QUARTERS_IN_RANGE = 4  # sums are scaled back to 1 after this number


@frozen(eq=False)
class RhythmPath:
    """The best path, and how probable each pattern is.

    Args:
        onsets: the onsets, with the player's spread as learnt.
        model: the model, narrowed to the patterns that were considered.
        pattern: shape (quarters,), pattern number (in that model) of each quarter on the path.
        split: shape (quarters + 1,), the first onset of each quarter.
        kept: shape (quarters, m), the patterns considered in each quarter.
        certainty: shape (quarters, m), their probabilities.
        near: shape (n, 3, p), from `closeness`.
        together: shape (n,), as last learnt.
    """

    onsets: Onsets
    model: RhythmModel
    pattern: Ints
    split: Ints
    kept: Ints
    certainty: Floats
    near: Floats
    together: Floats


@frozen(eq=False)
class _Chain:
    """One round's sums; `into` before and `out` after a quarter's onsets, from the left and from the right."""

    kept: Ints
    fit: NDArray[np.float64]  # (quarters, m, c, c)
    left_in: NDArray[np.float64]  # (quarters, m, c)
    left_out: NDArray[np.float64]
    right_in: NDArray[np.float64]
    right_out: NDArray[np.float64]
    certainty: NDArray[np.float64]  # (quarters, m)


def best_path(model: RhythmModel, onsets: Onsets, kept: tuple[int, ...] = PATTERNS_KEPT) -> RhythmPath:
    """The best path for onsets seen from a given beat track.

    Args:
        model: likely rhythms.
        onsets: at least one.
        kept: patterns considered in each quarter, for each round of summing and learning; at least one round.
    """
    near = closeness(model, onsets)
    model = widened(model, _looks_struck(onsets, near))
    rough = rough_scores(model, onsets, near)
    worth = _worth_considering(rough + np.log(model.usage, dtype=np.float32), kept[0])
    model, rough = narrowed(model, worth), rough[:, worth]
    habits = first_habits(model, onsets)
    last, turn = None, 0
    while True:
        turn += 1
        splits = split_candidates(onsets, SPLITS_KEPT)
        chain = _sums(model, onsets, near, rough, splits, habits, kept[turn - 1])
        likeliest = chain.kept[np.arange(len(chain.kept)), chain.certainty.argmax(axis=1)]
        noisy = turn >= NOISY_ROUNDS and onsets.player_s > NOISY_PLAYER_S
        if turn == len(kept) or noisy or (last is not None and np.array_equal(likeliest, last)):
            pattern, split = _surest(chain, splits)
            return RhythmPath(onsets, model, pattern, split, chain.kept, chain.certainty, near, habits.together)
        last = likeliest
        follow = pairs_seen(model, chain.kept, _pairs(chain, habits))
        considered, certainty = chain.kept, chain.certainty
        del chain  # a long song's sums take too much memory to be kept beside what is learnt from them
        habits = replace(habits, echo=None)
        habits = learnt(model, onsets, habits, considered, certainty, follow)
        onsets = replace(onsets, player_s=player_spread(model, onsets, near, considered, certainty))
        near = closeness(model, onsets)
        rough = rough_scores(model, onsets, near)


def _looks_struck(onsets: Onsets, near: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Shape (quarters, p): places that some onset is nearest to."""
    count, _, places = near.shape
    side, place = np.divmod(near.reshape(count, 3 * places).argmax(axis=1), places)
    quarter = np.floor(onsets.quarters).astype(np.int64) + side - 1
    struck = np.zeros((onsets.quarter_count, places), dtype=bool)
    inside = (quarter >= 0) & (quarter < onsets.quarter_count)
    struck[quarter[inside], place[inside]] = True
    return struck


def _sums(
    model: RhythmModel,
    onsets: Onsets,
    near: NDArray[np.float64],
    rough: NDArray[np.float32],
    splits: Ints,
    habits: Habits,
    most: int,
) -> _Chain:
    kept = _keep(rough + habits.log_expected(), most)
    fit = pattern_likelihoods(model, onsets, near, kept, splits, habits.together)
    fit /= fit.max(axis=(1, 2, 3), keepdims=True) + TINY
    start, end = habits.usage[kept[0]][:, None] * (splits[0] >= 0), np.ones(len(kept[0]))[:, None] * (splits[-1] >= 0)
    onward = (step.T for steps in habits.steps(kept) for step in steps)
    left_in, left_out = _run(start, fit.transpose(0, 1, 3, 2), onward)
    back = (step for steps in habits.steps(kept, backward=True) for step in steps[::-1])
    right_out, right_in = (each[::-1] for each in _run(end, fit[::-1], back))
    certainty = (left_out * right_out).sum(axis=2)
    certainty /= certainty.sum(axis=1, keepdims=True) + TINY
    return _Chain(kept, fit, left_in, left_out, right_in, right_out, certainty)


def _run(
    start: NDArray[np.float64], fit: NDArray[np.float64], steps: Iterable[NDArray[np.float64]]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sums from one end of the chain to the other: at each quarter before its onsets, and after them.

    Args:
        start: shape (m, c), before the first quarter.
        fit: shape (quarters, m, c, c), from the second split to the first.
        steps: shape (m, m), from the second pattern to the first, for each quarter but the first.

    Returns:
        Twice shape (quarters, m, c), each quarter up to a factor of its own.
    """
    before, after = np.empty((2, len(fit), *start.shape))
    before[0] = start
    now, then = before[..., None], after[..., None]
    for quarter, (matrix, out) in enumerate(zip(steps, before[1:], strict=True)):
        np.matmul(fit[quarter], now[quarter], out=then[quarter])
        matrix.dot(after[quarter], out=out)
        if quarter % QUARTERS_IN_RANGE == 0:
            np.divide(out, out.sum() + TINY, out=out)
    np.matmul(fit[-1], now[-1], out=then[-1])
    before /= before.sum(axis=(1, 2), keepdims=True) + TINY
    after /= after.sum(axis=(1, 2), keepdims=True) + TINY
    return before, after


def _worth_considering(score: NDArray[np.float32], most: int) -> Ints:
    """Patterns that are among the best in some quarter, rising."""
    others = max(0, score.shape[1] - most)
    least = np.partition(score, others, axis=1)[:, others]
    return np.flatnonzero((score >= least[:, None]).any(axis=0))


def _keep(score: NDArray[np.float32], most: int) -> Ints:
    others = max(0, score.shape[1] - most)
    return np.argpartition(score, others, axis=1)[:, others:].copy()  # a view would keep all of it


def _pairs(chain: _Chain, habits: Habits) -> Iterator[NDArray[np.float64]]:
    """Shape (quarters - 1, m, m), some quarters at a time: how probable each pair of neighbouring patterns is."""
    first = 0
    for steps in habits.steps(chain.kept):
        past = first + len(steps)
        pairs = steps * np.matmul(chain.left_out[first:past], chain.right_in[first + 1 : past + 1].transpose(0, 2, 1))
        pairs /= pairs.sum(axis=(1, 2), keepdims=True) + TINY
        yield pairs
        first = past


def _surest(chain: _Chain, splits: Ints) -> tuple[Ints, Ints]:
    """The pattern of each quarter and the split before it: of all that join up, the likeliest on the whole.

    Likely are a quarter's pattern and both its splits together, whatever its neighbours' patterns: so most quarters are
    right, where the likeliest path through all patterns is only the likeliest to be right throughout.
    """
    share = chain.left_in[..., None] * chain.fit * chain.right_out[:, :, None, :]
    share /= share.sum(axis=(1, 2, 3), keepdims=True) + TINY
    pattern, most = share.argmax(axis=1), log_odds(share.max(axis=1))
    total, back = np.where(splits[0] >= 0, 0.0, -np.inf), np.zeros(splits[1:].shape, dtype=np.int64)
    for quarter, each in enumerate(most):
        way = total[:, None] + each
        back[quarter], total = way.argmax(axis=0), way.max(axis=0)
    side = int(np.where(splits[-1] >= 0, total, -np.inf).argmax())
    chosen, split = np.zeros(len(share), dtype=np.int64), np.zeros(len(splits), dtype=np.int64)
    split[-1] = splits[-1, side]
    for quarter in range(len(share) - 1, -1, -1):
        then, side = side, int(back[quarter, side])
        chosen[quarter] = chain.kept[quarter, pattern[quarter, side, then]]
        split[quarter] = splits[quarter, side]
    return chosen, split
