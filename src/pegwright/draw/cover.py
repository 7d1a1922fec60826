"""The cover of a document: what it is for, and its contents with page numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pegwright.cautions import TOUCH
from pegwright.draw.furniture import GREY, MARGIN_MM, SMALL_LINE_MM, SMALL_MM, fitted_text, foot
from pegwright.draw.lettering import fitted, width_mm, wrapped
from pegwright.draw.paper import Paper
from pegwright.drawing import Anchor, Page, Path, Pen, Shape, Text
from pegwright.frozen import frozen
from pegwright.units import printed

TITLE_MM, TITLE_LINE_MM, MAX_TITLE_LINES = 10.0, 12.5, 2
SUBJECT_MM, SUBJECT_LINE_MM = 5.4, 9.0
FACT_MM, FACT_LINE_MM, MAX_FACT_LINES = 4.0, 6.0, 20
CONTENTS, CONTENTS_HEAD_MM = "Contents", 15.0
LINES_MM, TEXT_MM, MORE_MM = (7.0, 6.4, 5.8), 4.4, 3.8  # from line to line: the widest that takes fewest pages
INDENT_MM, GAP_MM, NUMBERS_MM = 6.0, 3.0, 24.0
TOP_MM, PAGE_ROOM_MM, BOTTOM_GAP_MM = 10.0, 36.0, 4.0
PRINT = "Print at 100 %, not fitted to the page: the bars in the margins of the sheets must measure 100 mm."
_RULE = Pen(stroke=0.0, width_mm=0.5)
_LEADER = Pen(stroke=0.55, width_mm=0.25, dash_mm=(0.25, 1.5))


@frozen()
class Cover:
    """What is printed on the cover: the document's title, what it is, and facts, each on lines of its own."""

    title: str
    subject: str
    facts: tuple[str, ...]


@frozen()
class ContentsLine:
    """A line of the contents.

    Args:
        level: depth of the section, from 0.
        words: its title.
        facts: beside that; may be empty.
        first, last: its pages, from 1.
    """

    level: int
    words: str
    facts: str
    first: int
    last: int


def cover_count(cover: Cover, lines: int, paper: Paper) -> int:
    """How many pages a cover takes with a number of lines of contents.

    Args:
        cover: what is printed above the contents.
        lines: of the contents.
        paper: held upright.
    """
    return len(_cut(cover, lines, paper)[0])


def cover_pages(cover: Cover, lines: Sequence[ContentsLine], paper: Paper) -> tuple[Page, ...]:
    """The cover, with as many further pages of contents as they need.

    Args:
        cover: what is printed above the contents.
        lines: of the contents.
        paper: held upright.
    """
    cuts, line_mm = _cut(cover, len(lines), paper)
    width, height = paper.short_mm, paper.long_mm
    small = _small_print(paper)
    pages = []
    for number, part in enumerate(cuts):
        page = f"page {printed(number)} of {len(cuts)}"
        top = MARGIN_MM + TOP_MM if number else _head_mm(cover, paper)
        head = () if number else _head(cover, paper)
        items = (
            *head,
            *_contents(lines[part.start : part.stop], top, line_mm, paper),
            *foot(width, height, page, small),
        )
        pages.append(Page(width, height, items, f"{cover.title}, contents, {page}" if number else cover.title))
    return tuple(pages)


def _cut(cover: Cover, lines: int, paper: Paper) -> tuple[list[range], float]:
    """Which lines of the contents each page has, and how far apart they are."""
    bottom = paper.long_mm - MARGIN_MM - BOTTOM_GAP_MM - SMALL_LINE_MM * len(_small_print(paper))
    rooms = [bottom - top - CONTENTS_HEAD_MM for top in (_head_mm(cover, paper), MARGIN_MM + TOP_MM)]
    tried = []
    for line_mm in (share * paper.zoom for share in LINES_MM):
        first, further = (max(1, int(room / line_mm)) for room in rooms)
        starts = [0, *range(first, lines, further)]
        cuts = [range(start, stop) for start, stop in zip(starts, [*starts[1:], lines], strict=True)]
        tried.append((cuts, line_mm))
    return min(tried, key=lambda cut: len(cut[0]))


