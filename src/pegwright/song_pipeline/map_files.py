"""The files of a song that is read from its pin maps, without its score."""

from __future__ import annotations

from pegwright.draw.paper import A4, Paper
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.facts import require_all_lengths
from pegwright.read.map_folder import MAP_NAME
from pegwright.read.pinmap_song import MapSong
from pegwright.song_pipeline.files import SPARES_PERCENT, printed_files
from pegwright.song_pipeline.printed import FromPlates
from pegwright.write.page.page import page_html
from pegwright.write.page.pins import pins_page_data
from pegwright.write.pin_map.csv import plates_csv
from pegwright.write.pin_map.rows import map_rows


def map_files(
    read: MapSong,
    paper: Paper = A4,
    spares_percent: float = SPARES_PERCENT,
    style: SheetStyle = PLAIN,
    start: FromPlates | None = None,
) -> dict[str, bytes]:
    """What `pegwright pin` writes of a song that is read from its pin maps: file name -> contents.

    Args:
        read: the song, with its maps, which are written again as they are.
        paper: for what is printed.
        spares_percent: spare pins to count, 0 to 100.
        style: of the pin sheets.
        start: what the plates carry, from where call lists begin; None for empty plates.

    Raises:
        UsageError: the spares are out of their bounds, the wheel has more rows than marks, or its file does not give
            all lengths.
    """
    require_all_lengths(read.song.wheel)
    return {
        **printed_files(read.song, paper, spares_percent, style, start),
        "report.html": page_html(pins_page_data(read.song, read.findings)),
        **_maps(read),
    }


def _maps(read: MapSong) -> dict[str, bytes]:
    files: dict[str, bytes] = {}
    for pinning, (turn, file) in enumerate(zip(read.song.pinnings, read.maps, strict=True)):
        folder = f"{read.song.letter(pinning)}/" if read.song.several_turns else ""
        plates = plates_csv(map_rows(turn, read.song.wheel), read.song.wheel.plate_count)
        files |= {f"{folder}{MAP_NAME}": file.data, **{f"{folder}{name}": data for name, data in plates.items()}}
    return files
