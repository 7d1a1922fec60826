"""The options for fitting a song to a wheel."""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction

from pegwright.ask.kinds import DRUM_KEY, MOVE, PRIORITY, Whole
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.units import MICROSECONDS_PER_MINUTE

DEFAULT_PRIORITY = PRIORITY.minimum
_TEMPO = Whole(1, MICROSECONDS_PER_MINUTE, "microseconds a quarter note")
LARGEST_START_DENOMINATOR = 960  # keeps every tick count far inside 64 bits
MAX_REACH_QUARTERS = Fraction(1)  # that can be chosen: by an option or in a wheel file


class ChannelRule(StrEnum):
    """Which of several channels that share a pitch sounds a note, where several are equally good.

    >>> FitOptions(channel_rule=ChannelRule.ALTERNATE).channel_rule.value
    'alternate'
    """

    PREFER = "prefer"  # the first in wheel order
    ALTERNATE = "alternate"  # the one whose last strike is longest ago


@frozen()
class SearchRange:
    """The transpositions and starts that a search tries.

    Args:
        semitones: maximum transposition up and down; 0 keeps that of the options.
        every_steps: starts are tried on the first step and at this distance after it; 0 keeps that of the options.

    >>> an_octave_either_way_on_every_fourth_step = SearchRange(semitones=12, every_steps=4)
    """

    semitones: int = 0
    every_steps: int = 0


@frozen()
class FitOptions:
    """How to fit one song.

    Args:
        transpose_semitones: added to every pitch that is not percussion, -127..127.
        fold_octaves: move a pitch that no channel sounds by whole octaves to one that some channel does.
        start_steps: where on the turn tick 0 of the score falls; whole turns make no difference.
        us_per_quarter: the tempo the wheel turns at; None takes the score's prevailing tempo.
        reach_quarters: how far a note may be moved to find a hole; None takes the wheel's.
        part_priorities: part names with 1..99; parts not named have 1, and higher ones win a hole.
        drum_keys: percussion keys with the keys to use instead.
        part_channels: part names with a pattern of the channel names that may sound them, such as `string*`;
            parts not named may be sounded by every channel.
        channel_rule: for channels that share a pitch.

    Raises:
        UsageError: a value is out of its bounds, or a name or key is a duplicate.

    >>> from fractions import Fraction
    >>> options = FitOptions(transpose_semitones=-2, start_steps=Fraction(16), part_priorities=(("Melody", 3),))
    >>> FitOptions(transpose_semitones=200)
    Traceback (most recent call last):
    pegwright.errors.UsageError: transposition is 200 semitones, outside -127 to 127 (choose from -127 to 127)
    """

    transpose_semitones: int = 0
    fold_octaves: bool = False
    start_steps: Fraction = Fraction(0)
    us_per_quarter: int | None = None
    reach_quarters: Fraction | None = None
    part_priorities: tuple[tuple[str, int], ...] = ()
    drum_keys: tuple[tuple[int, int], ...] = ()
    part_channels: tuple[tuple[str, str], ...] = ()
    channel_rule: ChannelRule = ChannelRule.PREFER

    def __post_init__(self) -> None:
        _within("transposition", self.transpose_semitones, MOVE, "semitones")
        if self.start_steps.denominator > LARGEST_START_DENOMINATOR:
            message = f"start of {self.start_steps} steps is finer than 1/{LARGEST_START_DENOMINATOR} of a step"
            raise UsageError(message, where="start", hint="give whole steps or a plain fraction such as 1/2")
        if self.us_per_quarter is not None:
            _within("tempo", self.us_per_quarter, _TEMPO, _TEMPO.what)
        if self.reach_quarters is not None and self.reach_quarters < 0:
            message = f"reach of {self.reach_quarters} quarter notes is below 0"
            raise UsageError(message, hint="0 allows exact holes only")
        for name, priority in self.part_priorities:
            _within(f"priority of part {name!r}", priority, PRIORITY)
        for key, instead in self.drum_keys:
            _within("percussion key", key, DRUM_KEY)
            _within(f"percussion key in place of {key}", instead, DRUM_KEY)
        check_unique("part", [name for name, _ in self.part_priorities])
        check_unique("part", [name for name, _ in self.part_channels])
        check_unique("percussion key", [key for key, _ in self.drum_keys])


def _within(what: str, value: int, bounds: Whole, unit: str = "") -> None:
    if not bounds.minimum <= value <= bounds.maximum:
        shown, span = f"{value} {unit}".strip(), f"{bounds.minimum} to {bounds.maximum}"
        raise UsageError(f"{what} is {shown}, outside {span}", hint=f"choose from {span}")


def check_unique(what: str, values: list[str] | list[int], verb: str = "given") -> None:
    """Refuse duplicates.

    Args:
        what: the values are, for the message.
        values: to check.
        verb: what is done with one, as a participle.

    Raises:
        UsageError: there is one.
    """
    for place, value in enumerate(values):
        if value in values[:place]:
            raise UsageError(f"{what} {value!r} is {verb} twice", hint="keep one of the two")
