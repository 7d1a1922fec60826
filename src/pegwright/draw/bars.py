"""Where the bars and beats of a song fall on the turn."""

from __future__ import annotations

from fractions import Fraction

from pegwright.frozen import frozen
from pegwright.grid import start_steps
from pegwright.placement import Placement
from pegwright.score import BarMap, Score
from pegwright.units import fraction_text
from pegwright.wheel import Wheel

END_LABEL = "end"


@frozen()
class BarMark:
    """A bar line of the song on the turn.

    Args:
        position_steps: where it falls, from 0 to below the steps of the turn.
        label: the bar as the score numbers it, or `END_LABEL`.
        beats: where its later beats fall, the bar line itself not repeated; same range.
    """

    position_steps: Fraction
    label: str
    beats: tuple[Fraction, ...] = ()


def bar_marks(score: Score, wheel: Wheel, placement: Placement) -> tuple[BarMark, ...]:
    """The bars of `score` as `placement` puts them on the turn, in the order of the song.

    The song continues from the last plate to the first, as its pins do. What lies a whole turn or
    more after its beginning is not on the wheel and has no mark. A last mark shows where the song
    ends, unless it fills the turn or more.

    Args:
        score: one turn of the song.
        wheel: its plates and steps.
        placement: gives the start.
    """
    turn = wheel.turn_steps
    start = start_steps(wheel, placement)
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
        first = begin - (0 if number else bars.cut_ticks * tick_steps)
        beats = (first + beat * beat_steps for beat in range(1, int(bars.beats[number])))
        on_turn = tuple((start + beat) % turn for beat in beats if begin < beat < limit)
        marks.append(BarMark((start + begin) % turn, _label(bars, number, score.resolution), on_turn))
    if bars.end_ticks * tick_steps < turn:
        marks.append(BarMark((start + bars.end_ticks * tick_steps) % turn, END_LABEL))
    return tuple(marks)


def _label(bars: BarMap, number: int, resolution: int) -> str:
    """A bar's label; of a bar that is cut also the first beat after the cut."""
    if number or not bars.cut_ticks:
        return bars.labels[number]
    label, beat = bars.place_of(0, resolution)
    return f"{label} from beat {fraction_text(beat)}"
