from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drawn import overlapping_texts, stays_on_paper, texts
from pegwright.draw.count_page import CountTable, count_pages
from pegwright.draw.paper import A4, PAPERS, Paper
from pegwright.drawing import Page
from placed import TITLES

PLATES = CountTable(("Plate", "pins"), (("plate 1", "25"), ("plate 2", "0")), ("total", "25"))
CHANNELS = CountTable(
    ("Channel", "plain", "early", "all"),
    (("bell", "3", "1", "4"), ("drum", "21", "0", "21")),
    ("total", "24", "1", "25"),
    ("9", "10"),
    "22 other channels without a pin",
)


def lines(page: Page) -> list[list[str]]:
    """Words that stand in one line, from left to right, lines from top to bottom; the upper left column first."""
    found: dict[tuple[bool, float], list[tuple[float, str]]] = {}
    for text in texts(page):
        middle = text.y_mm - 0.729 * text.size_mm / 2
        right = text.x_mm > page.width_mm / 2
        found.setdefault((right, round(middle, 2)), []).append((text.x_mm, text.text))
    return [[word for _, word in sorted(found[key])] for key in sorted(found)]


def test_tables_stand_as_they_are() -> None:
    (page,) = count_pages("Air", "A wheel", "the stock is enough", [PLATES, CHANNELS], A4)
    found = lines(page)
    for expected in (
        ["Plate", "pins"],
        ["plate 1", "25"],
        ["plate 2", "0"],
        ["total", "25"],
        ["Channel", "plain", "early", "all"],
        ["9", "bell", "3", "1", "4"],
        ["10", "drum", "21", "0", "21"],
        ["total", "24", "1", "25"],
        ["22 other channels without a pin"],
        ["the stock is enough"],
    ):
        assert expected in found
    assert page.title == "Air, pin count, page 1 of 1"


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_long_tables_go_on_with_their_head(paper: Paper) -> None:
    rows = tuple((f"channel {number}", str(number)) for number in range(300))
    table = CountTable(("Channel", "pins"), rows, ("total", "44,850"), tuple(map(str, range(1, 301))))
    pages = count_pages("Air", "A wheel", "nothing", [PLATES, table], paper)
    assert len(pages) > 1
    words = [text.text for page in pages for text in texts(page)]
    assert [word for word in words if word.startswith("channel ")] == [row[0] for row in rows]
    assert words.count("Channel") > 1
    assert words[-1] == "44,850" or "44,850" in words
    for page in pages:
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []


def test_more_columns_than_there_is_room_for_get_smaller_letters() -> None:
    names = tuple(f"type {number}" for number in range(12))
    table = CountTable(("Song", *names), (("A song", *["1,234"] * 12),), ("total", *["1,234"] * 12))
    for paper in PAPERS:
        (page,) = count_pages("Air", "A wheel", "nothing", [table], paper)
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []
        assert [text.text for text in texts(page)].count("1,234") == 24


def test_a_long_name_goes_on_in_a_line_below_and_is_not_cut() -> None:
    name = "The Long Waltz of the Many Empty Deckchairs upon the Sands at Evening"
    rows = (("Reel", "1", "2", "3"), (name, "4", "5", "6"), ("Jig", "7", "8", "9"))
    table = CountTable(("Pinned for", "pull", "set", "stay"), rows, ("total", "12", "15", "18"))
    for paper in PAPERS:
        (page,) = count_pages("Evening", "A wheel", "nothing", [table], paper)
        assert overlapping_texts(page) == []
        words = [text.text for text in texts(page)]
        parts = words[words.index("3") + 1 : words.index("4")]
        assert len(parts) > 1
        assert " ".join(parts) == name


@pytest.mark.parametrize("title", TITLES, ids=ascii)
def test_no_title_breaks_the_page(title: str) -> None:
    table = CountTable((title, "pins"), ((title, "1"),), ("total", "1"), ("1",), title)
    for page in count_pages(title, title, title, [table], A4):
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []


WORDS = st.text(max_size=30)


@st.composite
def tables(draw: st.DrawFn) -> CountTable:
    columns = draw(st.integers(1, 6))
    cells = st.lists(st.sampled_from(["0", "7", "12,345"]), min_size=columns, max_size=columns)
    rows = tuple((draw(WORDS), *draw(cells)) for _ in range(draw(st.integers(0, 9))))
    numbers = tuple(str(number) for number in range(len(rows))) if draw(st.booleans()) else ()
    head = (draw(WORDS), *(draw(st.sampled_from(["pins", "in stock", "a longer name"])) for _ in range(columns)))
    return CountTable(head, rows, ("total", *draw(cells)), numbers, draw(st.sampled_from(["", "and others"])))


@settings(max_examples=20)
@given(st.lists(tables(), max_size=4), st.sampled_from(PAPERS))
def test_any_tables_stay_on_the_paper(made: list[CountTable], paper: Paper) -> None:
    pages = count_pages("Any", "facts", "verdict", made, paper)
    for page in pages:
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []
    totals = [text.text for page in pages for text in texts(page) if text.text == "total"]
    assert len(totals) >= len(made)
