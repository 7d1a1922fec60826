from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from pegwright.draw.columns_flow import Block, FlowLine, flowed

HIGH_MM = 100.0


def line(height_mm: float) -> FlowLine:
    return FlowLine(height_mm, lambda _x, _y: ())


@st.composite
def blocks(draw: st.DrawFn) -> list[Block]:
    heights = st.sampled_from([3.0, 7.5, 20.0])
    made = []
    for _ in range(draw(st.integers(0, 12))):
        lines = tuple(line(draw(heights)) for _ in range(draw(st.integers(0, 20))))
        made.append(Block(line(draw(heights)), lines, line(4.0)))
    return made


@given(blocks(), st.sampled_from([0.0, 2.0]))
def test_every_line_stands_once_in_order_and_inside_its_column(made: list[Block], gap_mm: float) -> None:
    columns = flowed(made, HIGH_MM, gap_mm)
    flat = [it for column in columns for _, it in column]
    again = {id(block.again) for block in made}
    expected = [id(it) for block in made for it in (block.head, *block.lines)]
    assert [id(it) for it in flat if id(it) not in again] == expected
    for column in columns:
        ends = [0.0]
        for y, it in column:
            assert y >= ends[-1]
            ends.append(y + it.height_mm)
        assert ends[-1] <= HIGH_MM + 1e-9


@given(blocks())
def test_what_fits_a_column_is_kept_whole_and_no_head_is_left_alone(made: list[Block]) -> None:
    columns = flowed(made, HIGH_MM, 2.0)
    where = {id(it): number for number, column in enumerate(columns) for _, it in column}
    for block in made:
        columns_of = {where[id(it)] for it in (block.head, *block.lines)}
        if block.height_mm <= HIGH_MM:
            assert len(columns_of) == 1
        if block.lines:
            assert where[id(block.head)] == where[id(block.lines[0])]
    for column in columns[1:]:
        assert column[0][1] in [it for block in made for it in (block.head, block.again)]


def test_nothing_is_one_empty_column() -> None:
    assert flowed([], HIGH_MM, 1.0) == ((),)
