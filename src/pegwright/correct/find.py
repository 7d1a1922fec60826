"""The pins of a map at a moment: those that sound there, and those just before and after."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import groupby

from pegwright.correct.values import HandPin, Hole, WorkingMap
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.strikes import sounding_seconds, turn_seconds
from pegwright.units import printed
from pegwright.wheel import Wheel

NEAR_S = 0.05  # pins that sound no farther from a time sound at it
_PLACE = re.compile(r".*:(?:bar )?(?P<bar>[^:]+?) (?:near )?beat (?P<beat>[0-9]+(?:\.[0-9]+)?(?: [0-9]+/[0-9]+)?)")
_NEAR_BEAT = Fraction(1, 100)  # to which beats are rounded that are printed as decimals
_SHOWN = 40  # characters of a label that a message repeats
BEFORE, HERE, AFTER = "before", "here", "after"


@frozen()
class TimedPin:
    """A pin with its moment.

    Args:
        letter: of its set of plates.
        pin: the pin.
        place_units: from the start of the song on the turn to the place for whose notes its hole is, in parts of a
            step, see `TurnPlaces`.
        sound_s: when it sounds, in seconds from the start of the turn; when it trips if it only holds a note on;
            NaN where the tempo is not known.
        when: `here`, or just `before` or `after` that.
    """

    letter: str
    pin: HandPin
    place_units: int
    sound_s: float
    when: str = HERE


@frozen()
class Wanted:
    """What is looked for; None for what does not matter.

    Args:
        bar: its label in the score.
        beat: of that bar.
        at_s: seconds of the turn.
        channel: index into `Wheel.channels`.
        plate: plate, 0-based.
        step: of that plate, counted from 1.
    """

    bar: str | None = None
    beat: Fraction | None = None
    at_s: float | None = None
    channel: int | None = None
    plate: int | None = None
    step: Fraction | None = None


def check_bounds(maps: Sequence[WorkingMap], wheel: Wheel, wanted: Wanted) -> None:
    """Check that a bar is one of the song, and that a time is one of the turn.

    Args:
        maps: of a song.
        wheel: of the maps.
        wanted: what is looked for.

    Raises:
        UsageError: there is no such bar, or the turn is over by then.
    """
    if wanted.at_s is not None:
        sounds_s = (each.sound_s for working in maps for each in timed_pins(working, wheel))
        last_s = max([*sounds_s, *(turn_seconds(wheel, working.us_per_quarter) for working in maps)])
        if wanted.at_s > last_s + NEAR_S:
            raise UsageError(f"{wanted.at_s:g} is outside 0 to {last_s:.3f}, the seconds of a turn", where="--at")
    bars = {bar for working in maps for bar in _bars(working)}
    if wanted.bar is None or not bars or wanted.bar in bars | {bar.split(" ")[0] for bar in bars}:
        return
    numbers = [_order(bar, Fraction(0))[0] for bar in bars if bar[:1].isdecimal()]
    first, last = min(numbers, default=0), max(numbers, default=0)
    if not wanted.bar[:1].isdecimal() or not first <= _order(wanted.bar, Fraction(0))[0] <= last:
        message = f"there is no bar {wanted.bar[:_SHOWN]!r} among bars {first} to {last}"
        raise UsageError(message, where="--bar", hint="give it as the score numbers it")


def _bars(working: WorkingMap) -> Iterator[str]:
    """The labels of the bars of a map: those that are listed, and those in which the notes of its pins are written."""
    listed_bars = working.document.get("bars")
    for bar in listed_bars if isinstance(listed_bars, list) else ():
        if isinstance(bar, Mapping):
            yield str(bar["label"])
    yield from (written[0] for pin in working.pins if (written := bar_and_beat(pin)))


def find_in_maps(maps: Sequence[WorkingMap], wheel: Wheel, wanted: Wanted) -> list[TimedPin]:
    """The pins that are looked for in some maps; where some have a bar, those without it are left out.

    Args:
        maps: of a song.
        wheel: of the maps.
        wanted: what is looked for.
    """
    by_map = [find_pins(working, wheel, wanted) for working in maps]
    if wanted.bar is not None and any(each.when == HERE for pins in by_map for each in pins):
        by_map = [pins for pins in by_map if any(each.when == HERE for each in pins)]
    return [each for pins in by_map for each in pins]


def find_pins(working: WorkingMap, wheel: Wheel, wanted: Wanted) -> list[TimedPin]:
    """The pins that are looked for, by time, with those just before and after.

    Args:
        working: the map.
        wheel: of the map.
        wanted: what is looked for.

    Returns:
        no pin `here` where none sounds there.
    """
    pins = timed_pins(working, wheel)
    if wanted.channel is not None:
        pins = [each for each in pins if each.pin.hole.channel == wanted.channel]
    if wanted == Wanted(channel=wanted.channel):
        return pins
    groups = [list(group) for _, group in groupby(pins, key=lambda each: each.place_units)]
    matches = _matching(groups, wheel, wanted)
    here = [number for number, group in enumerate(groups) if any(map(matches, group))]
    if not here:
        return _around(groups, _first_after(groups, working, wheel, wanted))
    shown: list[TimedPin] = []
    for first, last in _runs(here):
        between = [each for group in groups[first : last + 1] for each in group]
        shown += [*_marked(groups, first - 1, BEFORE), *between, *_marked(groups, last + 1, AFTER)]
    return shown


class TurnPlaces:
    """TurnPlaces on the turn, from the start of a song, in parts of a step that make all of them whole.

    Args:
        working: the map.
        wheel: of the map.
    """

    def __init__(self, working: WorkingMap, wheel: Wheel) -> None:
        start_steps = _start_steps(working, wheel)
        phases = [phase for row in wheel.rows for phase in row.phases]
        early = [channel.advance_steps for channel in wheel.channels]
        self.parts = math.lcm(start_steps.denominator, *(phase.denominator for phase in (*phases, *early)))
        self.early_units = [int(steps * self.parts) for steps in early]
        self.turn_units, self._plate_units = wheel.turn_steps * self.parts, wheel.steps_per_plate * self.parts
        self._start_units = int(start_steps * self.parts)
        self._rows = [
            [int(steps * self.parts) for steps in row.positions_steps(wheel.steps_per_plate)] for row in wheel.rows
        ]

    def of(self, hole: Hole) -> int:
        """The place of the notes that a hole is for: its own, or later where pins of its channel are set early."""
        along = hole.plate * self._plate_units + self._rows[hole.row][hole.number]
        return (along + self.early_units[hole.channel] - self._start_units) % self.turn_units

    def of_step(self, plate: int, step: Fraction) -> int:
        """The place of a step of a plate (0-based), counted from 1; between two places, the later one."""
        along = plate * self._plate_units + math.ceil((step - 1) * self.parts)
        return (along - self._start_units) % self.turn_units


def timed_pins(working: WorkingMap, wheel: Wheel) -> list[TimedPin]:
    """Every pin with its moment, by place from the start of the song, then channel."""
    places = TurnPlaces(working, wheel)
    step_s = float(wheel.step_quarters * working.us_per_quarter / 1_000_000)
    late_s = [kind.offset_mm / wheel.step_mm * step_s if kind.offset_mm else 0.0 for kind in wheel.pin_types]
    sounds_s = sounding_seconds(wheel, turn_seconds(wheel, working.us_per_quarter)).tolist()
    pins = []
    for pin in working.pins:
        units = places.of(pin.hole)
        trip_units = units - places.early_units[pin.hole.channel]
        sound_s = trip_units / places.parts * step_s + late_s[pin.pin_type]
        sound_s += sounds_s[pin.hole.channel] if pin.begins else 0.0
        sound_s = sound_s if working.us_per_quarter else math.nan
        pins.append(TimedPin(working.letter, pin, units, sound_s))
    return sorted(pins, key=lambda each: (each.place_units, each.pin.hole))


def _start_steps(working: WorkingMap, wheel: Wheel) -> Fraction:
    fit = working.document.get("fit")
    if not isinstance(fit, Mapping):
        return Fraction(0)
    step = sum((Fraction(part) for part in str(fit["start_step"]).split()), Fraction(0))
    plate = fit["start_plate"]
    return (int(plate) - 1 if isinstance(plate, int) else 0) * wheel.steps_per_plate + step - 1


def bar_and_beat(pin: HandPin) -> tuple[str, Fraction] | None:
    """The label of the bar and the beat at which the note of a pin is written; None where that is not known."""
    match = _PLACE.fullmatch(str(pin.cells[1] or ""))
    if not match:
        return None
    return match["bar"], sum((Fraction(part) for part in match["beat"].split()), Fraction(0))


def _matching(groups: Sequence[Sequence[TimedPin]], wheel: Wheel, wanted: Wanted) -> Callable[[TimedPin], bool]:
    if wanted.at_s is not None:
        at_s = wanted.at_s
        nearest = min((abs(each.sound_s - at_s) for group in groups for each in group), default=0.0)
        return lambda each: abs(each.sound_s - at_s) <= NEAR_S and nearest <= NEAR_S
    if wanted.bar is not None:
        return lambda each: _is_written(each.pin, wanted)
    return lambda each: _is_at(each.pin, wheel, wanted)


def _is_written(pin: HandPin, wanted: Wanted) -> bool:
    """Whether a note is written in a bar, and at a beat of it if one is given."""
    if (wanted.bar or "") not in str(pin.cells[1]):
        return False  # the place is not taken apart for every pin
    written = bar_and_beat(pin)
    if written is None or wanted.bar not in {written[0], written[0].split(" ")[0]}:
        return False
    return wanted.beat is None or abs(written[1] - wanted.beat) < _NEAR_BEAT


def _is_at(pin: HandPin, wheel: Wheel, wanted: Wanted) -> bool:
    if pin.hole.plate != wanted.plate:
        return False
    step = printed(wheel.rows[pin.hole.row].position_steps(pin.hole.number))
    return wanted.step is None or wanted.step <= step < wanted.step + _span(wanted.step)


def _span(step: Fraction) -> Fraction:
    """How far a step reaches: a whole one to the next, another only to itself."""
    return Fraction(1) if step.denominator == 1 else Fraction(1, 10**6)


def _first_after(groups: Sequence[Sequence[TimedPin]], working: WorkingMap, wheel: Wheel, wanted: Wanted) -> int:
    """The number of the first group after a moment at which none is."""
    if wanted.plate is not None:
        place = TurnPlaces(working, wheel).of_step(wanted.plate, wanted.step or Fraction(1))
        return sum(group[0].place_units < place for group in groups)
    if wanted.at_s is not None:
        return sum(group[0].sound_s < wanted.at_s for group in groups)
    sought = _order(wanted.bar or "", wanted.beat or Fraction(0))
    written = [[_order(*at) for each in group if (at := bar_and_beat(each.pin))] for group in groups]
    return max((number + 1 for number, places in enumerate(written) if places and min(places) < sought), default=0)


def _order(bar: str, beat: Fraction) -> tuple[int, Fraction]:
    digits = re.match("[0-9]{1,9}", bar)
    return int(digits[0]) if digits else 0, beat


def _around(groups: Sequence[Sequence[TimedPin]], first_after: int) -> list[TimedPin]:
    return [*_marked(groups, first_after - 1, BEFORE), *_marked(groups, first_after, AFTER)]


def _marked(groups: Sequence[Sequence[TimedPin]], number: int, when: str) -> list[TimedPin]:
    if not 0 <= number < len(groups):
        return []
    return [TimedPin(each.letter, each.pin, each.place_units, each.sound_s, when) for each in groups[number]]


def _runs(numbers: Sequence[int]) -> list[tuple[int, int]]:
    """First and last of each run of numbers that follow one another."""
    runs: list[tuple[int, int]] = []
    for number in numbers:
        if runs and runs[-1][1] == number - 1:
            runs[-1] = (runs[-1][0], number)
        else:
            runs.append((number, number))
    return runs
