"""Turns of one song in the same columns, turn after turn, so that all are placed in one pass; and apart again.

Turns do not bear on one another: no step of the pass compares notes of two of them (see `Strikes.turn`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import accumulate, pairwise
from typing import Any

import numpy as np

from pegwright.columns import frozen_ints, read_only
from pegwright.fit.arrange import Arrangement
from pegwright.fit.fitting import Fitting
from pegwright.fit.quantise import NO_NOTE, Strikes
from pegwright.fit.turn import Turn
from pegwright.score import Score

BATCH_NOTES = 8192  # placed in one pass, so that memory does not grow with the song


def batches(scores: Sequence[Score]) -> Iterator[Sequence[Score]]:
    """Turns one after another, each batch with no more than `BATCH_NOTES` notes where it is not one turn."""
    first, notes = 0, 0
    for place, score in enumerate(scores):
        if place > first and notes + score.note_count > BATCH_NOTES:
            yield scores[first:place]
            first, notes = place, 0
        notes += score.note_count
    yield scores[first:]


def joined_notes(scores: Sequence[Score]) -> Score:
    """The notes of turns of one song, each at its place in its own turn; bars and tempi are those of the first."""
    if len(scores) == 1:
        return scores[0]
    names = ("onset_ticks", "duration_ticks", "pitch_midi", "velocity", "part")
    columns: dict[str, Any] = {
        name: read_only(np.concatenate([getattr(score, name) for score in scores])) for name in names
    }
    return replace(scores[0], **columns)


def joined_turn(turns: Sequence[Turn]) -> Turn:
    """The turn that several are alike in, with the onsets of all."""
    return replace(turns[0], onset_ticks=read_only(np.concatenate([turn.onset_ticks for turn in turns])))


def of_each_turn(whole: Fitting, scores: Sequence[Score], turns: Sequence[Turn]) -> list[Fitting]:
    """The fitting of each turn from that of all.

    Args:
        whole: with the turns in the order of the others.
        scores: of each turn.
        turns: with the onsets of each.
    """
    strikes = whole.strikes
    ends = pairwise(accumulate((score.note_count for score in scores), initial=0))
    strike_ends = pairwise(np.searchsorted(strikes.turn, np.arange(len(scores) + 1)).tolist())
    fittings = []
    for score, turn, notes, own in zip(scores, turns, ends, strike_ends, strict=True):
        note, strike = slice(*notes), slice(*own)
        fittings.append(
            Fitting(
                score=score,
                wheel=whole.wheel,
                options=whole.options,
                grid=whole.grid,
                turn=turn,
                arrangement=_arrangement(whole.arrangement, note),
                strikes=_strikes(strikes, strike, note),
                gaps=whole.gaps,
                limits=whole.limits,
                usable=whole.usable,
                every=whole.every,
                assignment=whole.assignment.some(strike),
                nearest_usable=whole.nearest_usable[strike],
                nearest_of_every=whole.nearest_of_every[strike],
                channel=whole.channel[strike],
            )
        )
    return fittings


def _arrangement(whole: Arrangement, note: slice) -> Arrangement:
    columns = whole.channel[note], whole.sounding[note], whole.octaves[note], whole.weight[note]
    return Arrangement(whole.choices[note], *columns)


def _strikes(whole: Strikes, strike: slice, note: slice) -> Strikes:
    """The strikes of one turn, whose notes are counted from its own first."""
    unison = whole.unison[note]
    own = read_only(np.where(unison == NO_NOTE, NO_NOTE, unison - note.start))
    columns = whole.channel[strike], whole.onset[strike], whole.weight[strike], own, whole.choice[strike]
    return Strikes(frozen_ints(whole.note[strike] - note.start), *columns, whole.choices)
