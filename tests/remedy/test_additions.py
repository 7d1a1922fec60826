"""Additions that a wheel could be given: their names, and the wheel with them."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

import strategies
from pegwright.errors import InputError
from pegwright.grid import hole_grid
from pegwright.remedy.additions import (
    Addition,
    AdditionKind,
    addition_from,
    addition_words,
    row_additions,
    with_additions,
)
from pegwright.wheel import Kind, Row, StrikeLimit, Wheel
from samples import channel, wheel

PHASES = st.fractions(0, 4, max_denominator=12)
THINGS = st.one_of(
    st.builds(Addition, st.just(AdditionKind.PITCH), st.integers(-48, 175)),
    st.builds(Addition, st.just(AdditionKind.DRUM_KEY), st.integers(0, 127)),
    st.builds(
        Addition,
        st.just(AdditionKind.ROW),
        st.just(0),
        st.lists(PHASES, min_size=1, max_size=4, unique=True).map(lambda phases: tuple(sorted(phases))),
        st.integers(1, 9),
    ),
    st.builds(
        Addition,
        st.sampled_from([AdditionKind.RETUNED, AdditionKind.HAMMER]),
        st.integers(0, 127),
        channel=st.sampled_from(["bar 60", "bell of 1 of 2", "half "]),
    ),
)


@given(THINGS)
def test_a_code_gives_its_thing_back(thing: Addition) -> None:
    assert addition_from(thing.code) == thing
    assert "\n" not in thing.code
    assert ";" not in thing.code


@pytest.mark.parametrize(
    "code", ["", "pitch", "pitch x", "plate 3", "row 1/0 of 1", "row 1/2", "row  of 1", "row 1 of x"]
)
def test_anything_else_is_no_thing(code: str) -> None:
    with pytest.raises(InputError, match="is not the code of an addition"):
        addition_from(code)


def places(row: Addition | Row, steps: int) -> list[Fraction]:
    return [start + phase for start in range(0, steps, row.period_steps) for phase in row.phases]


@given(strategies.wheels())
def test_rows_to_add_share_no_place_and_make_every_simple_part_of_a_step(on: Wheel) -> None:
    things = row_additions(on)
    steps = 4  # a multiple of every period here
    added = Counter(place for thing in things[len(on.rows) :] for place in places(thing, steps))
    own = {place for row in on.rows for place in places(row, steps)}
    assert set(added.values()) <= {1}
    assert not own & set(added)
    for parts in (1, 2, 3, 4, 5, 6, 8):
        assert {Fraction(place, parts) for place in range(steps * parts)} <= own | set(added)
    for thing in things:
        assert on.steps_per_plate % thing.period_steps == 0


def test_rows_of_the_usual_wheel_are_told_in_words() -> None:
    on = wheel()
    assert [addition_words(thing, on) for thing in row_additions(on)] == [
        "row on on every channel",
        "row half on every channel",
        "row triplet on every channel",
        "holes at 1/3 and 1 2/3 of every 2 steps",
        "holes at 0.25 and 0.75 of every step",
        "holes at 1/5 and 3/5 of every step",  # at 3.125 mm pins that need 3.5 mm would touch
        "holes at 2/5 and 4/5 of every step",
        "holes at 1/6 and 5/6 of every step",
        "holes at 1/8, 3/8, 5/8 and 7/8 of every step",
    ]
    assert addition_words(Addition(AdditionKind.PITCH, 66), on) == "a channel for F#4 (66)"
    assert addition_words(Addition(AdditionKind.DRUM_KEY, 49), on) == "a channel for drum key 49, Crash Cymbal 1"


def test_a_channel_that_is_added_is_like_its_neighbour() -> None:
    on = wheel(
        [
            channel("low", [50], restrike_ms=200.0, rows=["on"]),
            channel("high", [60], restrike_ms=80.0),
            channel("snare", [], [38], restrike_ms=40.0, rows=["on", "half"]),
        ]
    )
    asked = [Addition(AdditionKind.PITCH, 55), Addition(AdditionKind.PITCH, 56), Addition(AdditionKind.DRUM_KEY, 49)]
    made = with_additions(on, asked).channels
    assert made[:3] == on.channels
    assert [(each.pitches, each.drum_keys, each.restrike_ms, each.rows) for each in made[3:]] == [
        ((55,), (), 200.0, ("on",)),  # as far from either: the lower
        ((56,), (), 80.0, ("on", "half", "triplet")),
        ((), (49,), 40.0, ("on", "half")),
    ]
    assert [each.name for each in made[3:]] == ["G3", "Ab3", "Crash Cymbal 1"]


def test_a_wheel_without_drums_gives_them_its_first_channel() -> None:
    on = wheel([channel("only", [60], restrike_ms=77.0, lead_ms=5.0, kind=Kind.HOLD, hold_mm=9.0)])
    drum = with_additions(on, [Addition(AdditionKind.DRUM_KEY, 38)]).channels[1]
    assert (drum.restrike_ms, drum.lead_ms, drum.rows) == (77.0, 5.0, on.channels[0].rows)
    assert (drum.kind, drum.hold_mm) == (Kind.STRIKE, 0.0), "a drum is struck"


def test_a_pipe_is_added_beside_pipes_and_draws_on_their_supply() -> None:
    limits = (StrikeLimit("wind", ("pipe",), 2, 100.0), StrikeLimit("drive", ("bar",), 1, 100.0))
    on = wheel([channel("pipe", [60], kind=Kind.HOLD, hold_mm=9.0), channel("bar", [70])], strike_limits=limits)
    changed = with_additions(on, [Addition(AdditionKind.PITCH, 62), Addition(AdditionKind.HAMMER, 2, channel="bar")])
    pipe, hammer = changed.channels[2:]
    assert pipe == replace(on.channels[0], name="D4", pitches=(62,))
    assert hammer == replace(on.channels[1], name="bar, 2")
    assert [limit.channels for limit in changed.strike_limits] == [("pipe", "D4"), ("bar", "bar, 2")]


def test_names_that_are_taken_are_not_given_again() -> None:
    on = wheel([channel("D4", [60]), channel("D4, 2", [61])])
    things = [Addition(AdditionKind.PITCH, 62), Addition(AdditionKind.HAMMER, 2, channel="D4")]
    assert [each.name for each in with_additions(on, things).channels[2:]] == ["D4'", "D4, 2'"]


def test_a_hammer_of_a_channel_that_is_not_there_changes_nothing() -> None:
    on = wheel()
    assert with_additions(on, [Addition(AdditionKind.HAMMER, 2, channel="none")]).channels == on.channels


def test_a_row_that_is_added_is_on_every_channel() -> None:
    on = wheel([channel("bell", [60]), channel("drum", [], [38], rows=["on"])])
    triplet, quarters = row_additions(on)[2], row_additions(on)[4]
    made = with_additions(on, [triplet, quarters])
    assert made.rows[:3] == on.rows
    assert made.rows[3].phases == (Fraction(1, 4), Fraction(3, 4))
    assert [it.rows for it in made.channels] == [
        ("on", "half", "triplet", made.rows[3].name),
        ("on", "triplet", made.rows[3].name),
    ]
    holes = hole_grid(made).lines[1]
    assert set(holes.row.tolist()) == {0, 2, 3}
