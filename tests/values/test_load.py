"""The load round the turn, held against counting every window, a signal library, and the limits of the fit."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import strategies
from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify
from pegwright.errors import UsageError
from pegwright.fit.limits import limits_of, overfull
from pegwright.fit.pins import pins_of
from pegwright.fit.turn import turn_of
from pegwright.grid import hole_grid, place_units
from pegwright.load import ALL_CHANNELS, Load, loads_of, usual_window_ms
from pegwright.placement import PinMap
from pegwright.score import Score
from pegwright.strikes import strike_times
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Kind, PinType, StrikeLimit, Wheel
from placed import RESOLUTION, Note, pin_map, pin_maps, placed, small_wheel
from samples import GEOMETRY, channel, score

TURN_MS = 3000.0  # of the small wheel at the tempo of its pin maps: 24 steps of 125 ms
LIMITED = small_wheel(
    strike_limits=(StrikeLimit("bars", ("low bar", "high bar"), 2, 250.0), StrikeLimit("block", ("block",), 1, 62.5))
)
FINE = 2400 * RESOLUTION  # at which half a tick is 0.01 ms and less
WINDOWS_MS = st.sampled_from([0.0004, 0.001, 41.666, 41.667, 62.5, 125.0, 125.001, 400.0, 1500.0, 2999.999, TURN_MS])


def trips_us(pins: PinMap, on: Wheel) -> list[Fraction]:
    """When each pin trips, exactly, by the wheel's description alone."""
    steps = [
        int(plate) * on.steps_per_plate + on.rows[int(row)].position_steps(int(index))
        for plate, row, index in zip(pins.plate, pins.row, pins.index, strict=True)
    ]
    return [place * on.step_quarters * pins.us_per_quarter for place in steps]


def every_window(at: list[Fraction], window: Fraction, turn: Fraction) -> dict[Fraction, int]:
    """Strikes in the window from each moment at which the count can change, and from a moment before and after it."""
    hair = Fraction(1, 1000)
    moments = [place + lap for place in at for lap in (0, -window)]
    starts = {(moment + aside) % turn for moment in moments for aside in (-hair, Fraction(0), hair)}
    return {start: sum((place - start) % turn < window for place in at) for start in starts}


@given(pin_maps(LIMITED), WINDOWS_MS)
def test_it_is_what_counting_every_window_gives(pins: PinMap, window_ms: float) -> None:
    trips = trips_us(pins, LIMITED)
    turn = Fraction(3_000_000)
    for load in loads_of(pins, LIMITED, RESOLUTION, window_ms):
        own = [trips[pin] for pin in range(pins.pin_count) if int(pins.channel[pin]) in load.channels]
        window = Fraction(round(load.window_ms * 1000)) or Fraction(1, RESOLUTION)
        counted = every_window(own, window, turn)
        assert load.maximum == max(counted.values(), default=0)
        assert [counted[trips[pin]] for pin in load.pin.tolist()] == load.strikes.tolist()
        assert sorted(load.pin.tolist()) == [n for n in range(pins.pin_count) if int(pins.channel[n]) in load.channels]
        assert load.trip_ms.tolist() == pytest.approx([float(trips[pin]) / 1000 for pin in load.pin.tolist()])
        assert np.all(np.diff(load.trip_ms) >= 0)


