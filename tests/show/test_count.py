from __future__ import annotations

import math
from collections import Counter
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.errors import UsageError
from pegwright.placement import PinMap
from pegwright.show.count import PinCount, pin_count
from placed import pin_map, pin_maps, small_wheel
from samples import wheel

WHEEL = small_wheel()  # 100 pegs and 5 long pegs in stock


def eleven_pins() -> PinMap:
    pegs = [(0, 0, 0, step, 0, -1) for step in range(1, 6)] + [(1, 1, 0, step, 0, -1) for step in range(1, 6)]
    return pin_map(WHEEL, [*pegs, (2, 2, 0, 4, 1, -1)])


def test_counts_by_type_plate_and_channel() -> None:
    count = pin_count([eleven_pins()], WHEEL)
    assert [need.pins for need in count.needs] == [10, 1]
    assert count.by_plate.tolist() == [[5, 0], [5, 0], [0, 1]]
    assert count.by_channel.tolist() == [[5, 0], [5, 0], [0, 1]]
    assert count.by_song.tolist() == [[10, 1]]
    assert count.total == 11


@given(st.lists(pin_maps(WHEEL), max_size=4), st.floats(0, 100))
def test_every_split_adds_up_to_the_pins(maps: list[PinMap], spares: float) -> None:
    count = pin_count(maps, WHEEL, spares)
    pins = [
        (song, plate, channel, kind)
        for song, m in enumerate(maps)
        for plate, channel, kind in zip(m.plate.tolist(), m.channel.tolist(), m.pin_type.tolist(), strict=True)
    ]
    by_type = Counter(pin[3] for pin in pins)
    assert count.total == len(pins)
    assert [need.pins for need in count.needs] == [by_type[0], by_type[1]]
    for column, split in ((0, count.by_song), (1, count.by_plate), (2, count.by_channel)):
        counted = Counter((pin[column], pin[3]) for pin in pins)
        assert {(i, j): int(split[i, j]) for i in range(len(split)) for j in range(2) if split[i, j]} == counted
        assert split.sum(axis=0).tolist() == [by_type[0], by_type[1]]


@given(pin_maps(WHEEL), st.integers(0, 1000).map(lambda tenths: tenths / 10))
def test_spares_are_the_least_whole_number_of_pins_that_is_enough(pins: PinMap, spares: float) -> None:
    for need in pin_count([pins], WHEEL, spares).needs:
        asked = Fraction(round(spares * 10), 1000) * need.pins
        assert need.spares >= asked > need.spares - 1 or need.spares == asked == 0


@pytest.mark.parametrize(("spares", "expected"), [(0, 0), (7, 7), (7.001, 8), (0.5, 1), (100, 100)])
def test_spares_are_rounded_up_but_not_for_the_error_of_a_float(spares: float, expected: int) -> None:
    assert math.ceil(100 * 0.07) == 8  # what a float would make of 7 % of 100 pins
    big = wheel()
    hundred = pin_map(big, [(n % 13, n % 6, 0, 1 + n // 13, 0, -1) for n in range(100)])
    assert pin_count([hundred], big, spares).needs[0].spares == expected


def test_what_the_stock_lacks_is_to_buy() -> None:
    maps = [pin_map(WHEEL, [(0, 0, 0, step, 1, -1) for step in range(1, 7)])]
    peg, long_peg = pin_count(maps, WHEEL, 50).needs
    assert (peg.needed, peg.to_buy) == (0, 0)
    assert (long_peg.pins, long_peg.spares, long_peg.needed, long_peg.stock, long_peg.to_buy) == (6, 3, 9, 5, 4)
    assert pin_count(maps, WHEEL, 50).to_buy == 4


def test_songs_that_stand_in_plates_at_once_are_added() -> None:
    one = eleven_pins()
    both: PinCount = pin_count([one, one], WHEEL, 10)
    assert both.songs == ("Test song", "Test song")
    assert both.total == 22
    assert both.needs[0].spares == 2  # of the sum of 20, not twice the spares of one song


@pytest.mark.parametrize("spares", [-0.1, 100.5, math.inf, -math.inf, math.nan])
def test_spares_out_of_bounds_are_refused_with_the_value_and_the_bounds(spares: float) -> None:
    with pytest.raises(UsageError, match=rf"{spares:g} is not between 0 and 100 per cent") as caught:
        pin_count([], WHEEL, spares)
    assert caught.value.exit_code == 2


def test_no_songs_need_no_pins() -> None:
    count = pin_count([], WHEEL, 5)
    assert count.total == count.to_buy == 0
    assert count.by_channel.tolist() == [[0, 0]] * 3
