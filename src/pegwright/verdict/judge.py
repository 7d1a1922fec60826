"""The verdict on one piece: as it is, at its best, and what it lacks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
from pegwright.remedy.additions import any_wheel
from pegwright.remedy.piece_lacks import PieceLacks, lacked_by_piece
from pegwright.remedy.trials import Trials
from pegwright.score import Score
from pegwright.search.best import find_best
from pegwright.search.fits import SongFits
from pegwright.verdict.values import Sounding, Verdict
from pegwright.wheel import Wheel

MAX_SEMITONES = 48  # four octaves: beyond any instrument that a wheel plays


def judge(
    score: Score,
    wheel: Wheel,
    semitones: int,
    fold_octaves: bool = False,
    could_be_made: Callable[[Wheel], bool] = any_wheel,
) -> Verdict:
    """Judge one piece.

    Args:
        score: the whole song.
        wheel: the wheel.
        semitones: the farthest transposition tried either way, 0 to `MAX_SEMITONES`; every start is tried with each.
        fold_octaves: whether a pitch without a channel may sound some octaves away.
        could_be_made: whether a wheel could be made, such as by the rules of a wheel file.

    Raises:
        UsageError: song and wheel do not go together at all, such as a turn shorter than a re-strike; or the
            transpositions are out of bounds.
        InternalError: the independent verifier found a fault in a placement that fits the whole piece.
    """
    if not 0 <= semitones <= MAX_SEMITONES:
        message = f"{semitones} semitones is outside 0 to {MAX_SEMITONES}"
        raise UsageError(message, where="survey", hint="12 is an octave")
    fits = song_fits(score, wheel, fold_octaves)
    best = find_best(fits, SearchRange(semitones, every_steps=1), list_equal=False)
    choice = best.ranked[0].choice
    chosen = choice.transpose_semitones, Fraction(choice.start_steps)
    placed_as_is, placed_at_best = fits.placements(0, Fraction(0)), fits.placements(*chosen)
    as_is, at_best = _sounding(placed_as_is), _sounding(placed_at_best)
    lacks = PieceLacks((), (), let_in=False)
    if at_best.count.left_out:
        song = SongFits(fits.turns, wheel, fits.options_at(*chosen))
        lacks = lacked_by_piece(Trials(song, placed_at_best, could_be_made))
    for sounds, placements in ((as_is, placed_as_is), (at_best, placed_at_best)):
        if not sounds.count.left_out:
            _verify(fits, placements)
    return Verdict(
        title=score.title,
        bars=len(score.bar_map.ticks),
        turns=len(fits.turns),
        us_per_quarter=placed_as_is[0].us_per_quarter,
        as_is=as_is,
        transpose_semitones=choice.transpose_semitones,
        start_steps=choice.start_steps,
        at_best=at_best,
        lacks=lacks.additions,
        lack_notes=lacks.notes,
        let_in=lacks.let_in,
        weight_gap=best.gap,
        by_hand=judged(score, constant_offset(score)).by_hand,
    )


def best_sounding(fits: SongFits, semitones: int) -> int:
    """How many notes of a song sound at its best choice of transposition and start.

    Args:
        fits: of the song, see `song_fits`.
        semitones: the farthest transposition tried either way.

    Raises:
        InternalError: the independent verifier found a fault in a placement that fits the whole piece.
    """
    best = find_best(fits, SearchRange(semitones, every_steps=1), list_equal=False)
    choice = best.ranked[0].choice
    placements = fits.placements(choice.transpose_semitones, Fraction(choice.start_steps))
    count = note_count(placements)
    if not count.left_out:
        _verify(fits, placements)
    return count.sounding


def song_fits(score: Score, wheel: Wheel, fold_octaves: bool) -> SongFits:
    """The fits of a song, cut into its turns, at the tempo that holds longest.

    Args:
        score: the whole song.
        wheel: the wheel.
        fold_octaves: whether a pitch without a channel may sound some octaves away.
    """
    tempo = prevailing_tempo(score.tempo_map, score.length_ticks)
    options = FitOptions(us_per_quarter=tempo, fold_octaves=fold_octaves)
    return SongFits(cut_turns(score, wheel), wheel, options)


def _verify(fits: SongFits, placements: Sequence[Placement]) -> None:
    for turn, placement in zip(fits.turns, placements, strict=True):
        refuse_broken(verify(turn, fits.wheel, placement))


def _sounding(placements: Sequence[Placement]) -> Sounding:
    deviations = np.abs(np.concatenate([placement.deviation_ms for placement in placements]))
    return Sounding(
        count=note_count(placements),
        moved=int(np.count_nonzero(deviations)),
        farthest_ms=float(deviations.max(initial=0.0)),
    )
