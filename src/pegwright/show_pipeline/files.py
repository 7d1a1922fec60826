"""Every file of a show: the plan, the count, each swap, and each song."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from pegwright.draw.bars import BarMark
from pegwright.draw.call_list import call_pages
from pegwright.draw.count_page import count_pages
from pegwright.draw.overview import OverviewRow, free_time, minutes, overview_pages, work_time
from pegwright.draw.paper import Paper
from pegwright.draw.pin_sheet import bar_marks
from pegwright.draw.plate_page import SheetNotes
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.draw.swap_sheet import swap_sheets
from pegwright.errors import InternalError
from pegwright.facts import require_all_lengths
from pegwright.placement import PinMap
from pegwright.show.show import Pinned, Show
from pegwright.show_pipeline.plan import PlannedShow
from pegwright.song_pipeline.files import label_files, place_words, song_files
from pegwright.song_pipeline.fitting import remedies_for
from pegwright.swapping import Swap
from pegwright.units import fraction_text, printed
from pegwright.wheel import Wheel
from pegwright.write.count.data import count_places_csv
from pegwright.write.count.tables import spares_words
from pegwright.write.names import joined_files, safe_name
from pegwright.write.pdf import pdf_bytes
from pegwright.write.qr import map_qr
from pegwright.write.show.count import (
    pins_by_place,
    show_count_csv,
    show_count_json,
    show_count_tables,
    show_count_text,
    show_moves_csv,
    show_wear_csv,
    verdict_words,
)
from pegwright.write.show.data import Names, show_json
from pegwright.write.show.text import show_text
from pegwright.write.swap.data import swap_csv, swap_json
from pegwright.write.swap.text import swap_text


def show_files(
    planned: PlannedShow, paper: Paper, style: SheetStyle = PLAIN, say: Callable[[str], None] = lambda _: None
) -> dict[str, bytes]:
    """Everything that people hold for a show: file name, in folders, -> contents.

    Args:
        planned: the show.
        paper: for what is printed.
        style: of the sheets.
        say: called with a message for each step of the work.

    Raises:
        UsageError: the wheel has more rows or pin types than marks, or its file does not give all lengths.
    """
    show = planned.show
    require_all_lengths(show.wheel)
    names, of_songs = file_names(show), replace(style, labels=False)  # the wheel's labels are written once
    groups = [plan_files(show, names, paper), label_files(show.wheel, paper, style)]
    written: dict[str, int] = {}  # folders of songs, with the place of the song in the playing order
    for pinned, (song, pinning), name in zip(show.pinned, planned.fitted, names, strict=True):
        say(f"Writing {show.song_of(pinned).title}")
        place, set_name = place_words(song, pinning), f"{printed(pinned.plate_set)}"
        notes = SheetNotes(set_name, pinned.start_steps, qr=map_qr(pinned.pins), place=place, style=style)
        turn = song.pinnings[pinning]
        marks = bar_marks(turn.score, show.wheel, turn.placement)
        maps, facts = (pinned.old, pinned.pins), _facts(show, pinned)
        of_swap = swap_files(show.wheel, pinned.swap, maps, facts, paper, notes, marks)
        groups.append({f"{name.swap}{ending}": data for ending, data in of_swap.items()})
        if name.song not in written:
            of_song = song_files(song, remedies_for(song), paper, show.spares_percent, of_songs)
            groups.append({f"{name.song}/{file}": data for file, data in of_song.items()})
        if written.setdefault(name.song, pinned.place) != pinned.place:
            raise InternalError(f"two songs would be written to {name.song}", hint="please report this with the songs")
    return joined_files(*groups)


def plan_files(show: Show, names: Sequence[Names], paper: Paper) -> dict[str, bytes]:
    """The plan and the count of a show: file name -> contents.

    Args:
        show: the show.
        names: of the files of each of `Show.pinned`.
        paper: for what is printed.
    """
    facts = f"{show.wheel.name} · {spares_words(pins_by_place(show))}"
    pages = count_pages(show.title, facts, verdict_words(show), show_count_tables(show), paper)
    overview = overview_pages(show.title, show.wheel.name, overview_rows(show), paper)
    return {
        "plan.txt": show_text(show).encode(),
        "plan.json": show_json(show, names),
        f"overview-{paper.name}.pdf": pdf_bytes(overview, f"{show.title}: overview"),
        f"show-count-{paper.name}.pdf": pdf_bytes(pages, f"{show.title}: pin count"),
        "show-count.txt": show_count_text(show).encode(),
        "show-count.csv": show_count_csv(show),
        "show-count.json": show_count_json(show),
        "show-count-by-place.csv": count_places_csv(pins_by_place(show)),
        "show-moves.csv": show_moves_csv(show),
        "show-wear.csv": show_wear_csv(show),
    }


def swap_files(
    wheel: Wheel,
    swap: Swap,
    maps: tuple[PinMap, PinMap],
    facts: Sequence[str],
    paper: Paper,
    notes: SheetNotes,
    marks: Sequence[BarMark],
) -> dict[str, bytes]:
    """The files of one swap: how the name ends -> contents.

    Args:
        wheel: the wheel.
        swap: what moves.
        maps: what the plates carry, and what they are to carry.
        facts: lines for the heading of the text.
        paper: for what is printed.
        notes: what the pages say beside the pins.
        marks: where the new song's bars fall; may be empty.
    """
    old, new = maps
    drawn_old = old if old.pin_count else None
    sheets = swap_sheets(wheel, swap, drawn_old, new, marks, paper, notes)
    lists = call_pages(wheel, swap, drawn_old, new, paper, notes)
    return {
        ".txt": swap_text(wheel, swap, old, new, facts).encode(),
        ".json": swap_json(wheel, swap, old, new),
        ".csv": swap_csv(wheel, swap),
        f"-sheets-{paper.name}.pdf": pdf_bytes(sheets, f"{new.title}: swap sheets"),
        f"-calls-{paper.name}.pdf": pdf_bytes(lists, f"{new.title}: call list"),
    }


def file_names(show: Show) -> tuple[Names, ...]:
    """Folder and swap files for everything that is pinned, numbered so that they sort in playing order."""
    digits = max(2, len(str(len(show.pinned))))
    names = []
    for number, pinned in enumerate(show.pinned):
        song = show.song_of(pinned)
        folder = safe_name(f"{printed(pinned.place):0{digits}} {song.title}".lower())
        swap = f"{printed(number):0{digits}} set {printed(pinned.plate_set)} {song.title}"
        swap = safe_name(swap.lower(), pinned.letter.lower())
        names.append(Names(f"songs/{folder}", f"swaps/{swap}"))
    return tuple(names)


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


def _facts(show: Show, pinned: Pinned) -> list[str]:
    plates = ", ".join(str(printed(plate)) for plate in pinned.plates)
    if pinned.available_s is None:
        time = f"before the show; {work_time(pinned.needed_s)} of work"
    else:
        time = f"{work_time(pinned.needed_s)} of work, {free_time(pinned.available_s)} of time"
    return [
        f"Set {printed(pinned.plate_set)} of plates, ready {minutes(pinned.first_s)} into the show: {time}",
        f"Plates at places 1 to {show.wheel.plate_count} when done, by the numbers they began with: {plates}",
    ]
