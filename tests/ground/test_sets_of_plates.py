"""Holes lost on some sets of plates: each set is a wheel of its own, and so are those that every set has."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.check.wheel import hole_table
from pegwright.clearance import clearances
from pegwright.facts import count_holes, lost_groups
from pegwright.grid import Loss, hole_grid
from pegwright.layout import layout_sha256
from pegwright.wheel import LostHole, Wheel
from samples import wheel
from thorough import cases

SETS = 3
LOSSES = st.lists(
    st.builds(
        LostHole,
        st.sampled_from(["on", "half", "triplet"]),
        st.integers(0, 31),
        st.sampled_from([None, *range(6)]),
        st.sampled_from([None, "bar 60", "bar 65"]),
        st.sampled_from([None, *range(SETS)]),
    ),
    max_size=6,
    unique=True,
)


def plain(on: Wheel, lost: list[LostHole]) -> Wheel:
    """A wheel without sets that differ, which has lost these."""
    unique = dict.fromkeys(replace(each, plate_set=None) for each in lost)
    return replace(on, lost=tuple(unique), plate_set=None)


@settings(max_examples=cases(12, 100))
@given(LOSSES)
def test_the_wheel_of_a_set_is_the_wheel_that_has_lost_its_holes(lost: list[LostHole]) -> None:
    on = wheel(lost=tuple(lost), plate_sets=SETS)
    for number in (None, *range(SETS)):
        own = on.of_set(number)
        same = plain(on, [each for each in lost if number is None or each.plate_set in (None, number)])
        assert layout_sha256(own) == layout_sha256(same)
        assert (hole_table(own, 96).present == hole_table(same, 96).present).all()
        assert count_holes(own).holes.tolist() == count_holes(same).holes.tolist()
    assert own.of_set(None) == on


@settings(max_examples=cases(12, 100))
@given(LOSSES)
def test_the_holes_of_all_sets_add_up(lost: list[LostHole]) -> None:
    on = wheel(lost=tuple(lost), plate_sets=SETS)
    count = count_holes(on)
    sets = [count_holes(on.of_set(number)) for number in range(SETS)]
    assert count.show_count == sum(each.set_count for each in sets)
    of_all = sum(group.lost_count for group in lost_groups(on) if group.plate_set is None)
    for number, each in enumerate(sets):
        own = sum(group.lost_count for group in lost_groups(on) if group.plate_set == number)
        assert own + of_all == each.lost_count


def test_two_holes_that_one_set_has_can_touch() -> None:
    """A hole is out of the question for clearances only where every set has lost it."""
    lost = [LostHole("half", index) for index in range(1, 32)]
    on = wheel(lost=tuple(lost))
    some = replace(on, lost=(*on.lost, LostHole("half", 0, plate_set=1)))
    assert clearances(some) == clearances(some.of_set(0)) == clearances(on)
    assert clearances(some.of_set(1)) == clearances(replace(on, lost=(*on.lost, LostHole("half", 0))))


def test_the_sets_that_lack_a_hole_are_named() -> None:
    on = wheel(lost=(LostHole("on", 4, 2, plate_set=1), LostHole("on", 4, 2, "bar 60"), LostHole("on", 5, plate_set=0)))
    assert on.sets_without(1, 0, 4, 2) == (1,)
    assert on.sets_without(0, 0, 4, 2) == (), "every set lacks it"
    assert on.sets_without(0, 0, 5, 0) == (0,)
    assert on.sets_without(0, 0, 6, 0) == ()
    line = hole_grid(on).lines[1]
    hole = (line.row == 0) & (line.index == 4) & (line.plate == 2)
    assert line.loss[hole].tolist() == [Loss.DECLARED]
    assert hole_grid(on.of_set(0)).lines[1].loss[hole].tolist() == [Loss.NONE]
