"""The turn of the wheel that a song is fitted to, in whole ticks common to score and wheel."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.frozen import frozen
from pegwright.grid import LENGTH_SLACK_MM, hole_grid, overhangs
from pegwright.score import Score, TempoMap
from pegwright.units import common_resolution, length_text, ms_to_ticks_up, plural, quarters_per_minute, ticks_to_ms
from pegwright.wheel import Collar, Wheel

TEMPO_CODE = "one-tempo"
OFFSET_STEP_MM = 0.01  # a tick is no longer on the rim where pins have offsets, so that rounding them has no effect


@frozen(eq=False)
class Turn:
    """One turn and what holds in it; every tick is at `resolution`.

    Args:
        resolution: ticks per quarter, common to score, wheel and start.
        turn_ticks: once round.
        start_ticks: where on the turn tick 0 of the score falls, 0 to below the turn.
        reach_ticks: how far a note may be moved; what counts as exact is always within it.
        tolerance_ticks: a distance that counts as exact.
        us_per_quarter: the one tempo.
        onset_ticks: shape (n,), the score's onsets.
        gap_ticks: shape (channels,), the minimum distance from note to note of a channel: its re-strike, and
            before that as long as the shortest note of a holding channel lasts.
        held_ticks: shape (channels,), the latter part of it alone, 0 for channels that strike.
        touch_ticks: shape (rows, rows), the minimum distance between the collars of two pins of one channel in two
            rows at which they do not touch.
        pin_types: the pin types there are to choose from: the plain one, then the first of each other offset and
            place of the collar.
        offset_ticks: of each of those, how much later than its hole's middle it trips, to the nearest tick.
        offset_rest_ticks: of each of those, what is to be added for the exact place.
        collar_ticks: of each of those, how much later than its collar's middle it trips.
        overhanging: by number in that list, row and number in row, the pins that would reach over their plate's edge.
    """

    resolution: int
    turn_ticks: int
    start_ticks: int
    reach_ticks: int
    tolerance_ticks: int
    us_per_quarter: int
    onset_ticks: Ints
    gap_ticks: Ints
    held_ticks: Ints
    touch_ticks: Ints
    pin_types: Ints
    offset_ticks: Ints
    offset_rest_ticks: Floats
    collar_ticks: Ints
    overhanging: tuple[tuple[int, int, int], ...]

    @property
    def offset_spread_ticks(self) -> int:
        """From the place where the earliest pin of a hole trips to that of the latest."""
        return int(self.offset_ticks.max() - self.offset_ticks.min())

    def ms(self, ticks: float) -> float:
        """A number of ticks in ms at the wheel's tempo."""
        return ticks_to_ms(ticks, self.resolution, self.us_per_quarter)


