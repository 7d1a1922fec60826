from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from drawn import box, expanded, overlapping_texts, stays_on_paper, texts
from pegwright.draw.overview import OverviewRow, minutes, most_hurried, overview_pages
from pegwright.draw.paper import A3, A4, PAPERS, Paper
from pegwright.drawing import Page, Path
from placed import TITLES

FIRST = OverviewRow(0, "The Lantern Waltz", "A", "plate 1, step 1", 0, 500_000, 151.0, 0, 120, 0, 312.0, None)
SHOW = (
    FIRST,
    OverviewRow(1, "Driftwood Reel", "B", "plate 3, step 9", -2, 400_000, 95.0, 0, 88, 0, 230.0, None),
    OverviewRow(2, "Kelp Quadrille", "A", "plate 2, step 17", 5, 600_000, 200.0, 70, 64, 50, 240.2, 300.9),
    OverviewRow(3, "Gull Gavotte", "B", "plate 6, step 32", 0, 512_000, 180.0, 40, 33, 55, 150.0, 160.0),
    OverviewRow(4, "Shingle Schottische", "A", "", 0, 500_000, 60.4, 1_100, 1_204, 0, 900.0, 600.0),
)


def words(page: Page) -> list[str]:
    return [text.text for text in texts(page)]


def line_of(page: Page, title: str) -> list[str]:
    """Words that stand in one line with a title, from left to right."""
    (at,) = [text for text in texts(page) if text.text == title and text.size_mm < 6]
    return [text.text for text in sorted(texts(page), key=lambda it: it.x_mm) if abs(text.y_mm - at.y_mm) < 1.0]


def test_every_song_is_a_line_with_all_that_is_known_of_it() -> None:
    (page,) = overview_pages("Saturday", "Test wheel", SHOW, A4)
    assert line_of(page, "Kelp Quadrille") == [
        *("3", "Kelp Quadrille", "A", "plate 2, step 17", "+5", "100", "3:20", "70", "64", "50", "114", "4:01", "5:00"),
    ]
    assert line_of(page, "The Lantern Waltz")[-1] == "before the show"
    assert line_of(page, "total") == ["total", "11:26", "1,210", "1,509", "105", "30:33"]
    assert {"Saturday", "Show overview", "Test wheel · 5 songs · 11:26 of music · 2,719 pins to move"} <= set(
        words(page)
    )


def test_needed_is_rounded_up_and_what_there_is_down() -> None:
    assert minutes(59.6) == "1:00"
    row = replace(FIRST, title="x", needed_s=60.01, available_s=60.99)
    line = line_of(overview_pages("t", "w", [row], A4)[0], "x")
    assert line[-2:] == ["1:01", "1:00"]


def bars(page: Page, grey: float) -> list[tuple[float, ...]]:
    shapes = [shape for shape in expanded(page.items) if isinstance(shape, Path) and shape.closed]
    return sorted((box(shape) for shape in shapes if shape.pen.fill == grey), key=lambda it: it[1])


def test_bars_are_as_long_as_their_times() -> None:
    (page,) = overview_pages("Saturday", "Test wheel", SHOW, A4)
    needed, available = bars(page, 0.0), bars(page, 0.86)
    assert len(needed) == len(available) == 3
    unit = (needed[2][2] - needed[2][0]) / 900.0
    for made, seconds in ((needed, (240.2, 150.0, 900.0)), (available, (300.9, 160.0, 600.0))):
        assert [right - left for left, _, right, _ in made] == pytest.approx([unit * it for it in seconds])
    assert len({round(left, 6) for left, *_ in (*needed, *available)}) == 1
    labels = [text for text in texts(page) if text.text.isdecimal() and text.x_mm > needed[0][0] - 1 and text.grey]
    assert len(labels) >= 4
    for label in labels:
        assert label.x_mm == pytest.approx(needed[0][0] + unit * 60 * int(label.text))


