"""The pages of a printed document by its outline, as pypdf, pdfplumber and PDFium read it."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

import pdfplumber
import pypdf
import pypdfium2


def outline_of(data: bytes) -> list[tuple[int, str, int]]:
    """The entries of the outline: depth, words and page, all from 0."""
    reader = pypdf.PdfReader(BytesIO(data))
    found: list[tuple[int, str, int]] = []

    def gather(entries: list[Any], level: int) -> None:
        for entry in entries:
            if isinstance(entry, list):
                gather(entry, level + 1)
            else:
                found.append((level, str(entry.title), int(reader.get_destination_page_number(entry) or 0)))

    gather(reader.outline, 0)
    return found


def page_texts(data: bytes) -> list[str]:
    """The words of every page, by PDFium, which reads a page in a hundredth of the time that its shapes take."""
    return [page.get_textpage().get_text_bounded().replace("\r\n", "\n") for page in pypdfium2.PdfDocument(data)]


class ReadPage:
    """A page whose words PDFium reads and whose shapes pdfplumber reads, when they are asked for."""

    def __init__(self, text: str, shapes: Any) -> None:  # noqa: ANN401  # pdfplumber ships no types
        self._text, self._shapes = text, shapes

    def extract_text(self) -> str:
        return self._text

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401  # as above
        return getattr(self._shapes, name)


def pages_of(source: Path | bytes, *titles: str) -> list[Any]:
    """The pages of the sections of these titles, one within the other; all pages where none is given."""
    data = source if isinstance(source, bytes) else source.read_bytes()
    pages = [ReadPage(*both) for both in zip(page_texts(data), pdfplumber.open(BytesIO(data)).pages, strict=True)]
    outline = outline_of(data)
    first, last = 0, len(pages)
    for title in titles:
        place = next(place for place, (_, words, page) in enumerate(outline) if words == title and first <= page < last)
        level, _, first = outline[place]
        last = next((page for depth, _, page in outline[place + 1 :] if depth <= level), last)
    return pages[first:last]
