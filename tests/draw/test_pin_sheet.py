from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drawn import black_marks, box, expanded, letters_box, middle, overlap, overlapping_texts, pin_place, texts
from pegwright.draw.bars import BarMark
from pegwright.draw.bounds import bounds_mm
from pegwright.draw.furniture import CAUTION, CHECK_BAR_MM, CHECK_WORDS, MARGIN_MM, SMALL_MM
from pegwright.draw.marks import CROSS, RING
from pegwright.draw.paper import A3, A4, LETTER, PAPERS, Paper
from pegwright.draw.pin_sheet import SheetNotes, pin_sheets, pin_surround
from pegwright.draw.plate_page import NO_NOTES
from pegwright.draw.sheet_fit import closest_pins, sheet_layout
from pegwright.draw.sheet_layout import SheetLayout
from pegwright.drawing import Circle, Page, Path, Text, Use
from pegwright.errors import UsageError
from pegwright.grid import Loss, hole_grid
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.units import printed
from pegwright.wheel import LostHole, PinType, Row, Wheel
from placed import pin_map, pin_maps, small_wheel
from samples import channel, wheel

SMALL = small_wheel()
LARGE = wheel([channel(f"bar {number + 1}", [30 + number]) for number in range(60)], steps_per_plate=128, plate_count=1)
WHEELS = (
    SMALL,
    wheel([channel(f"bell {number + 1}", [50 + number]) for number in range(24)]),
    wheel([channel(f"drum {number}", [], [35 + number], rows=["on"]) for number in range(46)], steps_per_plate=6),
    LARGE,
)
EVERY_WHEEL = pytest.mark.parametrize("on", WHEELS, ids=lambda on: f"{len(on.channels)}x{on.steps_per_plate}")
EVERY_PAPER = pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
NOTES = SheetNotes("B", Fraction(13), ("2 notes left out",), place="turn 2 of 3, bars 9 to 16")


def bars_every(steps: int, on: Wheel, beat: int = 4, start: int = 0) -> list[BarMark]:
    """Bars round the turn, the last ending where it began."""
    turn = on.turn_steps
    return [
        BarMark(
            Fraction((start + first) % turn),
            str(number + 1),
            tuple(Fraction((start + first + later) % turn) for later in range(beat, steps, beat)),
        )
        for number, first in enumerate(range(0, turn - turn % steps, steps))
    ]


@cache
def lattice(on: Wheel, every: int = 3) -> PinMap:
    """A pin in every so many holes of a channel, counted on from channel to channel; all pin types in turn."""
    pins = []
    count = 0
    for number, line in enumerate(hole_grid(on).lines):
        last = Fraction(-9)
        for hole in range(len(line.position)):
            plate, row, index = int(line.plate[hole]), int(line.row[hole]), int(line.index[hole])
            place = plate * on.steps_per_plate + on.rows[row].position_steps(index)
            count += 1
            if line.loss[hole] == Loss.NONE and count % every == 0 and place - last >= 1:
                last = place
                pins.append((number, plate, row, index, count % len(on.pin_types), -1))
    return pin_map(on, pins)


def layout_of(on: Wheel, paper: Paper, pins: PinMap, notes: SheetNotes = NO_NOTES) -> SheetLayout:
    return sheet_layout(on, paper, closest_pins(on, pins), pin_surround(on, pins, notes))


def on_lanes(
    page: Page, on: Wheel, pins: PinMap, paper: Paper, notes: SheetNotes = NO_NOTES
) -> list[tuple[float, float]]:
    """Middles of the black marks between the rulers."""
    layout = layout_of(on, paper, pins, notes)
    lowest = layout.bottom_mm(layout.parts[0])
    middles = [middle(mark) for mark in black_marks(page)]
    return [place for place in middles if layout.top_mm < place[1] < lowest]


@EVERY_WHEEL
@EVERY_PAPER
def test_every_pin_is_one_mark_at_its_place_on_its_page(on: Wheel, paper: Paper) -> None:
    pins = lattice(on, 7)
    pages = pin_sheets(on, pins, bars_every(16, on), paper, NOTES)
    layout = layout_of(on, paper, pins, NOTES)
    expected = [
        pin_place(layout, on, plate, number, row, index)
        for number, plate, row, index in zip(
            pins.channel.tolist(), pins.plate.tolist(), pins.row.tolist(), pins.index.tolist(), strict=True
        )
    ]
    assert len(pages) == on.plate_count * len(layout.parts)
    for number, page in enumerate(pages):
        wanted = sorted((x, y) for where, x, y in expected if where == number)
        assert sorted(on_lanes(page, on, pins, paper, NOTES)) == [pytest.approx(place, abs=1e-6) for place in wanted]


