"""Pins to time, held against the notes they stand for and against a wheel walked round by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import strategies
from pegwright.ask.options import FitOptions
from pegwright.fit.pins import pins_of
from pegwright.placement import PinMap
from pegwright.score import Score
from pegwright.strikes import DEFAULT_VELOCITY, plate_late_seconds, strike_times, turn_seconds
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import PinType, Wheel
from placed import pin_map, pin_maps, small_wheel
from samples import GEOMETRY, channel, score, wheel

MICROSECOND = 1e-6


@given(strategies.scores(), strategies.wheels(), strategies.options(), st.integers(1, 3))
def test_strikes_are_the_notes_and_their_stated_deviations_to_a_microsecond(
    song: Score, on: Wheel, options: FitOptions, turns: int
) -> None:
    leads = [2.5 * number for number in range(len(on.channels))]
    on = replace(on, channels=tuple(replace(it, lead_ms=ms) for it, ms in zip(on.channels, leads, strict=True)))
    placement, _ = fit_with_findings(song, on, options)
    pins = pins_of(song, on, placement)
    times = strike_times(pins, on, start_steps=options.start_steps, turn_count=turns, score=song)
    assert times.strike_count == placement.placed_count * turns
    turn_us = on.turn_quarters * placement.us_per_quarter
    for number in range(times.strike_count):
        note = int(times.note[number])
        quarters = Fraction(int(song.onset_ticks[note]), song.resolution)
        expected_us = quarters * placement.us_per_quarter + int(times.turn[number]) * turn_us
        within_s = MICROSECOND
        if placement.deviation_ms[note]:
            expected_us += Fraction(placement.deviation_ms[note]) * 1000
        else:  # none is stated for the rounding of a file, nor for a pin that trips within half a hundredth of a mm
            ticks = Fraction(int(placement.deviation_ticks[note]), placement.resolution)
            expected_us += ticks * placement.us_per_quarter
            if on.pin_types[int(placement.pin_type[note])].offset_mm:
                within_s += times.turn_s * 0.005 / on.geometry.circumference_mm
        assert abs(times.trip_s[number] - float(expected_us) / 1e6) < within_s
        assert times.sound_s[number] == pytest.approx(times.trip_s[number] + leads[times.channel[number]] / 1000)
        assert times.velocity[number] == song.velocity[note]
        assert times.channel[number] == placement.channel[note]
    assert np.all(np.diff(times.sound_s) >= 0)


@given(pin_maps(small_wheel()), st.sampled_from([Fraction(0), Fraction(5), Fraction(23, 2), Fraction(1, 3)]))
def test_without_the_score_every_pin_strikes_once_a_turn_at_its_own_place(pins: PinMap, start: Fraction) -> None:
    on = small_wheel()
    times = strike_times(pins, on, start_steps=start)
    assert sorted(times.pin.tolist()) == list(range(pins.pin_count))
    for pin, trip_s in zip(times.pin.tolist(), times.trip_s, strict=True):
        row = on.rows[int(pins.row[pin])]
        steps = int(pins.plate[pin]) * on.steps_per_plate + row.position_steps(int(pins.index[pin]))
        expected_s = (steps - start) % on.turn_steps * on.step_quarters * pins.us_per_quarter / 1_000_000
        assert trip_s == pytest.approx(float(expected_s), abs=MICROSECOND)
        assert 0 <= trip_s < times.turn_s
    assert np.all(times.velocity == DEFAULT_VELOCITY)


def test_a_note_moved_to_before_the_start_strikes_before_it_and_not_at_the_end_of_the_turn() -> None:
    on = wheel([channel("bar", [60], rows=["half"])], reach_quarters=Fraction(1, 8))
    song = score([(0, 60), (24, 60)])
    placement, _ = fit_with_findings(song, on, FitOptions(start_steps=Fraction(4)))
    pins = pins_of(song, on, placement)
    assert placement.deviation_ticks[0] < 0
    times = strike_times(pins, on, start_steps=Fraction(4), turn_count=2, score=song)
    half_step_s = 0.0625
    assert times.trip_s == pytest.approx(
        [-half_step_s, 0.5 - half_step_s, times.turn_s - half_step_s, times.turn_s + 0.5 - half_step_s]
    )
    unknown = strike_times(pins, on, start_steps=Fraction(4))
    assert unknown.trip_s == pytest.approx([0.5 - half_step_s, times.turn_s - half_step_s])


# A wheel of 1000 mm diameter with twelve plates that turns in 60 s: 19.0986 ms for a mm of rim. The figures follow from
# t = T / (pi D), worked out apart from this code.
MINUTE_WHEEL = wheel(
    [channel("bar", [60])],
    plate_count=12,
    steps_per_plate=80,
    geometry=replace(GEOMETRY, radius_mm=500.0),
    pin_types=(PinType("peg", 9), PinType("late", 9, 1.0), PinType("early", 9, -0.5)),
)
MINUTE_US = 250_000  # a quarter note, of which the turn has 240
MS_PER_MM = 19.0986


def first_pins(kinds: Sequence[int] = (0,)) -> PinMap:
    """A pin in the first hole of every plate of the wheel above, of the given types in turn."""
    made = pin_map(MINUTE_WHEEL, [(0, plate, 0, 0, kinds[plate % len(kinds)], -1) for plate in range(12)])
    return replace(made, us_per_quarter=MINUTE_US)


def test_the_offset_of_a_pin_type_counts() -> None:
    assert turn_seconds(MINUTE_WHEEL, MINUTE_US) == 60.0
    late_ms = (strike_times(first_pins([0, 1, 2]), MINUTE_WHEEL).trip_s - 5.0 * np.arange(12)) * 1000
    assert late_ms == pytest.approx([0.0, MS_PER_MM, -MS_PER_MM / 2] * 4, abs=1e-3)


@pytest.mark.parametrize(("error_mm", "late_ms"), [(0.1, 1.91), (0.3, 5.73), (0.5, 9.55), (1.0, 19.1)])
def test_a_seam_that_gapes_makes_all_that_follows_late(error_mm: float, late_ms: float) -> None:
    errors = [error_mm] + [0.0] * 10 + [-error_mm]  # the last seam takes back what the first adds
    times = strike_times(first_pins(), MINUTE_WHEEL, seam_errors_mm=errors)
    assert (times.trip_s - 5.0 * np.arange(12)) * 1000 == pytest.approx([0.0] + [late_ms] * 11, abs=0.005)


ERRORS = st.lists(st.floats(-2.0, 2.0), min_size=12, max_size=12)


@given(ERRORS)
def test_seams_close_round_the_turn_as_when_the_rim_is_walked_plate_by_plate(errors: list[float]) -> None:
    plate_mm = np.pi * 1000 / 12
    walked_mm, at = [], 0.0
    for error_mm in errors:
        walked_mm += [at, at + plate_mm * 3 / 80 + 1.0]  # its first hole, and its fourth with a pin that trips late
        at += plate_mm + error_mm
    pins = pin_map(MINUTE_WHEEL, [(0, plate, 0, hole, hole // 3, -1) for plate in range(12) for hole in (0, 3)])
    pins = replace(pins, us_per_quarter=MINUTE_US)
    times = strike_times(pins, MINUTE_WHEEL, seam_errors_mm=errors, turn_count=2)
    expected_s = 60 * np.array(walked_mm) / at
    assert times.trip_s == pytest.approx(np.concatenate([expected_s, 60 + expected_s]), abs=MICROSECOND)
    late_s = plate_late_seconds(MINUTE_WHEEL, 60.0, errors)
    assert late_s == pytest.approx(expected_s[::2] - 5.0 * np.arange(12), abs=MICROSECOND)


def test_seams_that_all_gape_alike_displace_no_first_hole() -> None:
    assert plate_late_seconds(MINUTE_WHEEL, 60.0, [0.7] * 12) == pytest.approx(np.zeros(12), abs=1e-9)


def test_no_seam_errors_and_errors_of_nothing_are_the_same() -> None:
    plain, none = (strike_times(first_pins(), MINUTE_WHEEL, seam_errors_mm=errors) for errors in ((), [0.0] * 12))
    assert plain.trip_s.tolist() == none.trip_s.tolist()


def test_columns_cannot_be_written_to() -> None:
    times = strike_times(first_pins(), MINUTE_WHEEL)
    for column in (times.pin, times.channel, times.trip_s, times.sound_s, times.velocity, times.note, times.turn):
        with pytest.raises(ValueError, match="read-only"):
            column[0] = 0
