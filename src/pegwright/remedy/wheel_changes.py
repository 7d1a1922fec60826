"""The fewest changes to a wheel with which a song fits.

The smallest set of additions that serves every note that lacks one is a set cover problem; then the song is fitted to
the changed wheel, and the notes that still do not sound are treated in the same way.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import chain, compress

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.fit.placing import place_song
from pegwright.placement import Outcome
from pegwright.remedy.additions import Addition, AdditionKind, addition_words, with_additions
from pegwright.remedy.lacking import Additions, Placements, lacked_by_note, lacked_by_piece, silent_count, without_idle
from pegwright.score import Score
from pegwright.wheel import Channel, Wheel

MAX_ROUNDS = 4
FARTHEST_SEMITONES = 12  # that a channel is retuned by
HELPED_BY_HAMMERS = frozenset({Outcome.HOLE_USED, Outcome.RESTRIKE, Outcome.PINS_TOUCH})


@dataclass(frozen=True, slots=True)
class WheelRemedy:
    """Changes to a wheel and what they do.

    Args:
        wheel: as it is.
        changes: sorted; without any one of them more notes are silent.
        silent: notes of the song that no pin sounds on the changed wheel.
        silent_now: the same on the wheel as it is.
    """

    wheel: Wheel
    changes: tuple[Addition, ...]
    silent: int
    silent_now: int

    @property
    def words(self) -> tuple[str, ...]:
        """Each change for a maker."""
        return tuple(addition_words(addition, self.wheel) for addition in self.changes)


def fewest_changes(
    turns: Sequence[Score], wheel: Wheel, options: FitOptions, placements: Placements
) -> WheelRemedy | None:
    """The fewest changes to the wheel with which a song fits, or as much of it as can.

    Args:
        turns: of the song in playing order.
        wheel: the wheel.
        options: as every turn was fitted.
        placements: of each turn.

    Returns:
        None where no change helps, or none is needed.
    """
    trials = _Trials(turns, wheel, options, placements)
    none: Additions = frozenset()
    silent_now = trials.silent(none)
    if not silent_now:
        return None
    lacks = frozenset(lacked_by_piece(turns, placements, wheel, trials.place_on)[0])
    best = min([none, *_rounds(trials), lacks], key=lambda additions: (trials.silent(additions), len(additions)))
    changes = without_idle(best, trials.silent)
    if not changes:
        return None
    return WheelRemedy(wheel, tuple(sorted(changes, key=Addition.order)), trials.silent(changes), silent_now)


class _Trials:
    """A song fitted to its wheel with additions, every wheel at most once."""

    def __init__(self, turns: Sequence[Score], wheel: Wheel, options: FitOptions, placements: Placements) -> None:
        self.turns, self.wheel, self.placements = turns, wheel, placements
        self._options = options
        self._by_wheel: dict[Wheel, Placements] = {with_additions(wheel, ()): placements}

    def place_on(self, wheel: Wheel) -> Placements:
        """The placements on a wheel."""
        if wheel not in self._by_wheel:
            self._by_wheel[wheel] = [place_song(turn, wheel, self._options) for turn in self.turns]
        return self._by_wheel[wheel]

    def silent(self, additions: Additions) -> int:
        """Notes that do not sound with some additions."""
        return silent_count(self.place_on(with_additions(self.wheel, additions)))


def _rounds(trials: _Trials) -> Iterator[Additions]:
    """The changes of the first round, of the first two, and so on."""
    additions: Additions = frozenset()
    for _ in range(MAX_ROUNDS):
        choices = _choices(trials, additions)
        new = frozenset(_smallest_cover(choices)) - additions if choices else None
        if not new:
            return
        additions |= new
        yield additions


def _choices(trials: _Trials, additions: Additions) -> list[tuple[Addition, ...]]:
    """The distinct lists of additions of which one would let a silent note sound, with some added already."""
    changed = with_additions(trials.wheel, additions)
    retuned = partial(_with_retuned, idle=_idle_channels(trials, additions))
    choices: dict[tuple[Addition, ...], None] = {}
    for score, placement in zip(trials.turns, trials.place_on(changed), strict=True):
        for note, lacks in lacked_by_note(score, placement, trials.wheel).items():
            choices[retuned(lacks)] = None
            if placement.outcome[note] in HELPED_BY_HAMMERS:
                choices[(_hammer(changed.channels[placement.channel[note]].name, additions),)] = None
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


def _hammer(channel: str, additions: Additions) -> Addition:
    """The next hammer of a channel, or of the channel that it is a hammer of itself."""
    hammers = [addition for addition in additions if addition.kind is AdditionKind.HAMMER]
    own = next((addition.channel for addition in hammers if f"{addition.channel}, {addition.key}" == channel), channel)
    return Addition(AdditionKind.HAMMER, 2 + sum(addition.channel == own for addition in hammers), channel=own)


def _smallest_cover(choices: Sequence[tuple[Addition, ...]]) -> tuple[Addition, ...]:
    """The fewest additions with one of every list, no channel retuned twice; retuned and earlier ones on ties."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415  # slow to import, and seldom needed

    known = dict.fromkeys(chain.from_iterable(choices))
    additions = sorted(known, key=lambda addition: addition.kind != AdditionKind.RETUNED)
    serves = [[addition in choice for addition in additions] for choice in choices]
    limits = [LinearConstraint(np.array(serves, float), lb=1)]
    retuned = [addition.channel if addition.kind is AdditionKind.RETUNED else "" for addition in additions]
    once = [[own == name for own in retuned] for name in sorted({*retuned} - {""})]
    if once:
        limits.append(LinearConstraint(np.array(once, float), ub=1))
    cost = 1 + np.arange(len(additions)) / len(additions) ** 2  # the second part stays below one addition in total
    integral = np.ones(len(additions), dtype=np.int64)
    solved = milp(cost, constraints=limits, integrality=integral, bounds=Bounds(0, 1))
    assert solved.x is not None, solved.message  # noqa: S101  # taking everything but retuned channels is possible
    return tuple(compress(additions, solved.x > 0.5))
