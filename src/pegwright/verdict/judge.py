"""The verdict on one piece: as it is, at its best, and what it lacks."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from pegwright.ask.options import FitOptions, SearchRange
from pegwright.check.verify import verify
from pegwright.edit.by_hand import judged
from pegwright.edit.offset import constant_offset
from pegwright.edit.turns import cut_turns
from pegwright.errors import UsageError, refuse_broken
from pegwright.fit.turn import prevailing_tempo
from pegwright.note_count import note_count
from pegwright.placement import Placement
from pegwright.remedy.additions import Addition, with_additions
from pegwright.remedy.lacking import lacked_by_piece
from pegwright.score import Score
from pegwright.search.best import find_best
from pegwright.search.fits import SongFits
from pegwright.verdict.values import Sounding, Verdict
from pegwright.wheel import Wheel

MAX_SEMITONES = 48  # four octaves: beyond any instrument that a wheel plays


def judge(score: Score, wheel: Wheel, semitones: int) -> Verdict:
    """Judge one piece.

    Args:
        score: the whole song.
        wheel: the wheel.
        semitones: the farthest transposition tried either way, 0 to `MAX_SEMITONES`; every start is tried with each.

    Raises:
        UsageError: song and wheel do not go together at all, such as a turn shorter than a re-strike; or the
            transpositions are out of bounds.
        InternalError: the independent verifier found a fault in a placement that fits the whole piece.
    """
    if not 0 <= semitones <= MAX_SEMITONES:
        message = f"{semitones} semitones is outside 0 to {MAX_SEMITONES}"
        raise UsageError(message, where="survey", hint="12 is an octave")
    turns = cut_turns(score, wheel)
    options = FitOptions(us_per_quarter=prevailing_tempo(score.tempo_map, score.length_ticks))
    fits = SongFits(turns, wheel, options)
    best = find_best(fits, SearchRange(semitones, every_steps=1), list_equal=False)
    choice = best.ranked[0].choice
    chosen = choice.transpose_semitones, Fraction(choice.start_steps)
    placed_as_is, placed_at_best = fits.placements(0, Fraction(0)), fits.placements(*chosen)
    as_is, at_best = _sounding(placed_as_is), _sounding(placed_at_best)
    lacks: tuple[Addition, ...] = ()
    let_in = False
    if at_best.count.left_out:
        lacks, let_in = lacked_by_piece(
            turns,
            placed_at_best,
            wheel,
            lambda additions: SongFits(turns, with_additions(wheel, additions), options).placements(*chosen),
        )
    for sounds, placements in ((as_is, placed_as_is), (at_best, placed_at_best)):
        if not sounds.count.left_out:
            for turn, placement in zip(turns, placements, strict=True):
                refuse_broken(verify(turn, wheel, placement))
    return Verdict(
        title=score.title,
        bars=len(score.bar_map.ticks),
        turns=len(turns),
        us_per_quarter=placed_as_is[0].us_per_quarter,
        as_is=as_is,
        transpose_semitones=choice.transpose_semitones,
        start_steps=choice.start_steps,
        at_best=at_best,
        lacks=lacks,
        let_in=let_in,
        weight_gap=best.gap,
        by_hand=judged(score, constant_offset(score)).by_hand,
    )


def _sounding(placements: Sequence[Placement]) -> Sounding:
    deviations = np.abs(np.concatenate([placement.deviation_ms for placement in placements]))
    return Sounding(
        count=note_count(placements),
        moved=int(np.count_nonzero(deviations)),
        farthest_ms=float(deviations.max(initial=0.0)),
    )
