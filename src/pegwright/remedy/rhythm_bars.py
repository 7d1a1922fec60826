"""The bars of a turn in which notes are silent or out of place, as problems of another rhythm."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pegwright.ask.note_edits import MAX_DENOMINATOR
from pegwright.ask.options import FitOptions
from pegwright.columns import Ints, frozen_ints
from pegwright.fit.turn import turn_of
from pegwright.frozen import frozen
from pegwright.placement import Outcome, Placement
from pegwright.remedy.budget import Budget
from pegwright.remedy.rhythm_room import BarRoom, Channels, TurnHoles
from pegwright.remedy.rhythm_search import Neighbour, Places, RhythmProblem
from pegwright.remedy.song_remedies import levels_of
from pegwright.score import Score
from pegwright.tell.audible import Audibility
from pegwright.wheel import Wheel

BAR_WORK = 50  # of a bar whose onsets are laid out with the places where they could be
NOTE_WORK = 20  # of each of its notes
_NONE = frozen_ints([])
NO_RHYTHM_HELPS = (Outcome.NO_CHANNEL, Outcome.PAST_TURN)


@frozen(eq=False)
class TroubledBar:
    """A bar with notes that are silent or out of place.

    Args:
        turn: number of the turn, 0-based.
        score: of the turn.
        bar: number of the bar in it, 0-based.
        notes: of the bar, those that have a channel.
        silent: how many of them no pin sounds.
        troubled: of them those that are silent or noticeably out of place, numbered through all turns.
        problem: its onsets and the places where they could be.
        sounding: the earliest and the latest place at which each onset sounds now; None where notes of it are silent.
    """

    turn: int
    score: Score
    bar: int
    notes: Ints
    silent: int
    troubled: tuple[int, ...]
    problem: RhythmProblem
    sounding: tuple[Places, Places] | None

    @property
    def label(self) -> str:
        """What a reader finds at the bar."""
        return self.score.bar_map.labels[self.bar]

    @property
    def harm_now(self) -> int | None:
        """The harm of how the bar sounds now; None where notes of it are silent."""
        return None if self.sounding is None else max(map(self.problem.harm, self.sounding))

    def beat(self, ticks: int) -> Fraction:
        """The beat of the bar at a place."""
        per_quarter = self.score.resolution
        tick = Fraction(ticks * per_quarter, self.problem.resolution)
        return self.score.bar_map.beat_of(self.bar, tick, per_quarter)

    def notes_at(self, onset: int) -> Ints:
        """The notes of an onset, by its number in the problem."""
        finer = self.problem.resolution // self.score.resolution
        here: Ints = self.notes[self.score.onset_ticks[self.notes] * finer == self.problem.written_ticks[onset]]
        return here


class TurnRhythms:
    """The bars of a turn, with the places that its holes and pins leave them.

    Args:
        score: of the turn.
        wheel: the wheel.
        options: as it was fitted.
        placement: of its notes.
    """

    def __init__(self, score: Score, wheel: Wheel, options: FitOptions, placement: Placement) -> None:
        self._score, self._placement = score, placement
        self._holes = TurnHoles(wheel, turn_of(score, wheel, options)[0])
        self._own = ~np.isin(placement.outcome, NO_RHYTHM_HELPS) & (placement.channel >= 0)
        self._onset = score.onset_ticks * (placement.resolution // score.resolution)
        by = placement.sounded_by
        self._sounds_at = self._onset[by] + placement.deviation_ticks[by]
        self._pinned = np.flatnonzero(placement.outcome == Outcome.PLACED)
        self._bar = np.searchsorted(score.bar_map.ticks, score.onset_ticks, side="right") - 1

    def troubled(self, number: int, first_note: int, budget: Budget) -> Iterator[TroubledBar]:
        """The bars with notes that are silent or noticeably out of place.

        Args:
            number: of the turn.
            first_note: how many notes of the song come before it.
            budget: the work that may be done.
        """
        troubled = self._own & (levels_of(self._score, self._placement) >= Audibility.SLIGHT)
        for bar in np.unique(self._bar[troubled]).tolist():
            notes = np.flatnonzero(self._own & (self._bar == bar))
            if not budget.take(BAR_WORK + NOTE_WORK * len(notes)):
                return
            silent = int(np.count_nonzero(~self._placement.sounding[notes]))
            onsets = np.unique(self._onset[notes])
            sounding = None if silent else self._sounding(notes, onsets)
            numbers = tuple((notes[troubled[notes]] + first_note).tolist())
            problem = self._problem(bar, notes, onsets)
            yield TroubledBar(number, self._score, bar, notes, silent, numbers, problem, sounding)

    def _sounding(self, notes: Ints, onsets: Ints) -> tuple[Places, Places]:
        by_onset = [self._sounds_at[notes[self._onset[notes] == onset]] for onset in onsets.tolist()]
        return tuple(int(at.min()) for at in by_onset), tuple(int(at.max()) for at in by_onset)

    def _problem(self, bar: int, notes: Ints, onsets: Ints) -> RhythmProblem:
        turn, channel = self._holes.turn, self._placement.channel
        others = self._pinned[self._bar[self._pinned] != bar]
        by_onset = (notes[self._onset[notes] == onset] for onset in onsets.tolist())
        channels = [tuple(sorted(set(channel[of].tolist()))) for of in by_onset]
        room = BarRoom(self._holes, channels, self._bounds(bar), (channel[others], self._sounds_at[others]))
        return RhythmProblem(
            written_ticks=tuple(onsets.tolist()),
            places=tuple(
                tuple(place for place in self._places(bar, of) if room.within_limits(number, [place]))
                for number, of in enumerate(channels)
            ),
            resolution=turn.resolution,
            us_per_quarter=turn.us_per_quarter,
            before=self._neighbour(bar, before=True),
            after=self._neighbour(bar, before=False),
            room=room,
        )

    def _neighbour(self, bar: int, before: bool) -> Neighbour | None:
        side = self._bar < bar if before else self._bar > bar
        there = np.flatnonzero(self._own & self._placement.sounding & side)
        if not len(there):
            return None
        onset = int(self._onset[there].max() if before else self._onset[there].min())
        sounds = self._sounds_at[there[self._onset[there] == onset]]
        return Neighbour(onset, int(sounds.max() if before else sounds.min()))

    def _bounds(self, bar: int) -> tuple[int, int]:
        """Where a bar begins and ends."""
        finer, bars = self._holes.turn.resolution // self._score.resolution, self._score.bar_map
        past = bars.ticks[bar + 1] if bar + 1 < len(bars.ticks) else bars.end_ticks
        return int(bars.ticks[bar]) * finer, int(past) * finer

    def _places(self, bar: int, channels: Channels) -> list[int]:
        """Where in a bar all of some channels have a hole, with room beside pins of other bars."""
        low, past = self._bounds(bar)
        of_each = [self._holes.by_channel.get(channel, {}) for channel in channels]
        here = [place for place in sorted(of_each[0]) if low <= place < past and all(place in of for of in of_each)]
        free = np.array(here, dtype=np.int64)
        for channel, holes in zip(channels, of_each, strict=True):
            free = free[self._free(bar, channel, free, frozen_ints([holes[place] for place in free.tolist()]))]
        return [place for place in free.tolist() if self._can_be_typed(bar, place)]

    def _can_be_typed(self, bar: int, place: int) -> bool:
        per_quarter = self._score.resolution
        tick = Fraction(place * per_quarter, self._holes.turn.resolution)
        return self._score.bar_map.beat_of(bar, tick, per_quarter).denominator <= MAX_DENOMINATOR

    def _free(self, bar: int, channel: int, place: Ints, like: Ints) -> NDArray[np.bool_]:
        """Which holes no pin of another bar bars.

        Args:
            bar: number of the bar.
            channel: of the holes.
            place: of each hole.
            like: what a pin in it is like.
        """
        pin_bar, at, pin_like = self._pins.get(channel, (_NONE, _NONE, _NONE))
        other = pin_bar != bar
        pins = at[other][None, :], pin_like[other][None, :]
        barred = self._holes.barred(channel, (place[:, None], like[:, None]), pins)
        free: NDArray[np.bool_] = ~np.logical_or.reduce(barred, axis=1)
        return free

    @cached_property
    def _pins(self) -> dict[int, tuple[Ints, Ints, Ints]]:
        """For each channel its pins: the bar of each, where it trips, and what it is like."""
        placement, kinds = self._placement, self._holes.turn.pin_types
        pin = np.argmax(placement.pin_type[self._pinned][:, None] == kinds, axis=1)
        like = placement.row[self._pinned] * len(kinds) + pin
        channel = placement.channel[self._pinned]
        pins = {}
        for number in np.unique(channel).tolist():
            here = channel == number
            note = self._pinned[here]
            pins[number] = (self._bar[note], self._sounds_at[note], like[here])
        return pins