def test_distance_along_the_page_is_distance_along_the_rim_to_scale() -> None:
    # From the wheel alone: radius, steps a turn and phases, not the drawing's own functions.
    on = WHEELS[1]
    holes = [(0, 0), (0, 7), (1, 12), (2, 9), (0, 31)]
    pins = pin_map(on, [(5, 2, row, index, 0, -1) for row, index in holes])
    step_mm = 2 * 3.141592653589793 * 477.5 / 192
    along = [0, 7 * step_mm, 12.5 * step_mm, (8 + 4 / 3) * step_mm, 31 * step_mm]
    (page,) = pin_sheets(on, pins, [], A4)
    (scale,) = {text.text.rsplit("scale 1:")[1] for text in texts(page) if "scale 1:" in text.text}
    xs = sorted(x for x, _ in on_lanes(page, on, pins, A4))
    for (before, after), (x_before, x_after) in zip(pairwise(sorted(along)), pairwise(xs), strict=True):
        assert x_after - x_before == pytest.approx((after - before) / float(scale), abs=0.001)


def test_every_hole_that_exists_is_a_ring_and_every_lost_one_a_cross() -> None:
    on = replace(SMALL, lost=(LostHole("on", 3, plate=1), LostHole("half", 2, channel="high bar")))
    pages = pin_sheets(on, pin_map(on, []), [], A4)
    for plate, page in enumerate(pages):
        lines = hole_grid(on).lines
        kept = sum(int(((line.plate == plate) & (line.loss == Loss.NONE)).sum()) for line in lines)
        lost = sum(int(((line.plate == plate) & (line.loss != Loss.NONE)).sum()) for line in lines)
        rings = [shape for shape in expanded(page.items) if isinstance(shape, Circle) and shape.pen == RING]
        assert lost > 0
        assert len(rings) == kept + 1  # one more in the legend
        crosses = [shape for shape in expanded(page.items) if isinstance(shape, Path) and shape.pen == CROSS]
        assert len(crosses) == 2 * (lost + 1)


def test_plates_with_the_same_holes_share_one_symbol() -> None:
    on = WHEELS[1]
    pages = pin_sheets(on, lattice(on), bars_every(16, on), A4, NOTES)
    again = pin_sheets(on, lattice(on), [], A4, NOTES)
    symbols = {id(item.symbol) for page in (*pages, *again) for item in page.items if isinstance(item, Use)}
    assert len(symbols) == 2  # frame and holes


@EVERY_WHEEL
@EVERY_PAPER
def test_nothing_leaves_the_paper_and_no_text_lies_on_another(on: Wheel, paper: Paper) -> None:
    for page in pin_sheets(on, lattice(on), bars_every(16, on, start=5), paper, NOTES):
        left, top, right, bottom = bounds_mm(page.items)
        assert min(left, top) >= 4.0
        assert right <= page.width_mm - 4.0
        assert bottom <= page.height_mm - 4.0
        level = [(letters_box(text), text.text) for text in texts(page) if not text.turn_deg]
        for (one, words), (other, other_words) in combinations(level, 2):
            assert not overlap(one, other), f"{words!r} lies on {other_words!r}"


@EVERY_WHEEL
def test_marks_are_two_millimetres_or_more_and_no_pin_lies_on_another(on: Wheel) -> None:
    pins = lattice(on)
    layout = layout_of(on, A4, pins)
    for page in pin_sheets(on, pins, [], A4):
        marks = [box(mark) for mark in black_marks(page)]
        assert all(max(right - left, bottom - top) >= 2.0 - 1e-9 for left, top, right, bottom in marks)
        assert not any(overlap(one, other) for one, other in combinations(marks, 2))
    assert layout.mark_mm >= 2.0


def counts_on(
    page: Page, on: Wheel, pins: PinMap, paper: Paper, notes: SheetNotes = NO_NOTES
) -> tuple[list[int], list[int], int]:
    """The printed counts of a page: by channel down the right end, by step along the foot, and the corner."""
    layout = layout_of(on, paper, pins, notes)
    left, right = layout.lanes_right_mm, layout.lanes_right_mm + layout.count_column_mm
    numbers = [text for text in texts(page) if text.text.isdecimal()]
    ends = [text for text in numbers if left < text.x_mm < right]
    ends.sort(key=lambda text: text.y_mm)
    *channels, corner = ends
    foot = [text for text in numbers if abs(text.y_mm - corner.y_mm) < 1.5 and text.x_mm < left]
    foot.sort(key=lambda text: text.x_mm)
    return [int(text.text) for text in channels], [int(text.text) for text in foot], int(corner.text)


