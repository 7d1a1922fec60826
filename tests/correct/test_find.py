"""From a moment to pins and back."""

from __future__ import annotations

from fractions import Fraction

import pytest

from pegwright.correct.find import HERE, TimedPin, Wanted, bar_and_beat, find_in_maps, find_pins, timed_pins
from pegwright.correct.values import HandPin, Hole
from pegwright.strikes import strike_times
from working import JIG, MARCH, PIER, demo_wheel, fitted, maps_of

WHEEL = demo_wheel()


def test_times_are_those_at_which_the_pins_are_heard() -> None:
    for song in (JIG, MARCH, PIER):
        for working, turn in zip(maps_of(song), fitted(song).pinnings, strict=True):
            start = Fraction(turn.placement.start_ticks, turn.placement.resolution) / WHEEL.step_quarters
            times = strike_times(turn.pins, WHEEL, start_steps=start)
            by_pin = dict(zip(times.pin.tolist(), times.sound_s.tolist(), strict=True))
            heard_s = {each.pin.hole: each.sound_s for each in timed_pins(working, WHEEL)}
            for number, pin in enumerate(working.pins):
                assert heard_s[pin.hole] == pytest.approx(by_pin[number], abs=1e-9)


def here(pins: list[TimedPin]) -> set[Hole]:
    return {each.pin.hole for each in pins if each.when == HERE}


def test_every_pin_is_found_by_its_time_its_bar_and_its_step() -> None:
    working = maps_of(MARCH)[0]
    for each in timed_pins(working, WHEEL)[::7]:
        hole = each.pin.hole
        written = bar_and_beat(each.pin)
        assert written
        step = WHEEL.rows[hole.row].position_steps(hole.number) + 1
        for wanted in (
            Wanted(bar=written[0], beat=written[1]),
            Wanted(at_s=round(each.sound_s, 3)),
            Wanted(plate=hole.plate, step=step),
            Wanted(channel=hole.channel),
        ):
            assert hole in here(find_pins(working, WHEEL, wanted)), wanted


def test_the_pins_just_before_and_after_are_given() -> None:
    working = maps_of(JIG)[0]
    pins = find_pins(working, WHEEL, Wanted(bar="2", beat=Fraction(1)))
    places = [each.place_units for each in timed_pins(working, WHEEL)]
    now = next(each.place_units for each in pins if each.when == HERE)
    assert {each.place_units for each in pins if each.when == "before"} == {max(at for at in places if at < now)}
    assert {each.place_units for each in pins if each.when == "after"} == {min(at for at in places if at > now)}


@pytest.mark.parametrize(
    "wanted",
    [Wanted(bar="2", beat=Fraction(11, 7)), Wanted(at_s=1.85), Wanted(plate=3, step=Fraction(25), channel=0)],
)
def test_where_no_pin_sounds_the_nearest_are_given(wanted: Wanted) -> None:
    pins = find_pins(maps_of(JIG)[0], WHEEL, wanted)
    assert not here(pins)
    assert {each.when for each in pins} == {"before", "after"}


def test_a_bar_of_one_turn_is_looked_for_there_alone() -> None:
    assert {each.letter for each in find_in_maps(maps_of(PIER), WHEEL, Wanted(bar="20"))} == {"B"}
    assert {each.letter for each in find_in_maps(maps_of(PIER), WHEEL, Wanted(plate=0))} == {"A", "B"}


@pytest.mark.parametrize(
    ("source", "place"),
    [
        ("waltz.mid:Melody:bar 14 beat 2.5", ("14", Fraction(5, 2))),
        ("a:b:pickup bar beat 3", ("pickup bar", Fraction(3))),
        ("a.mid:Voice: high:bar 3b beat 1 2/3", ("3b", Fraction(5, 3))),
        ("a.mid:V:bar 7 near beat 2.44", ("7", Fraction(61, 25))),
        ("a.mid", None),
        (None, None),
    ],
)
def test_bar_and_beat_are_read_from_the_source(source: str | None, place: tuple[str, Fraction] | None) -> None:
    assert bar_and_beat(HandPin(Hole(0, 0, 0, 0), 0, (1, source, *[None] * 5))) == place
