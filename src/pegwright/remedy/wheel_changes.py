"""The fewest changes to a wheel with which a song fits.

The smallest set of additions that serves every note that lacks one is a set cover problem; then the song is fitted to
the changed wheel, and the notes that still do not sound are treated in the same way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial

from pegwright.ask.options import FitOptions
from pegwright.fit.placing import place_song
from pegwright.frozen import frozen
from pegwright.placement import Outcome
from pegwright.remedy.additions import Addition, AdditionKind, any_wheel, with_additions
from pegwright.remedy.budget import FULL_WORK, Budget, WorkOf
from pegwright.remedy.changed_wheel import change_words, with_fewer_rows
from pegwright.remedy.cover import smallest_cover
from pegwright.remedy.lacking import (
    Additions,
    Placements,
    lacked_by_note,
    lacked_by_piece,
    silent_count,
    silent_count_if_known,
    without_idle,
)
from pegwright.score import Score
from pegwright.wheel import Channel, Wheel

MAX_ROUNDS = 4
FARTHEST_SEMITONES = 12  # that a channel is retuned by
HELPED_BY_HAMMERS = frozenset({Outcome.HOLE_USED, Outcome.RESTRIKE, Outcome.PINS_TOUCH})


@frozen()
class WheelRemedy:
    """Changes to a wheel and what they do.

    Args:
        wheel: as it is.
        changed: with the changes; a row is on the channels that need it alone.
        changes: sorted; without any one of them more notes are silent, as far as there was work left to try it.
        silent: notes of the song that no pin sounds on the changed wheel.
        silent_now: the same on the wheel as it is.
    """

    wheel: Wheel
    changed: Wheel
    changes: tuple[Addition, ...]
    silent: int
    silent_now: int

    @property
    def words(self) -> tuple[str, ...]:
        """The changes for a maker, each with the channels concerned; hammers of one channel together."""
        return change_words(self.wheel, self.changed, self.changes)


def fewest_changes(
    turns: Sequence[Score],
    wheel: Wheel,
    options: FitOptions,
    placements: Placements,
    sound: Callable[[Wheel], bool] = any_wheel,
    budget: Budget | None = None,
) -> WheelRemedy | None:
    """The fewest changes to the wheel with which a song fits, or as much of it as can.

    Args:
        turns: of the song in playing order.
        wheel: the wheel.
        options: as every turn was fitted.
        placements: of each turn.
        sound: whether a changed wheel could be made, such as by the rules of a wheel file.
        budget: the work that may be done; by default `FULL_WORK`.

    Returns:
        None where no change helps, or none is needed.
    """
    silent_now = silent_count(placements)
    if not silent_now:
        return None
    trials = _Trials(turns, wheel, options, placements, sound, budget or Budget(FULL_WORK))
    none: Additions = frozenset()
    lacks = frozenset(lacked_by_piece(turns, placements, wheel, trials.place_with, trials.can_add)[0])
    best = min([none, *_rounds(trials), lacks], key=lambda additions: (trials.silent(additions), len(additions)))
    changes = without_idle(best, trials.silent)
    if not changes:
        return None
    ordered = tuple(sorted(changes, key=Addition.order))
    return WheelRemedy(wheel, trials.on_few_channels(changes), ordered, trials.silent(changes), silent_now)


class _Trials:
    """A song fitted to its wheel with additions, every wheel at most once, as long as there is work left.

    Args:
        turns: of the song.
        wheel: as it is.
        options: as every turn was fitted.
        placements: of each turn on the wheel as it is.
        sound: whether a wheel could be made.
        budget: the work that may be done.
    """

    def __init__(
        self,
        turns: Sequence[Score],
        wheel: Wheel,
        options: FitOptions,
        placements: Placements,
        sound: Callable[[Wheel], bool],
        budget: Budget,
    ) -> None:
        self.turns, self.wheel, self.placements = turns, wheel, placements
        self._options, self._sound, self._budget = options, sound, budget
        self._work = self._work_on(wheel)
        self._wheels: dict[Additions, Wheel | None] = {frozenset(): wheel}
        self._placements: dict[Additions, Placements] = {frozenset(): placements}

    def wheel_with(self, additions: Additions) -> Wheel | None:
        """The wheel with some additions; None where it could not be made, or there is no work left to try."""
        if additions not in self._wheels:
            if not self._budget.take(self._work.wheel):
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
            if changed is None or not self._budget.take(self._work_on(changed).fit):
                return None
            self._placements[additions] = self._place_on(changed)
        return self._placements[additions]

    def silent(self, additions: Additions) -> int:
        """Notes that do not sound with some additions; more than any song has where that is not known."""
        return silent_count_if_known(self.place_with(additions))

    def on_few_channels(self, additions: Additions) -> Wheel:
        """The wheel with additions, which was tried, its new holes on those channels alone that have pins in them."""
        changed, placements = self.wheel_with(additions), self.place_with(additions)
        assert changed is not None  # noqa: S101  # it was tried
        assert placements is not None  # noqa: S101
        fewer = with_fewer_rows(self.wheel, changed, placements)
        if fewer == changed or not self._budget.take(self._work.wheel + self._work_on(fewer).fit):
            return changed
        if not self._sound(fewer):
            return changed
        return fewer if silent_count(self._place_on(fewer)) <= silent_count(placements) else changed

    def _work_on(self, wheel: Wheel) -> WorkOf:
        """The work on another wheel, which is more where further channels share a pitch."""
        return WorkOf(self.turns, wheel, self._options, self.placements[0].us_per_quarter)

    def _place_on(self, wheel: Wheel) -> Placements:
        return [place_song(turn, wheel, self._options) for turn in self.turns]


def _rounds(trials: _Trials) -> Iterator[Additions]:
    """The changes of the first round, of the first two, and so on."""
    additions: Additions = frozenset()
    for _ in range(MAX_ROUNDS):
        choices = _choices(trials, additions)
        new = frozenset(smallest_cover(choices)) - additions if choices else frozenset[Addition]()
        if new and trials.wheel_with(additions | new) is None:  # leave out what cannot be made by itself
            able = [tuple(filter(trials.can_add, choice)) for choice in choices]
            choices = [choice for choice in able if choice]
            new = frozenset(smallest_cover(choices)) - additions if choices else frozenset()
        if not new or trials.wheel_with(additions | new) is None:
            return
        additions |= new
        yield additions


def _choices(trials: _Trials, additions: Additions) -> list[tuple[Addition, ...]]:
    """The distinct lists of additions of which one would let a silent note sound, with some added already."""
    changed, placements = trials.wheel_with(additions), trials.place_with(additions)
    if changed is None or placements is None:
        return []
    retuned = partial(_with_retuned, idle=_idle_channels(trials, additions))
    choices: dict[tuple[Addition, ...], None] = {}
    for score, placement in zip(trials.turns, placements, strict=True):
        lacked = lacked_by_note(score, placement, trials.wheel, trials.can_add)
        for note, lacks in lacked.items():
            choices[retuned(lacks)] = None
            if placement.outcome[note] in HELPED_BY_HAMMERS:
                choices[(_hammer(int(placement.channel[note]), trials.wheel, changed, additions),)] = None
    return [choice for choice in choices if choice]


def _idle_channels(trials: _Trials, additions: Additions) -> list[Channel]:
    """Channels that the song has no use for on the wheel as it is, as far as they have not been retuned already."""
    used = {number for placement in trials.placements for number in placement.channel.tolist()}
    retuned = {addition.channel for addition in additions if addition.kind is AdditionKind.RETUNED}
    channels = enumerate(trials.wheel.channels)
    return [channel for number, channel in channels if number not in used and channel.name not in retuned]


def _with_retuned(lacks: tuple[Addition, ...], idle: Sequence[Channel]) -> tuple[Addition, ...]:
    """What a note lacks, before a channel for its pitch the nearest idle one retuned."""
    if not lacks or lacks[0].kind is not AdditionKind.PITCH:
        return lacks
    pitch = lacks[0].key
    pitched = [(channel.pitches[0], channel.name) for channel in idle if channel.pitches]
    away = [(abs(own - pitch), own, name) for own, name in pitched]
    near = [item for item in away if item[0] <= FARTHEST_SEMITONES]
    return (Addition(AdditionKind.RETUNED, pitch, channel=min(near)[2]), *lacks) if near else lacks


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
