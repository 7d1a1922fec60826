"""The pin count of a song as printed pages."""

from __future__ import annotations

from pegwright.draw.count_page import count_pages
from pegwright.draw.paper import Paper
from pegwright.drawing import Page
from pegwright.note_count import NoteCount
from pegwright.show.count import PinCount
from pegwright.tell.counts import count_words
from pegwright.write.count.tables import count_tables, songs_words, spares_words, verdict


def song_count_pages(count: PinCount, paper: Paper, notes: NoteCount | None = None, song: str = "") -> tuple[Page, ...]:
    """The pin count of a song, or of several, as pages.

    Args:
        count: of pins.
        paper: held upright.
        notes: of the song, where it is one.
        song: its name, where it is one; several maps are then its sets of plates.
    """
    facts = f"{count.wheel_name} · {spares_words(count)}"
    words = verdict(count.needs, [need.name for need in count.needs])
    remark = f"{count_words(notes)}." if notes else ""
    return count_pages(songs_words(count, song), facts, words, count_tables(count, song), paper, remark)
