"""A document to print: sections one after another behind a cover, with the same page numbers on paper and screen."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from pegwright.draw.cover import ContentsLine, Cover, cover_count, cover_pages
from pegwright.draw.paper import Paper
from pegwright.draw.sheet_style import SheetStyle
from pegwright.drawing import Anchor, Page, Shape, Text, Use
from pegwright.errors import UsageError
from pegwright.frozen import frozen

_PAGE_OF = re.compile(r"page \d+ of \d+$")


@frozen()
class PrintSection:
    """Pages that belong together.

    Args:
        title: in the contents and in the outline.
        pages: its own.
        parts: sections within it, after its own pages.
        facts: beside the title in the contents, such as how many pins move; may be empty.
        sheets: whether its pages are sheets of plates.
    """

    title: str
    pages: tuple[Page, ...] = ()
    parts: tuple[PrintSection, ...] = ()
    facts: str = ""
    sheets: bool = False


@frozen()
class Bookmark:
    """An entry of the outline: its depth from 0, its words, and the page it leads to, 0-based."""

    level: int
    title: str
    page: int


@frozen()
class Document:
    """Pages in order, with their printed numbers and an outline.

    Args:
        title: of the document.
        pages: as they are printed.
        numbers: of the pages, from 1; not one after another where only some pages are printed.
        outline: in order.
    """

    title: str
    pages: tuple[Page, ...]
    numbers: tuple[int, ...]
    outline: tuple[Bookmark, ...]


def document(cover: Cover, sections: Sequence[PrintSection], paper: Paper, style: SheetStyle) -> Document:
    """The document of sections, or the pages of it that the style asks for.

    Args:
        cover: in front; the contents are on it.
        sections: in order, each of them with pages.
        paper: of the cover, held upright.
        style: says whether only sheets or only some pages are printed.

    Raises:
        UsageError: a page is asked for that the document does not have, or nothing is left.
    """
    flat = list(_flat(sections, 0))
    front = cover_count(cover, len(flat), paper)
    numbers = _first_numbers(flat, front + 1)
    lines = [
        ContentsLine(level, section.title, section.facts, number, number + _size(section) - 1)
        for (level, section), number in zip(flat, numbers, strict=True)
    ]
    pages = [*cover_pages(cover, lines, paper), *(page for _, section in flat for page in section.pages)]
    sheets = [False] * front + [section.sheets for _, section in flat for _ in section.pages]
    outline = [Bookmark(0, cover.title, 0)]
    for (level, section), number in zip(flat, numbers, strict=True):
        outline.append(Bookmark(level, section.title, number - 1))
        outline += [Bookmark(level + 1, page.title, number - 1 + at) for at, page in enumerate(section.pages)]
    kept = [number for number in _wanted(style, len(pages)) if sheets[number - 1] or not style.sheets_only]
    if not kept:
        raise UsageError("none of these pages is a sheet", where="--pages", hint="leave out --sheets, or --pages")
    printed = tuple(_numbered(pages[number - 1], number) for number in kept)
    return Document(cover.title, printed, tuple(kept), _kept_outline(outline, kept))


def _flat(sections: Sequence[PrintSection], level: int) -> Iterator[tuple[int, PrintSection]]:
    for section in sections:
        yield level, section
        yield from _flat(section.parts, level + 1)


def _size(section: PrintSection) -> int:
    return len(section.pages) + sum(map(_size, section.parts))


def _first_numbers(flat: Sequence[tuple[int, PrintSection]], first: int) -> list[int]:
    numbers = []
    for _, section in flat:
        numbers.append(first)
        first += len(section.pages)
    return numbers


def _wanted(style: SheetStyle, count: int) -> list[int]:
    """Numbers of the pages that the style asks for, those of all pages where it asks for none."""
    if not style.pages:
        return list(range(1, count + 1))
    last = max(end for _, end in style.pages)
    if last > count:
        message = f"page {last} is asked for, and the document has {count}"
        raise UsageError(message, where="--pages", hint=f"name pages from 1 to {count}")
    return sorted({number for begin, end in style.pages for number in range(begin, end + 1)})


def _kept_outline(outline: Sequence[Bookmark], kept: Sequence[int]) -> tuple[Bookmark, ...]:
    """The entries with a page that is kept; a section of which only later pages are kept leads to the first of them."""
    places = {number - 1: place for place, number in enumerate(kept)}
    if len(places) == max(kept):
        return tuple(outline)
    entries: list[Bookmark] = []
    for place, entry in enumerate(outline):
        end = next((other.page for other in outline[place + 1 :] if other.level <= entry.level), max(kept))
        here = [places[page] for page in range(entry.page, max(end, entry.page + 1)) if page in places]
        entries += [replace(entry, page=here[0])] if here else []
    return tuple(entries)


def _numbered(page: Page, number: int) -> Page:
    """The page with its number in the document in place of the number within its part."""
    return replace(page, items=tuple(_renumbered(item, number) for item in page.items))


def _renumbered(item: Shape | Use, number: int) -> Shape | Use:
    if isinstance(item, Text) and item.anchor is Anchor.END and _PAGE_OF.search(item.text):
        return replace(item, text=_PAGE_OF.sub(f"page {number}", item.text))
    return item
