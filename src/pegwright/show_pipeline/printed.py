"""What is printed of a show: one document of the evening, in the order of the work."""

from __future__ import annotations

from collections.abc import Iterator

from pegwright.draw.bars import bar_marks
from pegwright.draw.count_page import count_pages
from pegwright.draw.cover import Cover
from pegwright.draw.document import Document, PrintSection, document
from pegwright.draw.overview import OverviewRow, free_time, minutes, overview_pages, work_time
from pegwright.draw.paper import Paper
from pegwright.draw.plate_page import SheetNotes
from pegwright.draw.sheet_style import SheetStyle
from pegwright.show.show import Pinned, Show
from pegwright.show_pipeline.plan import PlannedShow
from pegwright.song import FittedSong
from pegwright.song_pipeline.printed import label_sections, place_words, swap_sections, wheel_words
from pegwright.units import fraction_text, plural, printed
from pegwright.write.count.tables import spares_words
from pegwright.write.qr import map_qr
from pegwright.write.show.count import pins_by_place, show_count_tables, verdict_words
from pegwright.write.show.text import verdict

SUBJECT = "Overview, swap sheets, call lists and pin count"


def show_document(planned: PlannedShow, paper: Paper, style: SheetStyle) -> Document:
    """The document of an evening: overview, then for each swap its sheets and its call list, then the pin count.

    Args:
        planned: the show.
        paper: that it is printed on.
        style: of its sheets.

    Raises:
        UsageError: a page is asked for that the document does not have.
    """
    show = planned.show
    overview = overview_pages(show.title, show.wheel.name, overview_rows(show), paper)
    facts = f"{show.wheel.name} · {spares_words(pins_by_place(show))}"
    count = count_pages(show.title, facts, verdict_words(show), show_count_tables(show), paper)
    sections = [
        PrintSection("Show overview", overview),
        *_swaps(planned, paper, style),
        PrintSection("Pin count", count, facts=verdict_words(show)),
        *label_sections(show.wheel, paper, style),
    ]
    return document(Cover(show.title, SUBJECT, tuple(_cover_facts(show))), sections, paper, style)


def _swaps(planned: PlannedShow, paper: Paper, style: SheetStyle) -> Iterator[PrintSection]:
    show = planned.show
    for pinned, (song, pinning) in zip(show.pinned, planned.fitted, strict=True):
        marks = bar_marks(song.pinnings[pinning].score, show.wheel, song.pinnings[pinning].placement)
        notes = _notes(pinned, song, pinning, style)
        parts = swap_sections(show.wheel, pinned.swap, (pinned.old, pinned.pins), paper, notes, tuple(marks))
        title = f"{printed(pinned.place)} {show.song_of(pinned).title} {pinned.letter}".strip()
        yield PrintSection(title, parts=tuple(parts), facts=_when(pinned))


def _notes(pinned: Pinned, song: FittedSong, pinning: int, style: SheetStyle) -> SheetNotes:
    set_name, place = f"{printed(pinned.plate_set)}", place_words(song, pinning)
    return SheetNotes(set_name, pinned.start_steps, qr=map_qr(pinned.pins), place=place, style=style)


def _when(pinned: Pinned) -> str:
    """On which set of plates, and the time that there is."""
    plates = f"set {printed(pinned.plate_set)} of plates"
    if pinned.available_s is None:
        return f"{plates}, before the show"
    return f"{plates}, needs {work_time(pinned.needed_s)}, has {free_time(pinned.available_s)}"


def _cover_facts(show: Show) -> Iterator[str]:
    yield f"{wheel_words(show.wheel)}, {plural(len(show.carried), 'set')} of plates"
    songs, music_s = plural(len(show.songs), "song"), sum(show.music_s(song) for song in show.songs)
    yield f"{songs}, {minutes(music_s)} of music"
    yield from verdict(show)


def overview_rows(show: Show) -> list[OverviewRow]:
    """The overview of a show, a row for everything that is pinned."""
    rows = []
    for number, pinned in enumerate(show.pinned):
        song = show.song_of(pinned)
        first = song.pinned[0] == number
        rows.append(
            OverviewRow(
                position=pinned.place,
                title=song.title,
                set_name=f"{printed(pinned.plate_set)} {pinned.letter}".strip(),
                start_text=f"step {fraction_text(printed(pinned.start_steps))}",
                transpose_semitones=song.transpose_semitones,
                us_per_quarter=song.us_per_quarter,
                duration_s=show.music_s(song) if first else 0.0,
                pull=pinned.swap.pull.count,
                set_pins=pinned.swap.set_pins.count,
                stay=pinned.swap.stay.count,
                needed_s=pinned.needed_s,
                available_s=pinned.available_s,
                late_s=pinned.late_s,
                stops_s=show.stops_s(song) if first else 0.0,
            )
        )
    return rows
