"""What a maker may choose when a song is fitted to a wheel."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from pegwright.errors import UsageError
from pegwright.units import MICROSECONDS_PER_MINUTE

DEFAULT_PRIORITY = 1
HIGHEST_PRIORITY = 99
LARGEST_START_DENOMINATOR = 960  # keeps every tick count far inside 64 bits


class ChannelRule(StrEnum):
    """Which of several channels that share a pitch sounds a note, where either would do as well."""

    PREFER = "prefer"  # the first in wheel order
    ALTERNATE = "alternate"  # the one whose last strike is longest past
    SPREAD = "spread"  # the one struck least so far


@dataclass(frozen=True, slots=True)
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
        UsageError: a value is out of its bounds, or a name or key comes twice.
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
        _within("transposition", self.transpose_semitones, -127, 127, "semitones")
        if self.start_steps.denominator > LARGEST_START_DENOMINATOR:
            raise UsageError(
                f"start of {self.start_steps} steps is finer than 1/{LARGEST_START_DENOMINATOR} of a step",
                where="start",
                hint="give whole steps or a plain fraction such as 1/2",
            )
        if self.us_per_quarter is not None:
            _within("tempo", self.us_per_quarter, 1, MICROSECONDS_PER_MINUTE, "microseconds a quarter note")
        if self.reach_quarters is not None and self.reach_quarters < 0:
            raise UsageError(
                f"reach of {self.reach_quarters} quarter notes is below 0", hint="0 allows exact holes only"
            )
        for name, priority in self.part_priorities:
            _within(f"priority of part {name!r}", priority, DEFAULT_PRIORITY, HIGHEST_PRIORITY)
        for key, instead in self.drum_keys:
            _within("percussion key", key, 0, 127)
            _within(f"percussion key in place of {key}", instead, 0, 127)
        _once("part", [name for name, _ in self.part_priorities])
        _once("part", [name for name, _ in self.part_channels])
        _once("percussion key", [key for key, _ in self.drum_keys])


def _within(what: str, value: int, least: int, most: int, unit: str = "") -> None:
    if not least <= value <= most:
        seen = f"{value} {unit}".strip()
        raise UsageError(f"{what} is {seen}, outside {least} to {most}", hint=f"choose from {least} to {most}")


def _once(what: str, values: list[str] | list[int]) -> None:
    for place, value in enumerate(values):
        if value in values[:place]:
            raise UsageError(f"{what} {value!r} is given twice", hint="keep one of the two")