def _room_mm(paper: Paper) -> float:
    return paper.short_mm - 2 * MARGIN_MM


def _small_print(paper: Paper) -> list[str]:
    return wrapped(" ".join(TOUCH), SMALL_MM, _room_mm(paper) - PAGE_ROOM_MM)


def _title_lines(cover: Cover, paper: Paper) -> list[str]:
    size_mm, room_mm = TITLE_MM * paper.zoom, _room_mm(paper)
    lines = wrapped(cover.title, 1.08 * size_mm, room_mm)  # bold letters are wider
    return [fitted(line, size_mm, room_mm, bold=True) for line in lines[:MAX_TITLE_LINES]]


def _fact_lines(cover: Cover, paper: Paper) -> list[str]:
    facts = (*cover.facts, PRINT)
    return [line for fact in facts for line in wrapped(fact, FACT_MM * paper.zoom, _room_mm(paper))][-MAX_FACT_LINES:]


def _head_mm(cover: Cover, paper: Paper) -> float:
    """Where the contents begin."""
    lines = TITLE_LINE_MM * len(_title_lines(cover, paper)) + FACT_LINE_MM * len(_fact_lines(cover, paper))
    return MARGIN_MM + TOP_MM + paper.zoom * (lines + SUBJECT_LINE_MM)


def _head(cover: Cover, paper: Paper) -> Iterator[Shape]:
    zoom, y_mm, room_mm = paper.zoom, MARGIN_MM + TOP_MM, _room_mm(paper)
    for line in _title_lines(cover, paper):
        yield Text(MARGIN_MM, y_mm, line, TITLE_MM * zoom, bold=True)
        y_mm += TITLE_LINE_MM * zoom
    yield fitted_text(MARGIN_MM, y_mm - 2.0 * zoom, cover.subject, SUBJECT_MM * zoom, room_mm, bold=True)
    y_mm += SUBJECT_LINE_MM * zoom
    for line in _fact_lines(cover, paper):
        yield Text(MARGIN_MM, y_mm, line, FACT_MM * zoom)
        y_mm += FACT_LINE_MM * zoom


def _contents(lines: Sequence[ContentsLine], top_mm: float, line_mm: float, paper: Paper) -> Iterator[Shape]:
    """The contents of one page.

    Args:
        lines: on it.
        top_mm: where they begin.
        line_mm: from one to the next.
        paper: held upright.
    """
    zoom, right = paper.zoom, paper.short_mm - MARGIN_MM
    y_mm = top_mm + 6.0
    yield Text(MARGIN_MM, y_mm, CONTENTS, SUBJECT_MM * zoom, bold=True)
    yield Text(right, y_mm, "page", MORE_MM * zoom, Anchor.END, grey=GREY)
    yield Path(((MARGIN_MM, y_mm + 2.5), (right, y_mm + 2.5)), _RULE)
    y_mm += CONTENTS_HEAD_MM - 6.0
    for line in lines:
        yield from _line(line, y_mm, paper)
        y_mm += line_mm


def _line(line: ContentsLine, y_mm: float, paper: Paper) -> Iterator[Shape]:
    """Title and facts at the left, pages at the right, dots between."""
    zoom, right, bold = paper.zoom, paper.short_mm - MARGIN_MM, line.level == 0
    size_mm, left = TEXT_MM * zoom, MARGIN_MM + line.level * INDENT_MM * zoom
    numbers = str(line.first) if line.first == line.last else f"{line.first}–{line.last}"
    room_mm = right - left - NUMBERS_MM * zoom
    words = fitted(line.words, size_mm, room_mm, bold)
    yield Text(left, y_mm, words, size_mm, bold=bold)
    end = left + width_mm(words, size_mm, bold) + GAP_MM
    more = fitted(line.facts, MORE_MM * zoom, max(0.0, left + room_mm - end))
    if more:
        yield Text(end, y_mm, more, MORE_MM * zoom, grey=GREY)
        end += width_mm(more, MORE_MM * zoom) + GAP_MM
    begin = right - width_mm(numbers, size_mm, bold) - GAP_MM
    if begin > end:
        yield Path(((end, y_mm), (begin, y_mm)), _LEADER)
    yield Text(right, y_mm, numbers, size_mm, Anchor.END, bold=bold)
