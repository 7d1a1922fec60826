"""The verdict on one piece: as it is, at its best, and what it lacks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache

import numpy as np

from pegwright.errors import InternalError, UsageError
from pegwright.fit.fit_song import place_song
from pegwright.fit.options import FitOptions
from pegwright.fit.turn import prevailing_tempo
from pegwright.fit.verify import verify
from pegwright.score import Score
from pegwright.verdict.choose import Placements, best_choice
from pegwright.verdict.lacking import Lacks, lacks_of, left_out, shared
from pegwright.verdict.turns import cut_into_turns
from pegwright.verdict.values import REASONS, Sounding, Verdict
from pegwright.wheel import Wheel

MOST_SEMITONES = 48  # four octaves: beyond any instrument that a wheel plays


@dataclass(frozen=True, slots=True)
class SurveySettings:
    """What is tried with every piece.

    Args:
        semitones: the farthest transposition either way, 0 to `MOST_SEMITONES`; every start is tried with each.

    Raises:
        UsageError: out of bounds.
    """

    semitones: int = 12

    def __post_init__(self) -> None:
        if not 0 <= self.semitones <= MOST_SEMITONES:
            raise UsageError(
                f"{self.semitones} semitones is outside 0 to {MOST_SEMITONES}", where="survey", hint="12 is an octave"
            )


def judge(score: Score, wheel: Wheel, settings: SurveySettings) -> Verdict:
    """Judge one piece.

    Args:
        score: the whole song.
        wheel: the wheel.
        settings: what is tried.

    Raises:
        UsageError: song and wheel do not suit each other at all, such as a turn shorter than a re-strike.
        InternalError: the independent verifier found a placement broken that lets the piece in.
    """
    turns = cut_into_turns(score, wheel)
    sounding = tuple(turn for turn in turns if turn.note_count) or turns[:1]
    options = FitOptions(us_per_quarter=prevailing_tempo(score.tempo_map, score.length_ticks))

    def place_on(other: Wheel, semitones: int, start_steps: int) -> Placements:
        chosen = replace(options, transpose_semitones=semitones, start_steps=Fraction(start_steps))
        return tuple(place_song(turn, other, chosen) for turn in sounding)

    place = cache(lambda semitones, start_steps: place_on(wheel, semitones, start_steps))
    as_is = _sounding(place(0, 0))
    semitones = range(-settings.semitones, settings.semitones + 1)
    chosen = best_choice(sounding, wheel, options, semitones, place)
    best = chosen.choice
    choice = best.transpose_semitones, best.start_steps
    at_best = _sounding(place(*choice))
    lacks = Lacks((), let_in=False)
    if at_best.left_out:
        lacks = lacks_of(sounding, place(*choice), wheel, lambda other: place_on(other, *choice))
    for told, placements in ((as_is, place(0, 0)), (at_best, place(*choice))):
        if not told.left_out:
            _prove(sounding, wheel, placements)
    return Verdict(
        title=score.title,
        bars=len(score.bar_map.ticks),
        turns=len(turns),
        us_per_quarter=place(0, 0)[0].us_per_quarter,
        as_is=as_is,
        transpose_semitones=best.transpose_semitones,
        start_steps=best.start_steps,
        at_best=at_best,
        lacks=lacks.things,
        let_in=lacks.let_in,
        weight_gap=chosen.gap,
    )


def _sounding(placements: Placements) -> Sounding:
    by_reason = np.zeros(len(REASONS), dtype=np.int64)
    for placement in placements:
        reasons = placement.outcome[left_out(placement)]
        by_reason += np.bincount(reasons, minlength=len(REASONS) + 1)[1:]
    deviations = np.abs(np.concatenate([placement.deviation_ms for placement in placements]))
    return Sounding(
        placed=sum(placement.placed_count for placement in placements),
        shared=sum(int(np.count_nonzero(shared(placement))) for placement in placements),
        left_out_by_reason=tuple(by_reason.tolist()),
        moved=int(np.count_nonzero(deviations)),
        farthest_ms=float(deviations.max(initial=0.0)),
    )


def _prove(turns: Iterable[Score], wheel: Wheel, placements: Placements) -> None:
    for turn, placement in zip(turns, placements, strict=True):
        broken = verify(turn, wheel, placement)
        if broken:
            raise InternalError(
                f"the placement broke {len(broken)} of its own rules, the first: {broken[0]}",
                hint="please report this with the song and the wheel file",
            )
