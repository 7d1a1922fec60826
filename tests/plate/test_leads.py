"""Leads, and what takes them away: figures worked by hand from published values, and the strikes of whole songs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import strategies
from golden_cases import load, paths
from pegwright import bundled_wheel, load_wheel
from pegwright.ask.options import FitOptions
from pegwright.check.held import verify_held
from pegwright.check.pin_map import pin_faults
from pegwright.check.verify import verify
from pegwright.fit.pins import pins_of
from pegwright.fit.placing import place_song
from pegwright.placement import Placement
from pegwright.plate.leads import leads_of, left_ms
from pegwright.score import Score
from pegwright.strikes import strike_times, turn_seconds
from pegwright.units import fall_ms, quarters_per_minute
from pegwright.wheel import Channel, Wheel
from samples import channel, score, wheel

MICROSECOND = 1e-6
EARLY = st.sampled_from([Fraction(0), Fraction(0), Fraction(1, 2), Fraction(1), Fraction(3, 2), Fraction(2)])


def each(on: Wheel, change: Callable[[int, Channel], Channel]) -> Wheel:
    """The wheel with every channel changed."""
    return replace(on, channels=tuple(change(number, one) for number, one in enumerate(on.channels)), sha256="0" * 64)


def test_a_fall_of_300_mm_lasts_247_35_ms() -> None:
    # g = 9.80665 m/s^2 (3rd CGPM 1901, as the BIPM's SI Brochure has it): sqrt(2 x 0.3 / 9.80665) = 0.247352 s.
    assert fall_ms(300) == pytest.approx(247.35, abs=0.005)
    # Thrown down at 1 m/s: 0.3 = t + 4.903325 t^2, t = (sqrt(1 + 5.88399) - 1) / 9.80665 = 0.165575 s.
    assert fall_ms(300, 1000) == pytest.approx(165.575, abs=0.005)
    assert fall_ms(0) == fall_ms(0, 500) == 0


@given(st.floats(0.01, 10_000), st.floats(0, 10_000))
def test_in_the_time_of_a_fall_a_body_falls_so_far(fall_mm: float, start_mm_per_s: float) -> None:
    seconds = fall_ms(fall_mm, start_mm_per_s) / 1000
    assert start_mm_per_s * seconds + 9806.65 * seconds**2 / 2 == pytest.approx(fall_mm, rel=1e-9)


def test_what_a_lead_taken_away_at_112_leaves_at_other_tempos() -> None:
    # L (1 - v_set / v): a length on the rim passes in another time. 42 (1 - 112/138) = 7.913, 42 (1 - 112/92) = -9.130,
    # 42 (1 - 112/63) = -32.667, 6 (1 - 112/63) = -4.667.
    left = [left_ms(42, 112, 138), left_ms(42, 112, 92), left_ms(42, 112, 63), left_ms(6, 112, 63)]
    assert np.round(left, 2).tolist() == [7.91, -9.13, -32.67, -4.67]
    leads = leads_of(load_wheel(bundled_wheel()), 112, [63, 138])
    assert leads.now_apart_ms == pytest.approx(36)
    assert leads.left_apart_ms[0] == pytest.approx(28.0)
    assert [lead.advance_steps for lead in leads.channels] == [0] * 24, "none is longer than half a step, 66.96 ms"


def test_the_readers_of_the_demo_wheel_at_112() -> None:
    # The rim passes pi x 955 mm in 48 x 60 / 112 = 25.714 s, 116.675 mm/s: 42 ms are 4.900 mm.
    drum = leads_of(load_wheel(bundled_wheel()), 112).channels[19]
    assert drum.name == "bass drum"
    assert drum.reader_mm == pytest.approx(-4.900, abs=0.001)


@pytest.mark.parametrize(
    ("lead_ms", "rows", "steps", "lost"),
    [
        (62.5, ["on", "half"], Fraction(0), ()),  # half a step at 120, no longer than that
        (63, ["on", "half"], Fraction(1, 2), ()),
        (63, ["on"], Fraction(1), ()),  # a hole half a step before does not exist
        (130, ["on"], Fraction(1), ()),
        (180, ["on", "half"], Fraction(3, 2), ()),
        (130, ["on", "half", "triplet"], Fraction(1), ("triplet",)),
        (250, ["on", "half", "triplet"], Fraction(2), ()),
    ],
)
def test_longer_leads_are_cancelled_by_pins_set_early(
    lead_ms: float, rows: list[str], steps: Fraction, lost: tuple[str, ...]
) -> None:
    on = wheel([channel("late", [60], lead_ms=lead_ms, rows=rows)])
    lead = leads_of(on, 120, [90]).channels[0]
    assert (lead.advance_steps, lead.rows_lost) == (steps, lost)
    reader_mm = lead.rest_reader_mm or 0.0
    cured = each(on, lambda _, one: replace(one, advance_steps=steps, reader_mm=reader_mm))
    assert leads_of(cured, 120).channels[0].now_ms == pytest.approx(0, abs=1e-9)
    assert leads_of(cured, 90).channels[0].now_ms == pytest.approx(lead.left_ms[0])


@given(strategies.scores(), strategies.wheels(), strategies.options(), st.data())
def test_strikes_move_by_exactly_the_reader_and_the_advance(
    song: Score, on: Wheel, options: FitOptions, data: st.DataObject
) -> None:
    readers_mm = [data.draw(st.sampled_from([0.0, -4.9, 12.5])) for _ in on.channels]
    pins = pins_of(song, on, place_song(song, on, options))
    before = strike_times(pins, on, start_steps=options.start_steps, score=song)
    placed = each(on, lambda number, one: replace(one, reader_mm=readers_mm[number], lead_ms=7.0 * number))
    after = strike_times(pins, placed, start_steps=options.start_steps, score=song)
    s_per_mm = turn_seconds(on, pins.us_per_quarter) / on.geometry.circumference_mm
    old = dict(zip(before.pin.tolist(), before.trip_s.tolist(), strict=True))
    for pin, sound_s in zip(after.pin.tolist(), after.sound_s.tolist(), strict=True):
        number = int(pins.channel[pin])
        expected_s = old[pin] + readers_mm[number] * s_per_mm + 0.007 * number
        assert sound_s == pytest.approx(expected_s, abs=MICROSECOND)
    early = each(placed, lambda _, one: replace(one, advance_steps=Fraction(3, 2)))
    meant = place_song(song, early, options)
    times = strike_times(pins_of(song, early, meant), early, start_steps=options.start_steps, score=song)
    step_s = float(on.step_quarters * pins.us_per_quarter / 1_000_000)
    assert times.meant_s == pytest.approx(times.trip_s + 1.5 * step_s, abs=MICROSECOND)


@given(strategies.scores(), strategies.wheels(), strategies.options(), st.data())
def test_leads_made_readers_sound_at_the_written_times(
    song: Score, on: Wheel, options: FitOptions, data: st.DataObject
) -> None:
    leads = [data.draw(st.sampled_from([0.0, 6.0, 42.0, 247.35])) for _ in on.channels]
    on = each(on, lambda number, one: replace(one, lead_ms=leads[number], advance_steps=data.draw(EARLY)))
    placement = place_song(song, on, options)
    tempo = quarters_per_minute(placement.us_per_quarter)
    turn_s = turn_seconds(on, placement.us_per_quarter)
    rests_ms = [
        one.lead_ms - float(one.advance_steps * on.step_quarters) * placement.us_per_quarter / 1000
        for one in on.channels
    ]
    mm_per_ms = on.geometry.circumference_mm / turn_s / 1000
    cured = each(on, lambda number, one: replace(one, reader_mm=-rests_ms[number] * mm_per_ms))
    assert leads_of(cured, tempo).now_apart_ms < 0.001
    times = strike_times(pins_of(song, on, placement), cured, start_steps=options.start_steps, score=song)
    offsets = np.array([kind.offset_mm for kind in on.pin_types])
    for note, sound_s in zip(times.note.tolist(), times.sound_s.tolist(), strict=True):
        quarters = Fraction(int(song.onset_ticks[note]), song.resolution)
        moved = Fraction(int(placement.deviation_ticks[note]), placement.resolution)
        expected_s = float((quarters + moved) * placement.us_per_quarter) / 1e6
        bent = bool(offsets[placement.pin_type[note]])
        slack_s = MICROSECOND + bent * turn_s * 0.005 / on.geometry.circumference_mm
        assert abs(sound_s - expected_s) < slack_s


@given(strategies.scores(), strategies.wheels(), strategies.options(), st.data())
def test_pins_set_early_pass_the_verifier(song: Score, on: Wheel, options: FitOptions, data: st.DataObject) -> None:
    early = each(on, lambda _, one: replace(one, advance_steps=data.draw(EARLY)))
    placement = place_song(song, early, options)
    assert verify(song, early, placement) == ()
    pins = pins_of(song, early, placement)
    assert verify_held(early, placement, pins) == ()
    assert pin_faults(early, pins, np.ones(pins.pin_count, dtype=np.int64)) == ()


@given(strategies.scores(), strategies.wheels(), strategies.options(), EARLY)
def test_all_channels_early_are_the_song_begun_as_much_earlier(
    song: Score, on: Wheel, options: FitOptions, steps: Fraction
) -> None:
    early = each(on, lambda _, one: replace(one, advance_steps=steps))
    begun = replace(options, start_steps=options.start_steps - steps)
    assert _outcome(place_song(song, early, options)) == _outcome(place_song(song, on, begun))


@pytest.mark.parametrize("path", paths(), ids=lambda path: path.stem)
@pytest.mark.parametrize("steps", [Fraction(1, 2), Fraction(1), Fraction(3)])
def test_golden_cases_pass_the_verifier_with_every_second_channel_early(path: object, steps: Fraction) -> None:
    case = load(path)  # type: ignore[arg-type]  # parametrize gives objects
    on = each(case.wheel, lambda number, one: replace(one, advance_steps=steps * (number % 2 == 0)))
    placement = place_song(case.score, on, case.options)
    assert verify(case.score, on, placement) == ()
    assert verify_held(on, placement, pins_of(case.score, on, placement)) == ()


def test_the_verifier_sees_pins_that_are_not_early() -> None:
    on = wheel([channel("late", [60])])
    song = score([(0, 60), (4, 60)])
    placement = place_song(song, on, FitOptions())
    early = each(on, lambda _, one: replace(one, advance_steps=Fraction(1)))
    assert any("has a deviation that its hole does not have" in fault for fault in verify(song, early, placement))


def _outcome(placement: Placement) -> tuple[list[list[float]], int, int]:
    """What every note became, without where the song begins, and the totals in quarters."""
    columns = (placement.outcome, placement.channel, placement.plate, placement.row, placement.index)
    moved = [Fraction(int(ticks), placement.resolution) for ticks in placement.deviation_ticks]
    return [column.tolist() for column in columns] + [moved], placement.weight, placement.weight_bound
