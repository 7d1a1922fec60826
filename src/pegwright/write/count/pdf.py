"""The pin count as a printed page."""

from __future__ import annotations

from pegwright.draw.count_page import count_pages
from pegwright.draw.paper import Paper
from pegwright.note_count import NoteCount
from pegwright.show.count import PinCount
from pegwright.tell.counts import count_words
from pegwright.write.count.tables import count_tables, songs_words, spares_words, verdict
from pegwright.write.pdf import pdf_bytes


def count_pdf(count: PinCount, paper: Paper, notes: NoteCount | None = None, song: str = "") -> bytes:
    """The pin count as PDF; the same count gives the same bytes.

    Args:
        count: of pins.
        paper: held upright.
        notes: of the song, where it is one.
        song: its name, where it is one; several maps are then its sets of plates.
    """
    title = songs_words(count, song)
    facts = f"{count.wheel_name} · {spares_words(count)}"
    words = verdict(count.needs, [need.name for need in count.needs])
    remark = f"{count_words(notes)}." if notes else ""
    return pdf_bytes(count_pages(title, facts, words, count_tables(count), paper, remark), f"{title}: pin count")