def turn_of(score: Score, wheel: Wheel, options: FitOptions) -> tuple[Turn, tuple[Finding, ...]]:
    """Bring a score, a wheel and the options to common ticks.

    Args:
        score: the song.
        wheel: the wheel.
        options: start, tempo and reach are read here.

    Returns:
        The turn, and a finding where the score has other tempi than the wheel's.

    Raises:
        UsageError: a turn is too short for the reach, or for the re-strike of a channel.
    """
    tempo, findings = tempo_of(score, options)
    reach_quarters = wheel.reach_quarters if options.reach_quarters is None else options.reach_quarters
    silent = _started_turn(
        wheel, options.start_steps, reach_quarters, score.resolution, score.tolerance_ticks, us_per_quarter=tempo
    )
    onset_ticks = frozen_ints(score.onset_ticks * (silent.resolution // score.resolution))
    return replace(silent, onset_ticks=onset_ticks), findings


@lru_cache(maxsize=4)  # all turns of a song have the same, and are fitted one after another
def _started_turn(
    wheel: Wheel,
    start_steps: Fraction,
    reach_quarters: Fraction,
    score_resolution: int,
    score_tolerance_ticks: int,
    us_per_quarter: int,
) -> Turn:
    """A turn without a note, from a start, checked."""
    start_quarters = start_steps * wheel.step_quarters
    resolution = common_resolution(score_resolution, hole_grid(wheel).resolution, start_quarters.denominator)
    resolution *= _finer_for_offsets(wheel, resolution)
    turn_ticks = int(wheel.turn_quarters * resolution)
    tolerance = score_tolerance_ticks * (resolution // score_resolution)
    reach = max(math.floor(reach_quarters * resolution), tolerance)
    _check_reach(wheel, Fraction(reach, resolution))
    silent = _silent_turn(wheel, resolution, us_per_quarter)
    _check_restrike(wheel, silent.gap_ticks.tolist(), turn_ticks, silent.ms(turn_ticks))
    start_ticks = int(start_quarters * resolution) % turn_ticks
    return replace(silent, start_ticks=start_ticks, reach_ticks=reach, tolerance_ticks=tolerance)


@lru_cache(maxsize=4)  # all starts and transpositions of a song have the same
def _silent_turn(wheel: Wheel, resolution: int, us_per_quarter: int) -> Turn:
    """What the wheel, the resolution and the tempo decide, as a turn without a note that starts at its beginning."""
    turn_ticks = int(wheel.turn_quarters * resolution)
    ticks_per_mm = turn_ticks / wheel.geometry.circumference_mm
    held = [math.ceil((channel.hold_mm - LENGTH_SLACK_MM) * ticks_per_mm) for channel in wheel.channels]
    gaps = [
        max(1, ms_to_ticks_up(channel.restrike_ms, resolution, us_per_quarter) + ticks)
        for channel, ticks in zip(wheel.channels, held, strict=True)
    ]
    pin_types = pin_types_of(wheel)
    offsets = [wheel.pin_types[number].offset_mm * ticks_per_mm for number in pin_types]
    return Turn(
        resolution=resolution,
        turn_ticks=turn_ticks,
        start_ticks=0,
        reach_ticks=0,
        tolerance_ticks=0,
        us_per_quarter=us_per_quarter,
        onset_ticks=frozen_ints([]),
        gap_ticks=frozen_ints(gaps),
        held_ticks=frozen_ints(held),
        touch_ticks=touch_ticks(wheel, turn_ticks),
        pin_types=frozen_ints(pin_types),
        offset_ticks=frozen_ints([round(ticks) for ticks in offsets]),
        offset_rest_ticks=frozen_floats([ticks - round(ticks) for ticks in offsets]),
        collar_ticks=_collar_ticks(wheel, offsets),
        overhanging=overhanging_pins(wheel),
    )


def prevailing_tempo(tempo_map: TempoMap, length_ticks: int) -> int:
    """The tempo in force for most of the song's time, in microseconds per quarter; the earlier on a tie.

    Time, not quarters: a slow introduction of few bars may be what is heard longest.
    """
    ends = np.append(tempo_map.ticks[1:], max(length_ticks, int(tempo_map.ticks[-1])))
    ticks = np.clip(ends, 0, length_ticks) - np.clip(tempo_map.ticks, 0, length_ticks)
    in_force: dict[int, int] = {}  # whole numbers, for a tie has to be exact
    for tempo, held in zip(tempo_map.us_per_quarter.tolist(), ticks.tolist(), strict=True):
        in_force[tempo] = in_force.get(tempo, 0) + tempo * held
    return max(in_force, key=in_force.__getitem__)


def touch_ticks(wheel: Wheel, turn_ticks: int) -> Ints:
    """The minimum distance in ticks between collars of one channel, for each pair of rows, shape (rows, rows).

    Two pins do not touch when their centres are a pin's diameter and the clearance apart in the plane of
    the flat rim. Rows farther apart across the rim than that never touch: 0; nor do any where lengths are not known.
    """
    if not wheel.geometry.pins_known:
        return frozen_ints([[0] * len(wheel.rows)] * len(wheel.rows))
    needed_mm = wheel.geometry.apart_mm - LENGTH_SLACK_MM
    mm_per_tick = wheel.geometry.circumference_mm / turn_ticks

    def least(lateral_mm: float) -> int:
        if lateral_mm >= needed_mm:
            return 0
        ticks = math.ceil(math.sqrt(needed_mm**2 - lateral_mm**2) / mm_per_tick)
        if math.hypot((ticks - 1) * mm_per_tick, lateral_mm) >= needed_mm:  # the root was rounded up
            return ticks - 1
        return ticks if math.hypot(ticks * mm_per_tick, lateral_mm) >= needed_mm else ticks + 1

    rows = wheel.rows
    return frozen_ints([[least(abs(one.lateral_mm - other.lateral_mm)) for other in rows] for one in rows])


def pin_types_of(wheel: Wheel) -> tuple[int, ...]:
    """The pin types to choose from, as indexes.

    The plain one comes first: the one that trips nearest to its hole's middle, the first of equals. Of types with
    equal offsets whose collars are in one place only the first is used. Bridges are not among them: they are used
    where a note is held.
    """
    types = wheel.pin_types
    short = [number for number, pin_type in enumerate(types) if not pin_type.bridge_mm]
    plain = min(short, key=lambda number: abs(types[number].offset_mm))
    first: dict[tuple[float, float], int] = {}
    for number in (plain, *short):
        first.setdefault((types[number].offset_mm, types[number].collar_mm), number)
    return tuple(first.values())


def _collar_ticks(wheel: Wheel, offsets_ticks: list[float]) -> Ints:
    """See `Turn.collar_ticks`."""
    stay = [wheel.pin_types[number].collar is Collar.STAYS for number in pin_types_of(wheel)]
    return frozen_ints([round(ticks) if stays else 0 for ticks, stays in zip(offsets_ticks, stay, strict=True)])


@lru_cache(maxsize=8)
def overhanging_pins(wheel: Wheel) -> tuple[tuple[int, int, int], ...]:
    """See `Turn.overhanging`."""
    return tuple(
        (number, row, index)
        for number, kind in enumerate(pin_types_of(wheel))
        for row, holes in enumerate(wheel.rows)
        for index in range(holes.hole_count(wheel.steps_per_plate))
        if overhangs(wheel, row, index, wheel.pin_types[kind])
    )


def _finer_for_offsets(wheel: Wheel, resolution: int) -> int:
    """How many times finer ticks must be to hold offsets of pins to `OFFSET_STEP_MM`."""
    if not any(pin_type.offset_mm for pin_type in wheel.pin_types):
        return 1
    tick_mm = wheel.geometry.circumference_mm / float(wheel.turn_quarters * resolution)
    return math.ceil(tick_mm / OFFSET_STEP_MM)


def tempo_of(score: Score, options: FitOptions) -> tuple[int, tuple[Finding, ...]]:
    """The one tempo of a song in microseconds per quarter, and a finding where the score has others."""
    tempo = options.us_per_quarter or prevailing_tempo(score.tempo_map, score.length_ticks)
    held = score.tempo_map.us_per_quarter[score.tempo_map.ticks < max(1, score.length_ticks)]
    slowest, fastest = int(held.max()), int(held.min())
    if slowest == fastest == tempo:
        return tempo, ()
    names = [f"{quarters_per_minute(value):.4g}" for value in (slowest, fastest, tempo)]
    written = f"is {names[0]}" if slowest == fastest else f"goes from {names[0]} to {names[1]}"
    message = f"the score's tempo {written} quarter notes a minute; the wheel turns at {names[2]} throughout"
    changes = len(held) - 1
    hint = f"{plural(changes, 'change of tempo', 'changes of tempo')} cannot be pinned" if changes else ""
    return tempo, (Finding(TEMPO_CODE, Severity.NOTE, score.file, message, hint),)


def _check_reach(wheel: Wheel, reach_quarters: Fraction) -> None:
    bound = wheel.turn_quarters / 2
    if reach_quarters >= bound:
        raise UsageError(
            f"reach of {reach_quarters} quarter notes is not below half a turn, {bound} quarter notes",
            hint="choose a reach of a fraction of a step",
        )


def _check_restrike(wheel: Wheel, gaps: list[int], turn_ticks: int, turn_ms: float) -> None:
    for channel, gap in zip(wheel.channels, gaps, strict=True):
        if gap > turn_ticks:
            raise UsageError(
                f"a whole turn lasts {turn_ms:.0f} ms at this tempo, less than the re-strike of "
                f"channel {channel.name!r}, {channel.restrike_ms:g} ms"
                + (
                    f" and the {length_text(channel.hold_mm, wheel.unit)} that a pin holds it"
                    if channel.hold_mm
                    else ""
                ),
                hint="choose a slower tempo",
            )