@given(pin_maps(small_wheel()), st.integers(1, 144))
def test_it_is_what_a_signal_library_counts_on_a_raster(pins: PinMap, window_ticks: int) -> None:
    """scipy.ndimage.correlate1d with mode 'wrap', a general reference: a sliding sum over a signal that has no end."""
    from scipy.ndimage import correlate1d

    on = small_wheel()
    pins = replace(pins, us_per_quarter=480_000)  # a tick, a 24th of a quarter, is 20 ms
    ticks = place_units(on, pins.plate, pins.row, pins.index)
    signal = np.bincount(ticks, minlength=144)
    centred = correlate1d(signal, np.ones(window_ticks, dtype=np.int64), mode="wrap")
    following = np.roll(centred, -(window_ticks // 2))  # the library's window is about its place, ours follows it
    (load,) = loads_of(pins, on, RESOLUTION, 20.0 * window_ticks)
    assert load.strikes.tolist() == following[ticks[load.pin]].tolist()
    assert load.maximum == following.max()
    assert load.mean == pytest.approx(following.mean())


@given(strategies.scores(), strategies.wheels(), strategies.options())
@settings(max_examples=60)
def test_what_the_verifier_accepts_never_shows_more_than_a_limit_allows(
    song: Score, on: Wheel, options: FitOptions
) -> None:
    placement, _ = fit_with_findings(song, on, options)
    assert verify(song, on, placement) == ()
    _, *limited = loads_of(pins_of(song, on, placement), on, placement.resolution, 1.0, song)
    assert [(load.name, load.limit) for load in limited] == [(it.name, it.strikes) for it in on.strike_limits]
    for load in limited:
        assert load.headroom is not None
        assert load.headroom >= 0


@given(pin_maps(LIMITED), st.sampled_from([0.5, 41.667, 62.5, 125.0, 250.0, 375.0]), st.integers(1, 3))
def test_it_is_over_a_limit_where_the_fit_says_so_and_only_there(pins: PinMap, window_ms: float, most: int) -> None:
    names = tuple(channel.name for channel in LIMITED.channels[:2])
    on = replace(LIMITED, strike_limits=(StrikeLimit("bars", names, most, window_ms),))
    turn, _ = turn_of(score([(0, 60)]), on, FitOptions())
    (limit,) = limits_of(on, turn)
    assert turn.resolution % hole_grid(on).resolution == 0
    position = place_units(on, pins.plate, pins.row, pins.index) * (turn.resolution // hole_grid(on).resolution)
    _, load = loads_of(pins, on, turn.resolution, 1.0)
    crowded = overfull(limit, pins.channel, position, turn.turn_ticks).tolist()
    assert (load.maximum > most) == bool(crowded)
    assert load.headroom == most - load.maximum
    assert set(load.pin[load.strikes > most].tolist()) <= set(crowded)


def check_worst(load: Load) -> None:
    """Places begin windows that do not overlap, always the fullest of those left, and none with two strikes is left."""
    window, turn = load.window_ms, load.turn_ms

    def overlaps(one_ms: float, other_ms: float) -> bool:
        apart = (other_ms - one_ms) % turn
        return min(apart, turn - apart) < window - 1e-9

    windows = set(zip(load.trip_ms.tolist(), load.strikes.tolist(), strict=True))
    left = {(trip, strikes) for trip, strikes in windows if strikes >= 2}
    for place in load.worst:
        fullest = max(strikes for _, strikes in left)
        assert (place.strikes, place.trip_ms) == (fullest, min(trip for trip, strikes in left if strikes == fullest))
        left = {(trip, strikes) for trip, strikes in left if not overlaps(place.trip_ms, trip)}
    assert not left


@given(pin_maps(LIMITED), st.sampled_from([1.0, 62.5, 125.0, 375.0, 1500.0]))
def test_the_worst_places_are_the_fullest_windows_that_do_not_overlap(pins: PinMap, window_ms: float) -> None:
    for load in loads_of(pins, LIMITED, RESOLUTION, window_ms):
        check_worst(load)


def test_a_place_tells_where_it_is_on_the_wheel_and_in_the_song() -> None:
    # two bars of the chord on the last step of plate 2, and the block on the first of plate 3, 125 ms later
    made = placed(
        [Note(0, 60, (0, 1, 0, 7, 0)), Note(0, 72, (1, 1, 0, 7, 0)), Note(6, 76, (2, 2, 0, 0, 0), part=1)],
        small_wheel(),
    )
    (load,) = loads_of(made.pins, made.wheel, RESOLUTION, 126.0, made.score)
    (place,) = load.worst
    assert (place.strikes, place.plate, place.step, place.trip_ms) == (3, 1, Fraction(7), 15 * 125.0)
    assert place.channels == (0, 1, 2)
    assert str(place.source) == "test.mid:Melody:bar 1 beat 1"
    assert load.strikes.tolist() == [3, 3, 1]
    (just_short,) = loads_of(made.pins, made.wheel, RESOLUTION, 125.0, made.score)
    assert just_short.strikes.tolist() == [2, 2, 1]
    (unknown,) = loads_of(made.pins, made.wheel, RESOLUTION, 125.0)
    assert unknown.worst[0].source is None


def test_windows_go_round_the_end_of_the_turn() -> None:
    pins = pin_map(small_wheel(), [(0, 2, 0, 7, 0, -1), (1, 0, 0, 0, 0, -1)])  # the last step and the first
    (load,) = loads_of(pins, small_wheel(), RESOLUTION, 200.0)
    assert load.strikes.tolist() == [1, 2]
    (place,) = load.worst
    assert (place.plate, place.step) == (2, Fraction(7))


def test_the_offset_of_a_pin_type_counts() -> None:
    types = (PinType("peg", 10), PinType("late peg", 10, offset_mm=15.0), PinType("early peg", 10, offset_mm=-15.0))
    on = small_wheel(pin_types=types)
    pins = pin_map(on, [(0, 0, 0, 0, 2, -1), (1, 0, 0, 0, 0, -1), (2, 0, 0, 0, 1, -1)])
    (load,) = loads_of(pins, on, FINE, 1.0)
    away_ms = 15.0 / on.geometry.circumference_mm * TURN_MS
    assert load.pin.tolist() == [1, 2, 0]  # the early one comes at the end of the turn
    assert load.trip_ms.tolist() == pytest.approx([0.0, away_ms, TURN_MS - away_ms], abs=0.005)
    assert load.maximum == 1
    (wider,) = loads_of(pins, on, FINE, 2 * away_ms + 0.02)
    assert wider.maximum == 3
    times = strike_times(pins, on)
    trips = {int(pin): trip_s * 1000 % TURN_MS for pin, trip_s in zip(times.pin, times.trip_s, strict=True)}
    for pin, trip_ms in zip(load.pin.tolist(), load.trip_ms.tolist(), strict=True):
        assert trip_ms == pytest.approx(trips[pin], abs=0.005)


def test_pins_that_hold_a_note_on_are_no_strikes() -> None:
    horn = channel("horn", [60], kind=Kind.HOLD, hold_mm=16.0, rows=["on"])  # a step is 15.6 mm
    on = replace(
        small_wheel(),
        channels=(horn, *small_wheel().channels[1:]),
        geometry=replace(GEOMETRY, radius_mm=59.7),
    )
    pins = pin_map(on, [*((0, 0, 0, step, 0, 0) for step in (1, 2, 3)), (0, 2, 0, 0, 0, 1), (1, 0, 0, 2, 0, 2)])
    (load,) = loads_of(pins, on, RESOLUTION, 1000.0)
    assert [int(pins.note[pin]) for pin in load.pin] == [0, 2, 1]
    assert load.strikes.tolist() == [2, 1, 1]
    assert load.trip_ms.tolist() == [125.0, 250.0, 2000.0]


def test_the_usual_window_is_the_longest_limit_or_a_step() -> None:
    assert usual_window_ms(small_wheel(), 500_000) == 125.0
    assert usual_window_ms(LIMITED, 500_000) == 250.0


def test_a_window_longer_than_the_turn_is_refused() -> None:
    pins = pin_map(small_wheel(), [(0, 0, 0, 0, 0, -1)])
    with pytest.raises(
        UsageError, match=r"window of 3000\.01 ms is longer than a turn, which lasts 3000 ms"
    ) as refused:
        loads_of(pins, small_wheel(), RESOLUTION, TURN_MS + 0.01)
    assert refused.value.where == ALL_CHANNELS


def test_a_wheel_without_pins_carries_nothing() -> None:
    (load,) = loads_of(pin_map(small_wheel(), []), small_wheel(), RESOLUTION, 125.0)
    assert (load.strike_count, load.maximum, load.mean, load.worst) == (0, 0, 0.0, ())
