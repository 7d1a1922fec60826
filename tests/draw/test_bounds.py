from __future__ import annotations

import pytest

from pegwright.draw.bounds import bounds_mm
from pegwright.draw.lettering import width_mm
from pegwright.drawing import Anchor, Circle, Path, Pen, Symbol, Text, Use

PEN = Pen(width_mm=0.2)


def test_strokes_count_and_fills_do_not_add() -> None:
    assert bounds_mm([Circle(5, 6, 2, PEN)]) == pytest.approx((2.9, 3.9, 7.1, 8.1))
    assert bounds_mm([Circle(5, 6, 2, Pen(stroke=None, fill=0.0, width_mm=9))]) == (3, 4, 7, 8)
    assert bounds_mm([Path(((0, 1), (4, 3)), PEN)]) == pytest.approx((-0.1, 0.9, 4.1, 3.1))


def test_a_symbol_reaches_from_where_it_is_used() -> None:
    symbol = Symbol("s", (Path(((0, 0), (2, 1)), PEN), Path(((3, 0), (3, 5)), PEN)))
    assert bounds_mm([Use(symbol, 10, 20)]) == pytest.approx((9.9, 19.9, 13.1, 25.1))


def test_a_turned_text_reaches_up_the_page() -> None:
    level = bounds_mm([Text(10, 20, "100 mm", 4, Anchor.START)])
    turned = bounds_mm([Text(10, 20, "100 mm", 4, Anchor.START, turn_deg=-90)])
    width = width_mm("100 mm", 4)
    assert (level[0], level[2]) == pytest.approx((10, 10 + width))
    assert (turned[1], turned[3]) == pytest.approx((20 - width, 20))
    assert turned[0] < 10 < turned[2]


def test_nothing_has_no_bounds() -> None:
    with pytest.raises(ValueError, match="no items"):
        bounds_mm([])
