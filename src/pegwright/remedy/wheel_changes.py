"""The fewest changes to a wheel with which a song fits.

The smallest set of additions that serves every note that lacks one is a set cover problem; then the song is fitted to
the changed wheel, and the notes that still do not sound are treated in the same way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial

from pegwright.ask.options import FitOptions
from pegwright.frozen import frozen
from pegwright.remedy.additions import Addition, AdditionKind, any_wheel
from pegwright.remedy.budget import FULL_WORK, Budget
from pegwright.remedy.changed_wheel import change_words
from pegwright.remedy.cover import smallest_cover
from pegwright.remedy.lacking import Additions, Placements, silent_count, without_idle
from pegwright.remedy.piece_lacks import lacked_by_piece
from pegwright.remedy.trials import Trials
from pegwright.score import Score
from pegwright.search.fits import SongFits
from pegwright.wheel import Channel, Wheel

MAX_ROUNDS = 4
FARTHEST_SEMITONES = 12  # that a channel is retuned by


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
    trials = Trials(SongFits(turns, wheel, options), placements, sound, budget or Budget(FULL_WORK))
    none: Additions = frozenset()
    lacks = frozenset(lacked_by_piece(trials).additions)
    best = min([none, *_rounds(trials), lacks], key=lambda additions: (trials.silent(additions), len(additions)))
    changes = without_idle(best, trials.silent)
    if not changes:
        return None
    ordered = tuple(sorted(changes, key=Addition.order))
    return WheelRemedy(wheel, trials.on_few_channels(changes), ordered, trials.silent(changes), silent_now)


def _rounds(trials: Trials) -> Iterator[Additions]:
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


def _choices(trials: Trials, additions: Additions) -> list[tuple[Addition, ...]]:
    """The distinct lists of additions of which one would let a silent note sound, with some added already."""
    retuned = partial(_with_retuned, idle=_idle_channels(trials, additions))
    lacked = [lacks for turn in trials.lacked(additions) or () for lacks in turn.values()]
    return [choice for choice in dict.fromkeys(map(retuned, lacked)) if choice]


def _idle_channels(trials: Trials, additions: Additions) -> list[Channel]:
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
