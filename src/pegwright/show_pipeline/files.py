"""Every file of a show: the plan, what is printed of the evening and of each song, and files for programs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from pegwright.draw.overview import free_time, minutes, work_time
from pegwright.draw.paper import Paper
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.errors import InternalError
from pegwright.facts import require_all_lengths
from pegwright.read.map_folder import MAP_NAME
from pegwright.show.show import Pinned, Show
from pegwright.show_pipeline.plan import PlannedShow
from pegwright.show_pipeline.printed import show_document
from pegwright.song import FittedSong, Mounted
from pegwright.song_pipeline.files import pin_maps, print_name, printed_files, report_page
from pegwright.units import printed
from pegwright.write.names import joined_files, safe_name
from pegwright.write.pdf import document_pdf
from pegwright.write.report.text import report_text
from pegwright.write.show.data import Names, show_json
from pegwright.write.show.text import show_text
from pegwright.write.swap.data import swap_json
from pegwright.write.swap.text import swap_text

DATA, SONGS = "data", "songs"


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
        UsageError: the wheel has more rows or pin types than marks, its file does not give all lengths, or a page is
            asked for that there is not.
    """
    show = planned.show
    require_all_lengths(show.wheel)
    names = file_names(show)
    say(f"Writing {show.title}")
    groups = [
        {
            print_name(paper): document_pdf(show_document(planned, paper, style)),
            "plan.txt": plan_text(planned).encode(),
            f"{DATA}/plan.json": show_json(show, names),
        }
    ]
    written: dict[str, int] = {}  # folders of songs, with the place of the song in the playing order
    for pinned, (song, _), name in zip(show.pinned, planned.fitted, names, strict=True):
        swap = swap_json(show.wheel, pinned.swap, pinned.old, pinned.pins)
        groups.append({f"{name.swap}.json": swap})
        if name.song not in written:
            say(f"Writing {show.song_of(pinned).title}")
            groups.append(_song_files(show, pinned, song, name.song, paper, style))
        if written.setdefault(name.song, pinned.place) != pinned.place:
            raise InternalError(f"two songs would be written to {name.song}", hint="please report this with the songs")
    return joined_files(*groups)


def _song_files(
    show: Show, pinned: Pinned, song: FittedSong, folder: str, paper: Paper, style: SheetStyle
) -> dict[str, bytes]:
    """The files of one song: its pin maps for programs, and to print and to look at.

    Args:
        show: with the song.
        pinned: the first of the sets that are pinned for it.
        song: as it is planned.
        folder: of its pin maps.
        paper: that it is printed on.
        style: of the sheets.
    """
    alone = replace(style, labels=False, sheets_only=False, pages=())  # those are wished of the evening
    named = f"{SONGS}/{folder.removeprefix(f'{DATA}/')}"
    document = printed_files(song, paper, show.spares_percent, alone)[print_name(paper)]
    maps = {
        name: data
        for name, data in pin_maps(song, _mounted(show, pinned.place, song)).items()
        if name.endswith(MAP_NAME)
    }
    return {
        f"{named}-{paper.name}.pdf": document,
        f"{named}.html": report_page(song, remedies=True),
        **{f"{folder}/{name}": data for name, data in maps.items()},
    }


def _mounted(show: Show, place: int, song: FittedSong) -> dict[str, list[Mounted]]:
    """For the letter of each pinning of a song the sets and orders of plates that play it.

    Args:
        show: with the song.
        place: of the song in the playing order.
        song: as it is planned.
    """
    mounted: dict[str, dict[Mounted, None]] = {}
    for pinned in show.pinned:
        if pinned.place == place:
            letter = pinned.letter or song.letter(0)
            mounted.setdefault(letter, {})[Mounted(pinned.plate_set, pinned.plates)] = None
    return {letter: list(each) for letter, each in mounted.items()}


def plan_text(planned: PlannedShow) -> str:
    """The plan as text, with the report of every song and the call list of every swap after it."""
    show = planned.show
    texts, reported = [show_text(show)], set()
    for pinned, (song, _) in zip(show.pinned, planned.fitted, strict=True):
        if pinned.place not in reported:
            reported.add(pinned.place)
            texts.append(_headed(f"Song {printed(pinned.place)}: {song.score.title}", report_text(song)))
    for number, pinned in enumerate(show.pinned):
        text = swap_text(show.wheel, pinned.swap, pinned.old, pinned.pins, swap_facts(show, pinned))
        texts.append(_headed(f"Call list {printed(number)}", text))
    return "\n".join(texts)


def _headed(title: str, text: str) -> str:
    return f"\n{title}\n{'=' * len(title)}\n\n{text}"


def file_names(show: Show) -> tuple[Names, ...]:
    """Folder and swap file for everything that is pinned, numbered so that they sort in playing order."""
    digits = max(2, len(str(len(show.pinned))))
    names = []
    for number, pinned in enumerate(show.pinned):
        song = show.song_of(pinned)
        folder = safe_name(f"{printed(pinned.place):0{digits}} {song.title}".lower())
        swap = f"swap {printed(number):0{digits}} set {printed(pinned.plate_set)} {song.title}"
        swap = safe_name(swap.lower(), pinned.letter.lower())
        names.append(Names(f"{DATA}/{folder}", f"{DATA}/{swap}"))
    return tuple(names)


def swap_facts(show: Show, pinned: Pinned) -> list[str]:
    """What the heading of a call list as text says beside the counts."""
    plates = ", ".join(str(printed(plate)) for plate in pinned.plates)
    if pinned.available_s is None:
        time = f"before the show; {work_time(pinned.needed_s)} of work"
    else:
        time = f"{work_time(pinned.needed_s)} of work, {free_time(pinned.available_s)} of time"
    return [
        f"Set {printed(pinned.plate_set)} of plates, ready {minutes(pinned.first_s)} into the show: {time}",
        f"Plates at places 1 to {show.wheel.plate_count} when done, by the numbers they began with: {plates}",
    ]
