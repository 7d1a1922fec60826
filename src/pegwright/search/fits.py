"""The turns of one song fitted at transpositions and starts, every choice at most once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from pegwright.ask.options import FitOptions
from pegwright.fit.placing import TurnFit, fit_turn
from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.wheel import Wheel

if TYPE_CHECKING:
    from pegwright.search.choices import Choice


class SongFits:
    """Fits of one song over all its turns, kept for later requests of the same choice.

    Args:
        turns: of the song in playing order, at least one, all at one resolution.
        wheel: the wheel.
        options: what a choice does not change; with several turns they state the tempo, which is that of the song.
    """

    def __init__(self, turns: Sequence[Score], wheel: Wheel, options: FitOptions) -> None:
        self.turns, self.wheel, self.options = tuple(turns), wheel, options
        self._fits: dict[tuple[int, Fraction], tuple[TurnFit, ...]] = {}

    @property
    def sounding(self) -> tuple[Score, ...]:
        """The turns that have notes, or else the first: the others are worth nothing at any choice."""
        return tuple(turn for turn in self.turns if turn.note_count) or self.turns[:1]

    def options_at(self, transpose_semitones: int, start_steps: Fraction) -> FitOptions:
        """The options with a choice put in."""
        return replace(self.options, transpose_semitones=transpose_semitones, start_steps=start_steps)

    def at(self, transpose_semitones: int, start_steps: Fraction) -> tuple[TurnFit, ...]:
        """The fit of every turn at a choice."""
        choice = transpose_semitones, start_steps
        if choice not in self._fits:
            self._fits[choice] = tuple(self._fit_turns(self.options_at(*choice)))
        return self._fits[choice]

    def _fit_turns(self, options: FitOptions) -> Iterator[TurnFit]:
        """The fit of every turn; those without a note share one, since a long silence can be thousands of them."""
        silent: TurnFit | None = None
        for turn in self.turns:
            if turn.note_count or silent is None:
                fit = fit_turn(turn, self.wheel, options)
                silent = silent if turn.note_count else fit
                yield fit
            else:
                yield replace(silent, fitting=replace(silent.fitting, score=turn))

    def placements(self, transpose_semitones: int, start_steps: Fraction) -> tuple[Placement, ...]:
        """The placement of every turn at a choice."""
        return tuple(fit.placement for fit in self.at(transpose_semitones, start_steps))

    def worth(self, transpose_semitones: int, start_steps: int) -> Choice:
        """What a choice is worth over all turns."""
        from pegwright.search.choices import Choice  # noqa: PLC0415  # loaded where a choice is searched for

        placements = self.placements(transpose_semitones, Fraction(start_steps))
        weight, cost_ticks = sum(each.weight for each in placements), sum(each.cost_ticks for each in placements)
        return Choice(transpose_semitones, start_steps, weight, cost_ticks)
