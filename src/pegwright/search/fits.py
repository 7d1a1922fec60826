"""The turns of one song fitted at transpositions and starts, every choice at most once."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING

from pegwright.ask.options import FitOptions
from pegwright.fit.placing import TurnFit, fit_turns
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
        """The fit of every turn; one for those of equal notes: repeats and silences can be thousands of turns."""
        different = dict(zip(reversed(self._notes), reversed(self.turns), strict=True))  # the first of equals
        firsts = dict.fromkeys(self._notes)
        fits = dict(zip(firsts, fit_turns([different[notes] for notes in firsts], self.wheel, options), strict=True))
        for turn, notes in zip(self.turns, self._notes, strict=True):
            fit = fits[notes]
            same = fit.fitting.score is turn
            yield fit if same else replace(fit, fitting=replace(fit.fitting, score=turn))

    @cached_property
    def _notes(self) -> tuple[Hashable, ...]:
        """For each turn all of its score that a placement depends on."""
        return tuple(map(_notes_of, self.turns))

    def placements(self, transpose_semitones: int, start_steps: Fraction) -> tuple[Placement, ...]:
        """The placement of every turn at a choice."""
        return tuple(fit.placement for fit in self.at(transpose_semitones, start_steps))

    def worth(self, transpose_semitones: int, start_steps: int) -> Choice:
        """What a choice is worth over all turns."""
        from pegwright.search.choices import Choice  # noqa: PLC0415  # loaded where a choice is searched for

        placements = self.placements(transpose_semitones, Fraction(start_steps))
        weight, cost_ticks = sum(each.weight for each in placements), sum(each.cost_ticks for each in placements)
        return Choice(transpose_semitones, start_steps, weight, cost_ticks)


def _notes_of(turn: Score) -> Hashable:
    """Equal for turns of one song that are fitted alike: bars and tempi are of no matter to a fit."""
    columns = turn.onset_ticks, turn.duration_ticks, turn.pitch_midi, turn.velocity, turn.part
    # Turns of a song share its parts, which can be many: the object is compared, not what is in it.
    return turn.resolution, turn.tolerance_ticks, id(turn.parts), *(column.tobytes() for column in columns)
