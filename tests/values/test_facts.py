"""What a wheel amounts to."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.facts import (
    COMMON_METRES,
    count_holes,
    drum_key_channels,
    lost_groups,
    metre_on,
    pitch_channels,
    speed_at,
)
from pegwright.grid import Loss
from pegwright.wheel import LostHole, Row
from samples import GEOMETRY, HALF, ON, TRIPLET, channel, wheel

ROOMY = replace(GEOMETRY, min_wall_mm=0.0)  # walls so thin that no seam takes a hole


def test_a_known_size_of_wheel_has_the_known_number_of_holes() -> None:
    """Common practice, no source: 64 holes on the step, 64 half-way and 64 triplet holes a channel on a plate, 38
    channels, and 8 plates in two sets make 58,368 holes.
    """
    made = wheel(
        [channel(f"bar {pitch}", [pitch]) for pitch in range(40, 78)],
        plate_count=4,
        plate_sets=2,
        steps_per_plate=64,
        geometry=replace(ROOMY, radius_mm=2000.0),
    )
    count = count_holes(made)
    assert count.holes.shape == (38, 4, 3)
    assert (count.holes == 64).all()
    assert (count.holes.sum(axis=2) == 192).all()
    assert count.show_count == 58_368
    assert count.lost_count == 0


def test_the_speed_of_a_turning_rim_is_pi_d_over_t() -> None:
    """Worked values, by arithmetic from v = pi D / T: D 1000 mm, T 60 s, 960 positions, 12 plates."""
    made = wheel(
        rows=(ON,),
        channels=(channel("bar", [60], rows=["on"]),),
        plate_count=12,
        steps_per_plate=80,
        step_quarters=Fraction(1, 8),
        geometry=replace(GEOMETRY, radius_mm=500.0),
    )
    speed = speed_at(made, 120)
    assert made.geometry.circumference_mm == pytest.approx(3141.593, abs=5e-4)
    assert speed.turn_s == pytest.approx(60)
    assert speed.rim_mm_per_s == pytest.approx(52.3599, abs=5e-5)
    assert speed.ms_per_mm == pytest.approx(19.0986, abs=5e-5)
    assert speed.step_ms == pytest.approx(62.5)
    assert made.step_mm == pytest.approx(3.27249, abs=5e-6)
    assert metre_on(made, 4, 4).steps_per_bar == 32
    assert metre_on(made, 4, 4).bars_per_turn == 30


def test_the_speed_of_a_small_barrel() -> None:
    """Dom Bedos, L'art du facteur d'orgues, part IV, 1778, pl. CXIV to CXVIII, as read at
    http://fusehime.c.u-tokyo.ac.jp/gottschewski/musica/1F/2_6recodingmachines.htm: a barrel of 18.9 cm circumference
    turns in 20 s, so its surface runs at 9.45 mm/s.
    """
    made = wheel(step_quarters=Fraction(1, 8), geometry=replace(ROOMY, radius_mm=189 / 6.283185307))
    speed = speed_at(made, 60 * float(made.turn_quarters) / 20)
    assert speed.turn_s == pytest.approx(20)
    assert speed.rim_mm_per_s == pytest.approx(9.45, abs=1e-6)


@pytest.mark.parametrize(
    ("beats", "beat_type", "steps", "bars"),
    [(2, 4, 8, 24), (3, 4, 12, 16), (4, 4, 16, 12), (6, 8, 12, 16), (9, 8, 18, Fraction(32, 3)), (3, 8, 6, 32)],
)
def test_bars_of_common_metres(beats: int, beat_type: int, steps: int, bars: Fraction) -> None:
    metre = metre_on(wheel(), beats, beat_type)
    assert metre.steps_per_bar == steps
    assert metre.bars_per_turn == bars
    assert metre.bars_per_plate == Fraction(bars) / 6
    assert metre.places_per_bar == 3 * steps  # on, half-way and triplet: three a step


def test_semiquaver_holes_of_a_bar() -> None:
    """Encyclopedie methodique, Amusements, p. 27: for semiquavers 12 holes in a bar of three, 16 in one of four."""
    made = wheel(rows=(ON,), channels=(channel("bar", [60], rows=["on"]),))
    assert metre_on(made, 3, 4).places_per_bar == 12
    assert metre_on(made, 4, 4).places_per_bar == 16


def test_rows_at_the_same_moment_count_as_one_place() -> None:
    made = wheel(rows=(ON, HALF, Row("again", (Fraction(0), Fraction(1, 2)), lateral_mm=5.0)))
    assert metre_on(made, 4, 4).places_per_bar == 32


def test_a_seam_takes_the_last_half_way_hole_of_every_plate() -> None:
    (group,) = lost_groups(wheel())
    assert (group.row, group.index, group.loss) == (1, 31, Loss.TRAIL_EDGE)
    assert group.edge_mm == pytest.approx(2 * 3.14159265 * 477.5 / 192 / 2 - 5.3, abs=1e-6)
    assert group.needed_mm == pytest.approx(4.5)
    assert group.plates == tuple(range(6))
    assert (group.channel_count, group.lost_count) == (13, 78)


def test_declared_losses_are_told_apart_from_those_of_seams() -> None:
    made = wheel(lost=(LostHole("on", 3, plate=2), LostHole("half", 31, channel="bar 60")))
    groups = lost_groups(made)
    assert [(group.row, group.index, group.loss, group.lost_count) for group in groups] == [
        (0, 3, Loss.DECLARED, 13),
        (1, 31, Loss.DECLARED, 6),
        (1, 31, Loss.TRAIL_EDGE, 72),
    ]
    assert groups[0].plates == (2,)
    assert groups[0].edge_mm is None
    assert groups[0].needed_mm is None


def test_what_can_be_played_is_told_by_rising_pitch_and_key() -> None:
    made = wheel([channel("b", [62, 60]), channel("a", [60]), channel("drum", (), [38, 35])])
    assert pitch_channels(made) == {60: ("b", "a"), 62: ("b",)}
    assert list(pitch_channels(made)) == [60, 62]
    assert drum_key_channels(made) == {35: ("drum",), 38: ("drum",)}


@settings(max_examples=60, deadline=None)
@given(
    plates=st.integers(1, 6),
    half_steps=st.integers(1, 12),
    wall_mm=st.floats(0, 30),
    rows=st.lists(st.sets(st.sampled_from(["on", "half", "triplet"]), min_size=1), min_size=1, max_size=5),
    sets=st.integers(1, 4),
)
def test_holes_and_losses_add_up(plates: int, half_steps: int, wall_mm: float, rows: list[set[str]], sets: int) -> None:
    names = [row.name for row in (ON, HALF, TRIPLET)]
    channels = [channel(str(n), [60], rows=[name for name in names if name in row]) for n, row in enumerate(rows)]
    made = wheel(
        channels,
        plate_count=plates,
        steps_per_plate=2 * half_steps,
        plate_sets=sets,
        geometry=replace(GEOMETRY, min_wall_mm=wall_mm),
    )
    count = count_holes(made)
    if_none_lost = plates * sum(len(row) * 2 * half_steps for row in rows)
    assert count.set_count + count.lost_count == if_none_lost
    assert sum(group.lost_count for group in lost_groups(made)) == count.lost_count
    assert count.show_count == sets * count.set_count
    assert len({metre_on(made, *metre).bars_per_turn for metre in COMMON_METRES}) > 1
