"""The last stages: the files of a song."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from pegwright.ask.table import BY_NAME
from pegwright.draw.paper import A4, Paper
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.facts import require_all_lengths
from pegwright.show.count import pin_count
from pegwright.show.swap import empty_map
from pegwright.song import FittedSong, FittedTurn, Mounted, PinnedSong, PinnedTurn
from pegwright.song_pipeline.fitting import SongRemedies, remedies_for
from pegwright.song_pipeline.printed import FromPlates, from_plates, printed_song, song_document
from pegwright.write.cautions import TOUCH_LINE
from pegwright.write.count.data import count_json
from pegwright.write.page.data import page_data
from pegwright.write.page.page import page_html
from pegwright.write.page.turns import outcome_words
from pegwright.write.pdf import document_pdf
from pegwright.write.pin_map.csv import pin_map_csv
from pegwright.write.pin_map.json import pin_map_json
from pegwright.write.pin_map.rows import pin_rows
from pegwright.write.report.json import report_json
from pegwright.write.report.text import report_text
from pegwright.write.swap.data import swap_csv, swap_json
from pegwright.write.tables import paragraphs

if TYPE_CHECKING:
    from pegwright.write.notation.pictures import ScorePictures

SPARES_PERCENT: float = BY_NAME["spares"].default


def song_files(
    song: FittedSong,
    remedies: SongRemedies | bool = True,
    paper: Paper = A4,
    spares_percent: float = SPARES_PERCENT,
    style: SheetStyle = PLAIN,
    start: FromPlates | None = None,
) -> dict[str, bytes]:
    """Everything a maker holds for one song, as `pegwright pin` writes it: file name -> contents.

    The pin maps of a song of several turns are in a folder for each pinning, by its letter.

    Args:
        song: on its wheel.
        remedies: what would help it; True tries it now, within `PAGE_WORK`; False leaves it out of the report page.
        paper: for what is printed.
        spares_percent: spare pins to count, 0 to 100.
        style: of the pin sheets.
        start: what the plates carry, from where call lists begin; None for empty plates.

    Raises:
        UsageError: the spares are out of their bounds, the wheel has more rows than marks, its file does not give
            all lengths, or a page is asked for that there is not.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> files = song_files(fit_file(bundled_songs()[0], load_wheel(bundled_wheel())))
    >>> sorted(files)[:4]
    ['pin-count.json', 'pin-map.json', 'plate-1.csv', 'plate-2.csv']
    """
    require_all_lengths(song.wheel)
    return {
        **printed_files(song, paper, spares_percent, style, start),
        **report_files(song, remedies),
        **pin_maps(song),
    }


def report_files(song: FittedSong, remedies: SongRemedies | bool = True) -> dict[str, bytes]:
    """The reports of a song: file name -> contents.

    Args:
        song: on its wheel.
        remedies: what would help it; True tries it now, within `PAGE_WORK`; False leaves it out of the report page.
    """
    return {
        "report.html": report_page(song, remedies),
        "report.txt": f"{report_text(song)}\n{paragraphs([[TOUCH_LINE]])}".encode(),
        "report.json": report_json(song),
    }


def printed_files(
    song: FittedSong | PinnedSong,
    paper: Paper = A4,
    spares_percent: float = SPARES_PERCENT,
    style: SheetStyle = PLAIN,
    start: FromPlates | None = None,
) -> dict[str, bytes]:
    """What is printed of a song, and its pin count for programs: file name -> contents.

    Args:
        song: on its wheel.
        paper: that it is printed on.
        spares_percent: spare pins to count, 0 to 100.
        style: of the pin sheets.
        start: what the plates carry, from where call lists begin; None for empty plates.

    Raises:
        UsageError: the spares are out of their bounds, or a page is asked for that the document does not have.
    """
    printed = printed_song(song, style)
    count = pin_count([each.pins for each in printed.sets], song.wheel, spares_percent)
    start = start or from_plates(empty_map(song.wheel), song)
    document = song_document(printed, count, start, paper, style)
    return {print_name(paper): document_pdf(document), "pin-count.json": count_json(count, printed.outcome)}


def swap_data(song: FittedSong | PinnedSong, start: FromPlates) -> dict[str, bytes]:
    """The swap from what plates carry to each set of plates of a song, for programs: file name -> contents.

    Args:
        song: fitted, or read from pin maps.
        start: what the plates carry, with the swaps.
    """
    files: dict[str, bytes] = {}
    old, turns = start.old or empty_map(song.wheel), _turns_of(song)
    for pinning, (turn, moves) in enumerate(zip(turns, start.swaps, strict=True)):
        folder = f"{song.letter(pinning)}/" if song.several_turns else ""
        files[f"{folder}swap.json"] = swap_json(song.wheel, moves, old, turn.pins)
        files[f"{folder}swap.csv"] = swap_csv(song.wheel, moves)
    return files


def _turns_of(song: FittedSong | PinnedSong) -> Sequence[FittedTurn | PinnedTurn]:
    return song.pinnings


def print_name(paper: Paper) -> str:
    """The name of what is printed on a paper."""
    return f"print-{paper.name}.pdf"


def report_page(song: FittedSong, remedies: SongRemedies | bool | None) -> bytes:
    """The report page of one song as HTML.

    Args:
        song: on its wheel.
        remedies: what would help it; True tries it now, None or False leaves it out.
    """
    if remedies is True:
        remedies = remedies_for(song)
    return page_html(page_data(song, remedies or None), _pictures(song))


def pin_maps(song: FittedSong, mounted: Mapping[str, Sequence[Mounted]] | None = None) -> dict[str, bytes]:
    """The pin maps of a song, as JSON and as CSV of each plate: file name -> contents.

    Args:
        song: on its wheel.
        mounted: for the letter of a pinning how a show has its plates on the rim.
    """
    files = {}
    for pinning in range(len(song.pinnings)):
        letter = song.letter(pinning)
        folder = f"{letter}/" if letter else ""
        on_rim = mounted.get(letter, ()) if mounted else ()
        rows = pin_rows(song.pinnings[pinning], song.wheel)
        files[f"{folder}pin-map.json"] = pin_map_json(song, pinning, on_rim, rows)
        files |= {f"{folder}{name}": data for name, data in pin_map_csv(song, pinning, rows).items()}
    return files


def _pictures(song: FittedSong) -> ScorePictures | None:
    """The bars in trouble as music, where the song was read from MusicXML and the bytes of its file are known."""
    score = song.score
    if not song.edited.data or not len(score.written):
        return None
    from pegwright.read import written_music  # noqa: PLC0415  # all of this is loaded where music was written
    from pegwright.write.notation.marks import LEVELS  # noqa: PLC0415
    from pegwright.write.notation.pictures import score_pictures  # noqa: PLC0415

    outcomes = [word for turn in song.turns for word in outcome_words(turn.score, turn.placement)]
    if not any(outcome in LEVELS for outcome in outcomes):
        return None
    return score_pictures(score, song.whole_placement, outcomes, written_music(song.edited.data, score.file))
