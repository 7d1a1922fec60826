"""Where the bars and beats of a song fall on the turn."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.wheel import Wheel

END_LABEL = "end"


@dataclass(frozen=True, slots=True)
class BarMark:
    """A bar line of the song on the turn.

    Args:
        position_steps: where it falls, from 0 to below the steps of the turn.
        label: the bar as a reader finds it in the score, or `END_LABEL`.
        beats: where its later beats fall, the bar line itself not repeated; same range.
    """

    position_steps: Fraction
    label: str
    beats: tuple[Fraction, ...] = ()


def bar_marks(score: Score, wheel: Wheel, placement: Placement) -> tuple[BarMark, ...]:
    """The bars of `score` as `placement` lays them on the turn, in the order of the song.

    The song runs on from the last plate to the first, as its pins do. What lies a whole turn or
    more after its beginning is not on the wheel and has no mark. A last mark tells where the song
    ends, unless it fills the turn or more.
    """
    turn = wheel.turn_steps
    start = Fraction(placement.start_ticks, placement.resolution) / wheel.step_quarters
    tick_steps = 1 / (score.resolution * wheel.step_quarters)
    bars = score.bar_map
    marks = []
    for number, tick in enumerate(bars.ticks.tolist()):
        begin = tick * tick_steps
        if begin >= turn:
            break
        beat_steps = Fraction(4, int(bars.beat_types[number])) / wheel.step_quarters
        end_ticks = bars.end_ticks if number + 1 == len(bars.ticks) else int(bars.ticks[number + 1])
        limit = min(end_ticks * tick_steps, Fraction(turn))
        beats = (begin + beat * beat_steps for beat in range(1, int(bars.beats[number])))
        on_turn = tuple((start + beat) % turn for beat in beats if beat < limit)
        marks.append(BarMark((start + begin) % turn, bars.labels[number], on_turn))
    if bars.end_ticks * tick_steps < turn:
        marks.append(BarMark((start + bars.end_ticks * tick_steps) % turn, END_LABEL))
    return tuple(marks)
