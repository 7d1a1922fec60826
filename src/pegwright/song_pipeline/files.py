"""The last stages: the files of a song."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pegwright.ask.table import BY_NAME
from pegwright.draw.label_strip import label_pages
from pegwright.draw.paper import A4, Paper
from pegwright.draw.pin_sheet import SheetNotes, bar_marks, pin_sheets
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.drawing import Page
from pegwright.facts import require_all_lengths
from pegwright.note_count import NoteCount
from pegwright.show.count import PinCount, pin_count
from pegwright.song import FittedSong
from pegwright.song_pipeline.fitting import SongRemedies, remedies_for
from pegwright.tell.counts import count_words, damage_words, doubtful_words
from pegwright.wheel import Wheel
from pegwright.write.cautions import TOUCH_LINE
from pegwright.write.count.data import count_csv, count_json, count_places_csv
from pegwright.write.count.pdf import count_pdf
from pegwright.write.count.text import count_text
from pegwright.write.page.data import page_data
from pegwright.write.page.page import page_html
from pegwright.write.page.turns import outcome_words
from pegwright.write.pdf import pdf_bytes
from pegwright.write.pin_map.csv import pin_map_csv
from pegwright.write.pin_map.json import pin_map_json
from pegwright.write.qr import map_qr
from pegwright.write.report.json import report_json
from pegwright.write.report.text import report_text
from pegwright.write.tables import paragraphs

if TYPE_CHECKING:
    from pegwright.load import SetLoad
    from pegwright.write.notation.pictures import ScorePictures

ALL_OF_IT = "turn 1 of 1"
SPARES_PERCENT: float = BY_NAME["spares"].default


def song_files(
    song: FittedSong,
    remedies: SongRemedies | bool = True,
    paper: Paper = A4,
    spares_percent: float = SPARES_PERCENT,
    style: SheetStyle = PLAIN,
) -> dict[str, bytes]:
    """Everything a maker holds for one song, as `pegwright pin` writes it: file name -> contents.

    The pin maps of a song of several turns are in a folder for each pinning, by its letter.

    Args:
        song: on its wheel.
        remedies: what would help it; True tries it now, within `PAGE_WORK`; False leaves it out of the report page.
        paper: for what is printed.
        spares_percent: spare pins to count, 0 to 100.
        style: of the pin sheets.

    Raises:
        UsageError: the spares are out of their bounds, the wheel has more rows than marks, or its file does not give
            all lengths.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> files = song_files(fit_file(bundled_songs()[0], load_wheel(bundled_wheel())))
    >>> sorted(files)[:4]
    ['pin-count-a4.pdf', 'pin-count-by-place.csv', 'pin-count.csv', 'pin-count.json']
    """
    require_all_lengths(song.wheel)
    if remedies is True:
        remedies = remedies_for(song)
    count = pin_count([turn.pins for turn in song.pinnings], song.wheel, spares_percent)
    pictures = _pictures(song)
    return {
        "report.txt": f"{report_text(song)}\n{paragraphs([[TOUCH_LINE]])}".encode(),
        "report.json": report_json(song),
        "report.html": page_html(page_data(song, remedies or None), pictures),
        **_bars_svg(song, pictures),
        **_pin_maps(song),
        f"pin-sheets-{paper.name}.pdf": pin_sheet_pdf(song, paper, style),
        **label_files(song.wheel, paper, style),
        **count_files(count, paper, song.count, song.score.title),
    }


def count_files(count: PinCount, paper: Paper, notes: NoteCount | None, title: str) -> dict[str, bytes]:
    """The pin count of a song: file name -> contents.

    Args:
        count: of its pins.
        paper: for what is printed.
        notes: of the song, where its score is known.
        title: of the song.
    """
    return {
        f"pin-count-{paper.name}.pdf": count_pdf(count, paper, notes, title),
        "pin-count.txt": count_text(count, notes, song=title).encode(),
        "pin-count.csv": count_csv(count),
        "pin-count-by-place.csv": count_places_csv(count),
        "pin-count.json": count_json(count, notes),
    }


def report_page(song: FittedSong, remedies: SongRemedies | None) -> bytes:
    """The report page of one song as HTML, without remedies where they are None."""
    return page_html(page_data(song, remedies), _pictures(song))


def pin_sheet_pdf(song: FittedSong, paper: Paper, style: SheetStyle = PLAIN) -> bytes:
    """The pin sheets of every pinning of a song as one PDF.

    Args:
        song: on its wheel.
        paper: for what is printed.
        style: of the sheets.
    """
    pages = [page for pinning in range(len(song.pinnings)) for page in song_sheets(song, pinning, paper, style)]
    return pdf_bytes(pages, f"{song.score.title}: pin sheets")


def label_files(wheel: Wheel, paper: Paper, style: SheetStyle) -> dict[str, bytes]:
    """The strip of channel labels where it is asked for: file name -> contents.

    Args:
        wheel: its channels.
        paper: for what is printed.
        style: says whether it is asked for.

    Raises:
        UsageError: the channels are too near or too far apart for it.
    """
    if not style.labels:
        return {}
    pages = label_pages(wheel, paper, style)
    return {f"channel-labels-{paper.name}.pdf": pdf_bytes(pages, f"{wheel.name}: channel labels")}


def place_words(song: FittedSong, pinning: int) -> str:
    """Which turns and bars of a song a pinning plays, which distinguishes two cuts of one song."""
    return song.place_of(pinning) or f"{ALL_OF_IT}, {song.bars_of(0)}"


def load_plot(song: FittedSong, sets: tuple[SetLoad, ...], as_pdf: bool) -> bytes:
    """The load round the turn, drawn.

    Args:
        song: on its wheel.
        sets: the loads of each set of plates.
        as_pdf: PDF with a page for each load, or else one SVG with all of them.
    """
    from pegwright.draw.load_plot import as_one, load_pages  # noqa: PLC0415  # loaded where one is asked for
    from pegwright.write.svg import svg_text  # noqa: PLC0415

    title = song.score.title
    pages = load_pages(song.wheel, title, sets)
    return pdf_bytes(pages, f"{title}: load") if as_pdf else svg_text(as_one(pages)).encode()


def _pin_maps(song: FittedSong) -> dict[str, bytes]:
    files = {}
    for pinning in range(len(song.pinnings)):
        folder = f"{song.letter(pinning)}/" if song.several_turns else ""
        files[f"{folder}pin-map.json"] = pin_map_json(song, pinning)
        files |= {f"{folder}{name}": data for name, data in pin_map_csv(song, pinning).items()}
    return files


def song_sheets(song: FittedSong, pinning: int, paper: Paper, style: SheetStyle = PLAIN) -> tuple[Page, ...]:
    """The pin sheets of one pinning of a song.

    Args:
        song: on its wheel.
        pinning: which of its sets of plates, 0-based.
        paper: for what is printed.
        style: of the sheets.
    """
    turn, wheel = song.pinnings[pinning], song.wheel
    placement = turn.placement
    start_steps = placement.start_ticks / (wheel.step_quarters * placement.resolution)
    words = count_words(song.count)
    words = f"Whole song: {words[0].lower()}{words[1:]}; see report.txt."
    doubts = tuple(filter(None, [damage_words(song.report), doubtful_words(turn.score)]))
    notes = SheetNotes(
        start_steps=start_steps,
        outcome=words,
        qr=map_qr(turn.pins),
        place=place_words(song, pinning),
        remarks=doubts,
        style=style,
    )
    return pin_sheets(wheel, turn.pins, bar_marks(turn.score, wheel, placement), paper, notes)


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


def _bars_svg(song: FittedSong, pictures: ScorePictures | None) -> dict[str, bytes]:
    """The bars in trouble as a drawing of their own, if there are any."""
    if pictures is None or not pictures.pictures:
        return {}
    from pegwright.write.notation.markup import pictures_svg  # noqa: PLC0415  # as above

    return {"score-bars.svg": pictures_svg(pictures, song.score.title)}
