"""The files of a song that is read from its pin maps, without its score."""

from __future__ import annotations

from pegwright.draw.bars import BarMark
from pegwright.draw.paper import A4, Paper
from pegwright.draw.pin_sheet import SheetNotes, pin_sheets
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.drawing import Page
from pegwright.facts import require_all_lengths
from pegwright.read.pinmap import MAP_NAME
from pegwright.read.pinmap_song import MapSong
from pegwright.show.count import pin_count
from pegwright.song import PinnedSong, PinnedTurn
from pegwright.song_pipeline.files import SPARES_PERCENT, count_files, label_files
from pegwright.units import listed, printed
from pegwright.write.page.page import page_html
from pegwright.write.page.pins import pins_page_data
from pegwright.write.pdf import pdf_bytes
from pegwright.write.pin_map.csv import plates_csv
from pegwright.write.pin_map.rows import map_rows
from pegwright.write.qr import map_qr


def map_files(
    read: MapSong, paper: Paper = A4, spares_percent: float = SPARES_PERCENT, style: SheetStyle = PLAIN
) -> dict[str, bytes]:
    """What `pegwright pin` writes of a song that is read from its pin maps: file name -> contents.

    Args:
        read: the song, with its maps, which are written again as they are.
        paper: for what is printed.
        spares_percent: spare pins to count, 0 to 100.
        style: of the pin sheets.

    Raises:
        UsageError: the spares are out of their bounds, the wheel has more rows than marks, or its file does not give
            all lengths.
    """
    song = read.song
    require_all_lengths(song.wheel)
    count = pin_count([turn.pins for turn in song.pinnings], song.wheel, spares_percent)
    sheets = [page for pinning in range(len(song.pinnings)) for page in _sheets(song, pinning, paper, style)]
    return {
        "report.html": page_html(pins_page_data(song, read.findings)),
        **_maps(read),
        f"pin-sheets-{paper.name}.pdf": pdf_bytes(sheets, f"{song.title}: pin sheets"),
        **label_files(song.wheel, paper, style),
        **count_files(count, paper, None, song.title),
    }


def _maps(read: MapSong) -> dict[str, bytes]:
    files: dict[str, bytes] = {}
    for pinning, (turn, file) in enumerate(zip(read.song.pinnings, read.maps, strict=True)):
        folder = f"{read.song.letter(pinning)}/" if read.song.several_turns else ""
        plates = plates_csv(map_rows(turn, read.song.wheel), read.song.wheel.plate_count)
        files |= {f"{folder}{MAP_NAME}": file.data, **{f"{folder}{name}": data for name, data in plates.items()}}
    return files


def _sheets(song: PinnedSong, pinning: int, paper: Paper, style: SheetStyle) -> tuple[Page, ...]:
    turn = song.pinnings[pinning]
    notes = SheetNotes(
        start_steps=turn.start_steps, qr=map_qr(turn.pins), place=pinned_place(song, pinning), style=style
    )
    return pin_sheets(song.wheel, turn.pins, pinned_bars(turn), paper, notes)


def pinned_bars(turn: PinnedTurn) -> tuple[BarMark, ...]:
    """The bars that a pin map gives of a turn, as sheets mark them."""
    return tuple(BarMark(bar.position_steps, bar.label, bar.beats) for bar in turn.bars)


def pinned_place(song: PinnedSong, pinning: int) -> str:
    """Which turns a pinning plays: `turns 1, 2 and 4`; empty in a song of one turn.

    Args:
        song: by its pins.
        pinning: which of its sets of plates, 0-based.
    """
    if not song.several_turns:
        return ""
    turns = [str(printed(turn)) for turn in song.turns_of(pinning)]
    return f"turn{'s' if len(turns) > 1 else ''} {listed(turns)}"