@EVERY_WHEEL
def test_printed_counts_are_the_maps_and_add_up(on: Wheel) -> None:
    pins = lattice(on, 4)
    layout = layout_of(on, A4, pins)
    steps = [int(on.rows[row].position_steps(index)) for row, index in zip(pins.row, pins.index.tolist(), strict=True)]
    cells = Counter(zip(pins.plate.tolist(), pins.channel.tolist(), steps, strict=True))
    total = 0
    for number, page in enumerate(pin_sheets(on, pins, bars_every(16, on), A4, NOTES)):
        plate, part_number = divmod(number, len(layout.parts))
        part = layout.parts[part_number]
        by_channel, by_step, corner = counts_on(page, on, pins, A4, NOTES)
        assert by_channel == [sum(cells[plate, lane, step] for step in part.steps) for lane in part.channels]
        assert by_step == [sum(cells[plate, lane, step] for lane in part.channels) for step in part.steps]
        assert sum(by_channel) == sum(by_step) == corner
        total += corner
    assert total == pins.pin_count


def words_on(page: Page) -> str:
    return "\n".join(text.text for text in texts(page))


def test_every_page_tells_what_it_is() -> None:
    on = WHEELS[1]
    pins = lattice(on)
    for plate, page in enumerate(pin_sheets(on, pins, bars_every(16, on), LETTER, NOTES)):
        words = words_on(page)
        for expected in (
            pins.title,
            f"Set B · plate {printed(plate)} of 6",
            "turn 2 of 3, bars 9 to 16 · song starts at plate 1, step 14 · scale 1:",
            f"{int((pins.plate == plate).sum())} pins on this plate · {pins.pin_count:,} in all",
            f"Edition: map {pin_map_sha256(pins)[:12]} · ♩ = 120 · wheel {on.name}",
            f"page {printed(plate)} of 6",
            "2 notes left out",
            CAUTION,
            CHECK_WORDS,
        ):
            assert expected in words
        assert page.title == f"{pins.title}, plate {printed(plate)} of 6"


def test_what_a_channel_sounds_is_printed_smaller_rather_than_left_out() -> None:
    wood = channel("wood block", [], [76, 77, 42])
    on = wheel([*(channel(f"bell {number}", [60 + number]) for number in range(21)), wood], steps_per_plate=32)
    for paper in PAPERS:
        for page in pin_sheets(on, lattice(on), bars_every(16, on), paper, NOTES):
            (name, _) = [text for text in texts(page) if text.text == "wood block"]
            (sound,) = [text for text in texts(page) if text.text == "drum 76/77/42"]
            assert 6 <= sound.size_mm / 25.4 * 72 <= name.size_mm / 25.4 * 72 + 1e-9
            assert not overlap(letters_box(name), letters_box(sound))


def test_the_legend_explains_what_occurs_in_the_song_and_nothing_else() -> None:
    def legend(on: Wheel, pins: PinMap) -> list[str]:
        words = words_on(pin_sheets(on, pins, [], A4)[0]).splitlines()
        first = next(place for place, line in enumerate(words) if line.startswith("pin in row"))
        return words[first : words.index(turns) + 1]

    turns = "turns this way, seen from outside"
    plain = [(0, 0, 0, 1, 0, -1), (0, 0, 0, 3, 0, -1)]
    long_too = [*plain, (1, 2, 2, 3, 1, -1)]
    seams = replace(SMALL, lost=(LostHole("on", 3),))
    lossless = replace(SMALL, geometry=replace(SMALL.geometry, min_wall_mm=0.0))
    assert legend(seams, pin_map(seams, plain)) == ["pin in row on", "hole", "lost hole", turns]
    assert legend(lossless, pin_map(lossless, plain)) == ["pin in row on", "hole", turns]
    assert legend(lossless, pin_map(lossless, long_too)) == [
        *("pin in row on", "pin in row triplet", "long peg pin", "no figure: peg pin"),
        *("hole", turns),
    ]


