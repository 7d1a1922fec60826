"""The verdict on one piece: as it is, at its best, and what it lacks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from pegwright.ask.options import FitOptions, SearchRange
from pegwright.check.verify import verify
from pegwright.edit.turns import cut_turns
from pegwright.errors import InternalError, UsageError
from pegwright.fit.turn import prevailing_tempo
from pegwright.placement import Placement
from pegwright.remedy.additions import Addition
from pegwright.remedy.lacking import lacked_by_piece
from pegwright.score import Score
from pegwright.search.best import find_best
from pegwright.search.fits import SongFits
from pegwright.verdict.values import REASONS, Sounding, Verdict
from pegwright.wheel import Wheel

MAX_SEMITONES = 48  # four octaves: beyond any instrument that a wheel plays


@dataclass(frozen=True, slots=True)
class SurveySettings:
    """What is tried with every piece.

    Args:
        semitones: the farthest transposition either way, 0 to `MAX_SEMITONES`; every start is tried with each.

    Raises:
        UsageError: out of bounds.
    """

    semitones: int = 12

    def __post_init__(self) -> None:
        if not 0 <= self.semitones <= MAX_SEMITONES:
            raise UsageError(
                f"{self.semitones} semitones is outside 0 to {MAX_SEMITONES}", where="survey", hint="12 is an octave"
            )


def judge(score: Score, wheel: Wheel, settings: SurveySettings) -> Verdict:
    """Judge one piece.

    Args:
        score: the whole song.
        wheel: the wheel.
        settings: what is tried.

    Raises:
        UsageError: song and wheel do not go together at all, such as a turn shorter than a re-strike.
        InternalError: the independent verifier found a fault in a placement that fits the whole piece.
    """
    turns = cut_turns(score, wheel)
    sounding = tuple(turn for turn in turns if turn.note_count) or turns[:1]
    options = FitOptions(us_per_quarter=prevailing_tempo(score.tempo_map, score.length_ticks))
    fits = SongFits(sounding, wheel, options)
    best = find_best(fits, SearchRange(settings.semitones, every_steps=1), list_equal=False)
    choice = best.ranked[0].choice
    chosen = choice.transpose_semitones, Fraction(choice.start_steps)
    placed_as_is, placed_at_best = fits.placements(0, Fraction(0)), fits.placements(*chosen)
    as_is, at_best = _sounding(placed_as_is), _sounding(placed_at_best)
    lacks: tuple[Addition, ...] = ()
    let_in = False
    if at_best.left_out:
        lacks, let_in = lacked_by_piece(
            sounding, placed_at_best, wheel, lambda other: SongFits(sounding, other, options).placements(*chosen)
        )
    for sounds, placements in ((as_is, placed_as_is), (at_best, placed_at_best)):
        if not sounds.left_out:
            _prove(sounding, wheel, placements)
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
    )


def _sounding(placements: Sequence[Placement]) -> Sounding:
    by_reason = np.zeros(len(REASONS), dtype=np.int64)
    for placement in placements:
        reasons = placement.outcome[~placement.sounding]
        by_reason += np.bincount(reasons, minlength=len(REASONS) + 1)[1:]
    deviations = np.abs(np.concatenate([placement.deviation_ms for placement in placements]))
    return Sounding(
        placed=sum(placement.placed_count for placement in placements),
        shared=sum(int(np.count_nonzero(placement.shared)) for placement in placements),
        left_out_by_reason=tuple(by_reason.tolist()),
        moved=int(np.count_nonzero(deviations)),
        farthest_ms=float(deviations.max(initial=0.0)),
    )


def _prove(turns: Iterable[Score], wheel: Wheel, placements: Sequence[Placement]) -> None:
    for turn, placement in zip(turns, placements, strict=True):
        broken = verify(turn, wheel, placement)
        if broken:
            raise InternalError(
                f"the placement broke {len(broken)} of its own rules, the first: {broken[0]}",
                hint="please report this with the song and the wheel file",
            )