def test_the_most_hurried_swap_stands_out() -> None:
    assert most_hurried(SHOW) == 4
    assert most_hurried(SHOW[:4]) == 3  # 150 of 160 s, though the third needs more
    assert most_hurried(SHOW[:2]) is None
    assert most_hurried([replace(FIRST, needed_s=1.0, available_s=0.0), SHOW[4]]) == 0
    assert most_hurried([replace(FIRST, needed_s=0.0, available_s=0.0)]) is None
    (page,) = overview_pages("Saturday", "Test wheel", SHOW, A4)
    assert (
        "1 swap will not be ready in time. The most hurried, for 5 Shingle Schottische, needs 15:00 and has 10:00."
        in words(page)
    )
    bold = {text.text for text in texts(page) if text.bold and text.size_mm < 4}
    assert {"Shingle Schottische", "15:00", "10:00"} <= bold
    assert "Gull Gavotte" not in bold
    (fits,) = overview_pages("Saturday", "Test wheel", SHOW[:4], A4)
    assert "Every swap fits. The most hurried, for 4 Gull Gavotte, needs 2:30 and has 2:40." in words(fits)
    (before,) = overview_pages("Saturday", "Test wheel", SHOW[:2], A4)
    assert "No swap is done during the show." in words(before)
    framed = [shape for shape in expanded(page.items) if isinstance(shape, Path) and shape.pen.width_mm == 0.6]
    assert len(framed) == 1


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_many_songs_go_on_over_pages_and_only_the_last_has_the_totals(paper: Paper) -> None:
    rows = [replace(SHOW[2 + n % 3], position=n, title=f"Song {n}") for n in range(60)]
    pages = overview_pages("Season", "Test wheel", rows, paper)
    assert len(pages) > 1
    listed = [word for page in pages for word in words(page) if word.startswith("Song ")]
    assert listed == [f"Song {n}" for n in range(60)]
    assert ["total" in words(page) for page in pages] == [False] * (len(pages) - 1) + [True]
    assert all(stays_on_paper(page) and not overlapping_texts(page) for page in pages)


def test_no_songs_are_a_page_all_the_same() -> None:
    (page,) = overview_pages("Nothing yet", "Test wheel", [], A4)
    assert "total" in words(page)
    assert stays_on_paper(page)


@pytest.mark.parametrize("title", TITLES, ids=ascii)
def test_no_title_breaks_the_page(title: str) -> None:
    rows = [replace(row, title=title, set_name=title, start_text=title) for row in SHOW]
    for paper in PAPERS:
        for page in overview_pages(title, title, rows, paper):
            assert stays_on_paper(page)
            assert overlapping_texts(page) == []


ROWS = st.builds(
    OverviewRow,
    position=st.integers(0, 99),
    title=st.text(max_size=60),
    set_name=st.sampled_from(["A", "B", "A B A"]),
    start_text=st.sampled_from(["", "plate 12, step 31.5"]),
    transpose_semitones=st.integers(-24, 24),
    us_per_quarter=st.integers(100_000, 5_000_000),
    duration_s=st.floats(0, 5000),
    pull=st.integers(0, 9999),
    set_pins=st.integers(0, 9999),
    stay=st.integers(0, 9999),
    needed_s=st.floats(0, 40_000),
    available_s=st.none() | st.floats(0, 9000),
)


@settings(max_examples=40)
@example([replace(FIRST, needed_s=12_600.0, available_s=0.0)], A3)
@given(st.lists(ROWS, max_size=8), st.sampled_from(PAPERS))
def test_any_show_stays_on_the_paper(rows: list[OverviewRow], paper: Paper) -> None:
    for page in overview_pages("Any", "Test wheel", rows, paper):
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []
    worst = most_hurried(rows)
    if worst is not None:
        assert rows[worst].hurry == max(row.hurry for row in rows)
        assert rows[worst].hurry > 0
        assert not math.isnan(rows[worst].hurry)


def test_a_swap_that_waits_for_people_says_so() -> None:
    """Else `needs` and `has` seem to say that there is time enough."""
    busy = [replace(row, late_s=29.0) if row.position in {2, 3} else row for row in SHOW]
    told = "Songs 3 and 4 wait because the same people are still busy with an earlier swap."
    (page,) = overview_pages("Saturday", "Test wheel", busy, A4)
    assert any(line.endswith(told) for line in words(page))
    (page,) = overview_pages("Saturday", "Test wheel", [*SHOW[:3], replace(SHOW[3], late_s=29.0), SHOW[4]], A4)
    assert any(line.endswith(told.replace("Songs 3 and 4 wait", "Song 4 waits")) for line in words(page))
    (page,) = overview_pages("Saturday", "Test wheel", [*SHOW[:4], replace(SHOW[4], late_s=300.0)], A4)
    assert not any("busy" in line for line in words(page)), "it needs more time than there is"