def test_each_part_of_a_cut_plate_tells_which_it_is() -> None:
    pins = lattice(LARGE)
    pages = pin_sheets(LARGE, pins, [], A4)
    layout = layout_of(LARGE, A4, pins)
    assert len(pages) == len(layout.parts) > 1
    for number, (page, part) in enumerate(zip(pages, layout.parts, strict=True)):
        words = words_on(page)
        assert f"Plate 1 of 1, part {printed(number)} of {len(pages)}" in words
        assert f"of the {pins.pin_count:,} pins on this plate" in words
        steps = f"{printed(part.steps.start)}–{part.steps.stop}"
        assert f"steps {steps}, channels {printed(part.channels.start)}–{part.channels.stop} only" in words
        dark = [shape for shape in expanded(page.items) if isinstance(shape, Path) and shape.pen.fill == 0.2]
        assert len(dark) == 1


def test_several_pin_types_are_counted_apart() -> None:
    pins = pin_map(SMALL, [(0, 0, 0, 1, 0, -1), (0, 0, 0, 3, 1, -1), (1, 0, 0, 3, 1, -1)])
    words = words_on(pin_sheets(SMALL, pins, [], A4)[0])
    assert "3 pins on this plate (1 peg, 2 long peg)" in words
    assert "long peg pin" in words
    assert "no figure: peg pin" in words


def test_a_plate_without_pins_has_no_sheet_unless_no_plate_has_any() -> None:
    on = WHEELS[1]
    pages = pin_sheets(on, pin_map(on, [(0, 1, 0, 1, 0, -1), (0, 4, 0, 1, 0, -1)]), [], A4)
    assert [f"Plate {plate} of 6" in words_on(page) for page, plate in zip(pages, (2, 5), strict=True)] == [True, True]
    assert len(pin_sheets(on, pin_map(on, []), [], A4)) == 6


def test_bars_are_named_where_they_begin_and_where_they_go_on() -> None:
    on = WHEELS[1]
    pages = pin_sheets(on, pin_map(on, []), bars_every(24, on, start=28), A3)
    labels = [
        [text.text for text in texts(page) if "bar " in text.text and text.bold and text.size_mm > 4] for page in pages
    ]
    assert labels[:3] == [["bar 7 goes on", "bar 8", "bar 1"], ["bar 1 goes on", "bar 2"], ["bar 2 goes on", "bar 3"]]


def test_bar_lines_are_the_heaviest_and_stand_at_their_place() -> None:
    on = WHEELS[1]
    layout = layout_of(on, A4, pin_map(on, []))
    page = pin_sheets(
        on, pin_map(on, []), [BarMark(Fraction(34), "1", (Fraction(76, 2),)), BarMark(Fraction(50), "end")], A4
    )[1]
    lanes = layout.top_mm + 1
    upright = [
        shape
        for shape in expanded(page.items)
        if isinstance(shape, Path)
        and len(shape.points) == 2
        and box(shape)[1] < lanes < box(shape)[3]
        and box(shape)[0] == box(shape)[2]
    ]
    heaviest = sorted({shape.pen.width_mm for shape in upright}, reverse=True)
    by_weight = {
        weight: [box(shape)[0] for shape in upright if shape.pen.width_mm == weight] for weight in heaviest[:2]
    }
    first = layout.left_mm
    pitch = layout.step_on_page_mm
    assert by_weight == {
        heaviest[0]: [pytest.approx(first + 2 * pitch), pytest.approx(first + 18 * pitch)],
        heaviest[1]: [pytest.approx(first + 6 * pitch)],
    }


def test_check_bars_are_a_hundred_millimetres_both_ways() -> None:
    assert CHECK_BAR_MM == 100.0
    for paper in PAPERS:
        page = pin_sheets(SMALL, pin_map(SMALL, []), [], paper)[0]
        outlines = [box(shape) for shape in expanded(page.items) if isinstance(shape, Path)]
        sides = {(round(right - left, 6), round(bottom - top, 6)) for left, top, right, bottom in outlines}
        assert sides >= {(100.0, 0.0), (0.0, 100.0)}


def test_more_rows_or_pin_types_than_marks_are_told() -> None:
    rows = tuple(Row(f"r{number}", (Fraction(number, 20),)) for number in range(13))
    many = wheel([channel("a", [60], rows=["r0"])], rows=rows)
    with pytest.raises(UsageError, match="marks for 12 rows, the wheel has 13"):
        pin_sheets(many, pin_map(many, []), [], A4)
    types = wheel(pin_types=tuple(PinType(f"p{number}", 1) for number in range(5)))
    with pytest.raises(UsageError, match="marks for 4 pin types, the wheel has 5"):
        pin_sheets(types, pin_map(types, []), [], A4)


