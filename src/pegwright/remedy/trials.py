"""A song fitted to its wheel with additions, every wheel at most once, and what its silent notes lack then."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from pegwright.columns import distinct
from pegwright.placement import Outcome
from pegwright.remedy.additions import Addition, AdditionKind, any_wheel, with_additions
from pegwright.remedy.budget import Budget, WorkOf
from pegwright.remedy.changed_wheel import with_fewer_rows
from pegwright.remedy.lacking import Additions, Placements, lacked_by_note, silent_count, silent_count_if_known
from pegwright.search.fits import SongFits
from pegwright.wheel import Wheel

KnownWheels: TypeAlias = dict[Additions, Wheel | None]  # with additions; None of those that could not be made
HELPED_BY_HAMMERS = (Outcome.HOLE_USED, Outcome.RESTRIKE, Outcome.PINS_TOUCH)


class Trials:
    """A song fitted to its wheel with additions, every wheel at most once, as long as there is work left.

    Args:
        song: its turns, the wheel as it is, and the options of every turn with the choice put in.
        placements: of each turn on the wheel as it is.
        sound: whether a wheel could be made.
        budget: the work that may be done; None for any amount.
        known: wheels that were made before, by the same `sound`; further ones are added to it.
    """

    def __init__(
        self,
        song: SongFits,
        placements: Placements,
        sound: Callable[[Wheel], bool] = any_wheel,
        budget: Budget | None = None,
        known: KnownWheels | None = None,
    ) -> None:
        self.turns, self.wheel, self.placements = song.turns, song.wheel, placements
        self._options, self._sound, self._budget = song.options, sound, budget
        self._wheel_work = self._work_on(self.wheel).wheel if budget else 0
        self._wheels: KnownWheels = {} if known is None else known
        self._wheels[frozenset()] = self.wheel
        self._placements: dict[Additions, Placements] = {frozenset(): placements}

    def wheel_with(self, additions: Additions) -> Wheel | None:
        """The wheel with some additions; None where it could not be made, or there is no work left to try."""
        if additions not in self._wheels:
            if self._budget and not self._budget.take(self._wheel_work):
                return None
            changed = with_additions(self.wheel, additions, self._sound)
            self._wheels[additions] = changed if self._sound(changed) else None
        return self._wheels[additions]

    def can_add(self, addition: Addition) -> bool:
        """Whether the wheel can be made with an addition."""
        return self.wheel_with(frozenset({addition})) is not None

    def place_with(self, additions: Additions) -> Placements | None:
        """The placements on the wheel with some additions; None where there is no such wheel, or no work left."""
        if additions not in self._placements:
            changed = self.wheel_with(additions)
            if changed is None or (self._budget and not self._budget.take(self._work_on(changed).fit)):
                return None
            self._placements[additions] = self._place_on(changed)
        return self._placements[additions]

    def silent(self, additions: Additions) -> int:
        """Notes that do not sound with some additions; more than any song has where that is not known."""
        return silent_count_if_known(self.place_with(additions))

    def lacked(self, additions: Additions = frozenset()) -> tuple[dict[int, tuple[Addition, ...]], ...] | None:
        """For every turn what each silent note lacks, with some additions made: any of these, the simplest first.

        That is a channel, a row (see `lacked_by_note`), or one more hammer for a channel whose strikes are too close.
        None where it is not known.
        """
        changed, placements = self.wheel_with(additions), self.place_with(additions)
        if changed is None or placements is None:
            return None
        by_turn = []
        for score, placement in zip(self.turns, placements, strict=True):
            lacked = lacked_by_note(score, placement, self.wheel, self.can_add)
            close = np.flatnonzero(np.isin(placement.outcome, HELPED_BY_HAMMERS) & ~placement.sounding)
            hammers = {
                channel: (_hammer(channel, self.wheel, changed, additions),)
                for channel in distinct(placement.channel[close]).tolist()
            }
            channels = placement.channel[close].tolist()
            lacked |= {note: hammers[channel] for note, channel in zip(close.tolist(), channels, strict=True)}
            by_turn.append(lacked)
        return tuple(by_turn)

    def on_few_channels(self, additions: Additions) -> Wheel:
        """The wheel with additions, which was tried, its new holes on those channels alone that have pins in them."""
        changed, placements = self.wheel_with(additions), self.place_with(additions)
        assert changed is not None  # noqa: S101  # it was tried
        assert placements is not None  # noqa: S101
        fewer = with_fewer_rows(self.wheel, changed, placements)
        if fewer == changed or (self._budget and not self._budget.take(self._wheel_work + self._work_on(fewer).fit)):
            return changed
        if not self._sound(fewer):
            return changed
        return fewer if silent_count(self._place_on(fewer)) <= silent_count(placements) else changed

    def _work_on(self, wheel: Wheel) -> WorkOf:
        """The work on another wheel, which is more where further channels share a pitch."""
        return WorkOf(self.turns, wheel, self._options, self.placements[0].us_per_quarter)

    def _place_on(self, wheel: Wheel) -> Placements:
        options = self._options
        return SongFits(self.turns, wheel, options).placements(options.transpose_semitones, options.start_steps)


def _hammer(number: int, wheel: Wheel, changed: Wheel, additions: Additions) -> Addition:
    """The next hammer of a channel, or of the channel that it is a hammer of itself.

    Args:
        number: of the channel on the changed wheel.
        wheel: as it is.
        changed: with the additions.
        additions: so far.
    """
    name = changed.channels[number].name
    if number >= len(wheel.channels):
        added = [addition for addition in sorted(additions, key=Addition.order) if addition.adds_channel]
        name = added[number - len(wheel.channels)].channel or name
    hammers = sum(addition.kind is AdditionKind.HAMMER and addition.channel == name for addition in additions)
    return Addition(AdditionKind.HAMMER, 2 + hammers, channel=name)
