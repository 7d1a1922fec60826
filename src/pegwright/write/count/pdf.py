"""The pin count as a printed page."""

from __future__ import annotations

from pegwright.draw.count_page import count_pages
from pegwright.draw.paper import Paper
from pegwright.show.count import PinCount
from pegwright.units import plural
from pegwright.write.count.tables import count_tables, spares_words, verdict
from pegwright.write.pdf import pdf_bytes


def count_pdf(count: PinCount, paper: Paper) -> bytes:
    """The pin count as PDF; the same count gives the same bytes."""
    title = count.songs[0] if len(count.songs) == 1 else plural(len(count.songs), "song")
    facts = f"{count.wheel_name} · {spares_words(count)}"
    words = verdict(count.needs, [need.name for need in count.needs])
    return pdf_bytes(count_pages(title, facts, words, count_tables(count), paper), f"{title}: pin count")
