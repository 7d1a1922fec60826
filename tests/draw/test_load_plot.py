"""The load drawn on the wheel: bars where pins trip and as long as they should be, numbers clear of one another."""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drawn import expanded, overlapping_texts, stays_on_paper, texts
from pegwright.draw.load_plot import (
    CENTRE_X_MM,
    CENTRE_Y_MM,
    INNER_MM,
    MARK_MM,
    NUMBERED,
    OUTER_MM,
    as_one,
    load_pages,
)
from pegwright.drawing import Circle, Page, Path
from pegwright.load import Load, SetLoad, loads_of
from pegwright.placement import PinMap
from pegwright.wheel import StrikeLimit, Wheel
from placed import RESOLUTION, pin_map, pin_maps, small_wheel
from samples import channel, wheel

WHEEL = small_wheel(strike_limits=(StrikeLimit("bars", ("low bar", "high bar"), 4, 250.0),))


def sets_of(pins: PinMap, on: Wheel, window_ms: float) -> list[SetLoad]:
    return [SetLoad("", (0,), pins, loads_of(pins, on, RESOLUTION, window_ms))]


def bars(page: Page) -> list[tuple[float, float]]:
    """Each bar's share of the turn, clockwise from the top, and its length in mm, by the middles of its ends."""
    found = []
    for shape in expanded(page.items):
        if not isinstance(shape, Path) or not shape.closed or shape.pen.fill == 1.0:
            continue
        one, two, three, four = shape.points
        ends = [
            ((a[0] + b[0]) / 2 - CENTRE_X_MM, (a[1] + b[1]) / 2 - CENTRE_Y_MM) for a, b in ((one, four), (two, three))
        ]
        assert math.hypot(*ends[0]) == pytest.approx(INNER_MM)
        share = math.atan2(ends[1][0], -ends[1][1]) / (2 * math.pi) % 1
        found.append((share, math.hypot(*ends[1]) - INNER_MM))
    return found


def expected(load: Load) -> list[tuple[float, float]]:
    top = max(1, load.maximum, load.limit or 0)
    each = set(zip(load.trip_ms.tolist(), load.strikes.tolist(), strict=True))
    return sorted((trip / load.turn_ms, (OUTER_MM - INNER_MM) * strikes / top) for trip, strikes in each)


@given(pin_maps(WHEEL), st.sampled_from([1.0, 125.0, 700.0]))
@settings(max_examples=40)
def test_a_bar_stands_where_each_pin_trips_and_is_as_long_as_its_load(pins: PinMap, window_ms: float) -> None:
    (of_set,) = sets_of(pins, WHEEL, window_ms)
    pages = load_pages(WHEEL, "Air", [of_set])
    assert len(pages) == 2
    for page, load in zip(pages, of_set.loads, strict=True):
        found = sorted((round(share, 9) % 1, length) for share, length in bars(page))
        for (share, length), (wanted_share, wanted_length) in zip(found, expected(load), strict=True):
            assert share == pytest.approx(wanted_share, abs=1e-6)
            assert length == pytest.approx(wanted_length)
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []


def marks(page: Page) -> list[Circle]:
    return [
        shape
        for shape in expanded(page.items)
        if isinstance(shape, Circle) and shape.radius_mm < 4 and shape.x_mm < 190
    ]


@pytest.mark.parametrize("steps", [[0, 1, 2, 3, 4, 5], [30, 31, 0, 1], [0], [7, 8, 20, 21, 22], [0, 2, 8, 9]])
def test_numbers_of_the_worst_places_keep_clear_of_each_other(steps: list[int]) -> None:
    """Chords on neighbouring steps of a wheel of 192, also on both sides of the turn's end."""
    on = wheel()
    pins = pin_map(on, [(bar, 0 if step < 16 else 5, 0, step, 0, -1) for step in steps for bar in (0, 1)])
    (of_set,) = sets_of(pins, on, 1.0)
    (page,) = load_pages(on, "Air", [of_set])
    found = marks(page)
    assert len(found) == min(NUMBERED, len(steps))
    for mark, place in zip(found, of_set.loads[0].worst, strict=True):
        assert math.hypot(mark.x_mm - CENTRE_X_MM, mark.y_mm - CENTRE_Y_MM) == pytest.approx(MARK_MM)
        share = math.atan2(mark.x_mm - CENTRE_X_MM, CENTRE_Y_MM - mark.y_mm) / (2 * math.pi)
        away = (share - place.trip_ms / of_set.loads[0].turn_ms + 0.5) % 1 - 0.5
        assert abs(away) < 0.04  # never far from its bar
    for one, other in combinations(found, 2):
        assert math.dist((one.x_mm, one.y_mm), (other.x_mm, other.y_mm)) >= 2 * one.radius_mm + 0.3


def test_the_limit_is_a_dashed_ring_where_bars_of_so_many_would_end() -> None:
    pins = pin_map(WHEEL, [(0, 0, 0, 0, 0, -1), (1, 0, 0, 0, 0, -1), (0, 1, 0, 0, 0, -1)])
    everything, limited = load_pages(WHEEL, "Air", sets_of(pins, WHEEL, 100.0))
    dashed = [shape for shape in expanded(limited.items) if isinstance(shape, Circle) and shape.pen.dash_mm]
    assert [ring.radius_mm for ring in dashed] == [OUTER_MM]
    assert "limit 4" in [text.text for text in texts(limited)]
    assert not [shape for shape in expanded(everything.items) if isinstance(shape, Circle) and shape.pen.dash_mm]
    assert max(length for _, length in bars(limited)) == pytest.approx((OUTER_MM - INNER_MM) / 2)


def test_the_page_says_what_and_where() -> None:
    pins = pin_map(WHEEL, [(0, 1, 1, 4, 0, -1), (1, 1, 1, 4, 0, -1)])
    (of_set,) = sets_of(pins, WHEEL, 100.0)
    page, _ = load_pages(WHEEL, "Air", [SetLoad("B", (1, 2), pins, of_set.loads)])
    told = [text.text for text in texts(page)]
    assert "Set B · Load round the turn" in told
    assert "at most 2 within 100 ms" in told
    assert "plate 2 step 5.5" in told
    assert "low bar, high bar" in told
    assert any(words.endswith("Set B, turns 2 and 3") for words in told)


@pytest.mark.parametrize(("plates", "steps"), [(1, 8), (1, 1000), (12, 16), (6, 32), (60, 8), (250, 4)])
def test_any_wheel_can_be_drawn(plates: int, steps: int) -> None:
    names = [f"a channel with a long name {number}" for number in range(30)]
    on = wheel(
        [channel(name, [40 + number]) for number, name in enumerate(names)], plate_count=plates, steps_per_plate=steps
    )
    every = max(1, plates // 7)
    pins = pin_map(on, [(number, plate, 0, 0, 0, -1) for number in range(30) for plate in range(0, plates, every)])
    (page,) = load_pages(on, "Air " * 50, sets_of(pins, on, 60.0))
    assert stays_on_paper(page)
    assert overlapping_texts(page) == []


def test_pages_stand_one_below_another_on_one() -> None:
    pins = pin_map(WHEEL, [(0, 0, 0, 0, 0, -1)])
    pages = load_pages(WHEEL, "Air", sets_of(pins, WHEEL, 100.0))
    page = as_one(pages)
    assert (page.width_mm, page.height_mm) == (pages[0].width_mm, 2 * pages[0].height_mm)
    first, second = (expanded(each.items) for each in pages)
    assert expanded(page.items)[: len(first)] == first
    assert len(expanded(page.items)) == len(first) + len(second)
    assert stays_on_paper(page)