def test_long_names_are_shortened_and_nothing_collides() -> None:
    rows = tuple(Row(f"row of a long name {number} " * 9, (Fraction(number, 12),)) for number in range(12))
    names = [row.name for row in rows]
    on = wheel(
        [channel(f"the very long name of channel {number} " * 3, range(40, 90), rows=names) for number in range(30)],
        name="Wheel " * 80,
        rows=rows,
        plate_count=1,
        steps_per_plate=16,
    )
    pins = replace(lattice(on, 50), title="A title that goes on " * 40)
    bars = [replace(bar, label="12, second time and so on") for bar in bars_every(2, on, beat=1)]
    for paper in PAPERS:
        page = pin_sheets(on, pins, bars, paper, SheetNotes("C" * 200, Fraction(1, 3), ("remark " * 90,)))[0]
        left, top, right, bottom = bounds_mm(page.items)
        assert (min(left, top) >= 4.0, right <= page.width_mm - 4.0, bottom <= page.height_mm - 4.0) == (True,) * 3
        level = [letters_box(text) for text in texts(page) if not text.turn_deg and text.text]
        assert not any(overlap(one, other) for one, other in combinations(level, 2))


@st.composite
def wheels(draw: st.DrawFn) -> Wheel:
    """Small wheels of many shapes."""
    names = draw(st.lists(st.text(max_size=12), min_size=1, max_size=14, unique=True))
    lateral = draw(st.sampled_from([0.0, 2.0, -3.0]))
    return wheel(
        [channel(name, [40 + number]) for number, name in enumerate(names)],
        pin_types=SMALL.pin_types,
        plate_count=draw(st.integers(1, 3)),
        steps_per_plate=2 * draw(st.integers(2, 28)),
        rows=tuple(replace(row, lateral_mm=lateral) if row.name == "half" else row for row in SMALL.rows),
        geometry=replace(SMALL.geometry, radius_mm=draw(st.floats(100, 900))),
    )


@settings(max_examples=20)
@given(st.data())
def test_any_pins_on_any_wheel_are_all_drawn_on_the_paper(data: st.DataObject) -> None:
    on = data.draw(wheels())
    pins = data.draw(pin_maps(on))
    paper = data.draw(st.sampled_from(PAPERS))
    pages = pin_sheets(on, pins, bars_every(4, on, beat=2), paper)
    assert sum(len(on_lanes(page, on, pins, paper)) for page in pages) == pins.pin_count
    for page in pages:
        left, top, right, bottom = bounds_mm(page.items)
        assert (left >= 0, top >= 0, right <= page.width_mm, bottom <= page.height_mm) == (True,) * 4
        assert sum(counts_on(page, on, pins, paper)[0]) == counts_on(page, on, pins, paper)[2]
        assert all(isinstance(item, Use | Path | Circle | Text) for item in page.items)


LONG_OUTCOME = "Whole song: 12,345 of 40,000 notes sound (1,234 share a pin); 17,655 left out: " + ", ".join(
    f"2,000 {reason}" for reason in ("no channel for this pitch", "past the end of the turn", "pins would touch") * 3
)


@EVERY_WHEEL
@EVERY_PAPER
@pytest.mark.parametrize("outcome", ["Whole song: all 204 notes sound; see the report.", LONG_OUTCOME])
def test_the_count_of_the_song_is_at_the_foot_in_full_and_over_nothing(on: Wheel, paper: Paper, outcome: str) -> None:
    pins = lattice(on, 7)
    notes = replace(NOTES, outcome=outcome)
    surround = pin_surround(on, pins, notes)
    layout = sheet_layout(on, paper, closest_pins(on, pins), surround)
    for page in pin_sheets(on, pins, bars_every(16, on), paper, notes):
        lines = [text for text in texts(page) if (text.x_mm, text.size_mm) == (MARGIN_MM, SMALL_MM)]
        words = " ".join(text.text for text in sorted(lines, key=lambda text: text.y_mm))
        beside = [text for text in texts(page) if text.text == CAUTION and text.x_mm > MARGIN_MM]
        assert words == f"{'' if beside else f'{CAUTION} '}{outcome} 2 notes left out"
        assert min(letters_box(line)[1] for line in lines) > layout.bottom_mm(layout.parts[0])
        assert overlapping_texts(page) == []
