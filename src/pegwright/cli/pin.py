"""`pegwright pin`: turn a song into what its pins are set by."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath
from pegwright.cli.maps import carried_path, finding_lines, from_option, map_name, read_map, report_tables
from pegwright.cli.options import fit_options, load_wheel, output_options, wheel_option
from pegwright.cli.outputs import report_stopped
from pegwright.cli.page_alone import write_page
from pegwright.cli.progress import next_step, working, written
from pegwright.cli.say import say
from pegwright.cli.sheet_options import part_options, style_from
from pegwright.cli.song_argument import chosen_song, song_option
from pegwright.cli.strict import STRICT, stop_if_left_out
from pegwright.cli.terminal import text_width
from pegwright.cli.width import say_wrapped
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.cli.song_argument import ChosenSong
    from pegwright.draw.paper import Paper
    from pegwright.draw.sheet_style import SheetStyle
    from pegwright.note_count import NoteCount
    from pegwright.song import FittedSong, PinnedSong
    from pegwright.song_pipeline.hand_edits import HandEdited
    from pegwright.song_pipeline.printed import FromPlates
    from pegwright.wheel import Wheel


@command(
    epilog="""\b
Examples:
  pegwright pin waltz.mid
  pegwright pin march.toml                          a song file, with all its options
  pegwright pin evening.toml --song march           a song of a song set
  pegwright pin march.mxl --wheel pavilion.toml -o march-pins --paper a3
  pegwright pin march.mxl --larger --seen-from inside --date today --labels
  pegwright pin waltz.mid --from tango-pins      swap sheets and call list from what the plates carry
  pegwright pin waltz.mid --pages 3-7 -o again   only these pages of what is printed
  pegwright pin waltz.mid --page waltz.html      the report page alone
  pegwright pin changed.json -o changed-pins     the sheets of a pin map, without its score
  pegwright pin round.mid --bars 13-24 -o second-turn --spares 10
  pegwright pin waltz.mid --edits waltz-2/pin-map.json -o waltz-3

The folder then holds print-PAPER.pdf (contents, pin sheets, call list, pin count, with --labels
channel labels), report.html to look at and listen to, report.txt, pin-map.json and one plate-N.csv
a plate (in a folder for each set of plates that a long song takes); for programs report.json,
pin-count.json and with --from swap.json and swap.csv. docs/file-formats.md explains each."""
)
@click.argument("song", type=NamedPath())
@option("-o", "--out", type=NamedPath(), help="Folder to write; default: SONG-pins in this folder.")
@wheel_option
@song_option
@fit_options
@output_options
@part_options
@from_option
@option(
    "--remedies/--no-remedies",
    default=None,
    help="What would help, on the report page: try all, or leave it out; by default as much as takes half a second.",
)
@option("--strict", is_flag=True, help=f"{STRICT}; nothing is written then.")
@option("--page", type=NamedPath(), metavar="FILE", help="Write the report page alone to this file, and no folder.")
@option(
    "--edits",
    "edits_path",
    type=NamedPath(),
    help="Edits made by hand: a file of lines, or a map that lists them, or its folder.",
)
def pin(
    song: Path,
    out: Path | None,
    wheel_path: Path,
    name: str | None,
    paper: str,
    spares: float,
    overwrite: bool,
    before: str | None,
    remedies: bool | None,
    strict: bool,
    page: Path | None,
    edits_path: Path | None,
    **options: Any,  # noqa: ANN401  # click passes options by name
) -> None:
    """Turn SONG into pin maps, printed pin sheets and a pin count, in one folder.

    SONG is a score; a song file (.toml) that says all options, or with --song a song set; or a pin map, its
    pin-map.json or the folder of one, or with --tempo a folder that has the CSV files of all plates alone, which is
    written out again with sheets, page and count. Every note read is in
    the report: it sounds, as written or moved by how much; is left out, with the reason; or was dropped on request.
    The folder is written as a whole or not at all.
    """
    wanted, style = chosen_song(song, wheel_path, name, options), style_from(options)
    wheel = load_wheel(wanted.wheel)
    if page:
        _refuse_beside_page({"-o": out, "--from": before, "--edits": edits_path})
        write_page(wanted, wheel, page, remedies, overwrite, strict)
        return
    from pegwright.draw.paper import paper_named  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.facts import require_all_lengths  # noqa: PLC0415
    from pegwright.read.pinmap import is_pin_map  # noqa: PLC0415
    from pegwright.song_pipeline.files import print_name, swap_data  # noqa: PLC0415
    from pegwright.write.folder import check_folder, write_folder  # noqa: PLC0415
    from pegwright.write.names import safe_name  # noqa: PLC0415

    require_all_lengths(wheel)
    of_map = is_pin_map(wanted.score)
    folder = out or Path(f"{safe_name(map_name(song) if of_map else wanted.stem)}-pins")
    report_stopped(folder)
    if of_map:
        _refuse_own_folder(folder, song)
    check_folder(folder, overwrite)
    output = _Output(paper_named(paper), spares, style, remedies, edits_path)
    with working(f"Pinning {song.name}"):
        swap = None if before is None else _SwapFrom(before, wheel)
        wanted = swap.on_its_set(wanted) if swap and not of_map else wanted
        of_score = {"--remedies": bool(remedies), "--strict": strict, "--edits": bool(edits_path)}
        pinned = _read(wanted, wheel, output, of_score) if of_map else _fitted(wanted, wheel, output)
        if swap:
            swap.check(pinned.song)
    say(pinned.report)
    for line in finding_lines(swap.findings) if swap else []:
        say_wrapped(line)
    if strict and pinned.notes:
        stop_if_left_out([pinned.notes], "nothing was written")
    with working(f"Writing {folder}"):
        start = swap.start(pinned.song) if swap else None
        files = pinned.files(start) | (swap_data(pinned.song, start) if start else {})
        others = write_folder(folder, files, overwrite)
    _say_count(pinned, spares)
    written(folder, ", ".join(files), others)
    _say_next(folder / print_name(output.paper), pinned.song, swap)


def _say_count(pinned: _Pinned, spares: float) -> None:
    """Print the pin count, with spares in per cent."""
    from pegwright.show.count import pin_count  # noqa: PLC0415  # as above
    from pegwright.write.count.text import count_text  # noqa: PLC0415

    count = pin_count([turn.pins for turn in pinned.song.pinnings], pinned.song.wheel, spares)
    say(count_text(count, pinned.notes, text_width(), pinned.title))


def _say_next(sheets: Path, song: FittedSong | PinnedSong, swap: _SwapFrom | None) -> None:
    """Print what to do with the sheets, or that nothing is to be set.

    Args:
        sheets: the document.
        song: by its pins.
        swap: from what the plates carry, where that was given.
    """
    work = "pull and set the pins of" if swap and swap.path else "pin"
    if any(turn.pins.pin_count for turn in song.pinnings):
        next_step(str(sheets), f"{work} one plate after another by its sheet")
    else:
        say_wrapped("\nNothing is to be set: no note of this song has a pin.")


class _Output(NamedTuple):
    """How files are written: paper, spares in per cent, style of sheets, whether remedies are tried, edits by hand."""

    paper: Paper
    spares: float
    style: SheetStyle
    remedies: bool | None
    edits: Path | None


class _Pinned(NamedTuple):
    """A song ready to be pinned: its report, its count of notes where there is one, and what makes its files.

    They begin from what the plates carry, where that is given.
    """

    song: FittedSong | PinnedSong
    title: str
    report: str
    notes: NoteCount | None
    files: Callable[[FromPlates | None], dict[str, bytes]]


def _fitted(wanted: ChosenSong, wheel: Wheel, output: _Output) -> _Pinned:
    """A score, fitted, with the edits by hand that are to be made again.

    Args:
        wanted: the song and its options.
        wheel: the wheel.
        output: of its files.
    """
    from pegwright.remedy.budget import FULL_WORK  # noqa: PLC0415  # as above
    from pegwright.song_pipeline.files import song_files  # noqa: PLC0415
    from pegwright.song_pipeline.fitting import fit_file, remedies_for  # noqa: PLC0415
    from pegwright.write.report.text import report_text  # noqa: PLC0415

    fitted = fit_file(wanted.score, wheel, wanted.request)
    report_tables([output.edits], wheel)
    by_hand = _edited(fitted, output.edits) if output.edits else None
    fitted = by_hand.song if by_hand else fitted

    def files(start: FromPlates | None) -> dict[str, bytes]:
        helps = output.remedies is not False and remedies_for(fitted, FULL_WORK if output.remedies else None)
        files = song_files(fitted, helps, output.paper, output.spares, output.style, start)
        return files | (by_hand.map_files() if by_hand else {})

    return _Pinned(fitted, fitted.score.title, report_text(fitted, text_width()), fitted.count, files)


def _read(wanted: ChosenSong, wheel: Wheel, output: _Output, of_score: Mapping[str, bool]) -> _Pinned:
    """A pin map, read.

    Args:
        wanted: the map.
        wheel: the wheel.
        output: of its files.
        of_score: options that go with a score, and whether each was given.
    """
    from pegwright.correct.names import with_letter  # noqa: PLC0415  # as above
    from pegwright.song_pipeline.map_files import map_files  # noqa: PLC0415
    from pegwright.units import plural  # noqa: PLC0415
    from pegwright.write.correct.text import kept_lines  # noqa: PLC0415
    from pegwright.write.tables import one_line, paragraphs  # noqa: PLC0415

    read = read_map(wanted.score, wheel, wanted.request, of_score)
    song = read.song
    pins = plural(sum(turn.pins.pin_count for turn in song.pinnings), "pin")
    sets = f" in {plural(len(song.pinnings), 'set')} of plates" if song.several_turns else ""
    head = f"{one_line(song.title, 60)}: {pins}{sets}, as the pin map has them. `pegwright check` checks a map."
    faults = [with_letter(file.letter, words) for file in read.maps for words in file.kept_faults]
    blocks = [[head, *finding_lines(read.findings)], *([kept_lines(faults)] if faults else [])]
    report = paragraphs(blocks, text_width())

    def files(start: FromPlates | None) -> dict[str, bytes]:
        return map_files(read, output.paper, output.spares, output.style, start)

    return _Pinned(song, song.title, report, None, files)


def _edited(fitted: FittedSong, edits: Path) -> HandEdited:
    from pegwright.song_pipeline.hand_edits import edited_by_hand  # noqa: PLC0415  # only where edits are given

    return edited_by_hand(fitted, edits)


class _SwapFrom:
    """The swap from what the plates carry, which is read at once.

    Args:
        before: the option --from.
        wheel: the wheel.

    Raises:
        InputError: the pin map cannot be read, or is for another wheel.
    """

    def __init__(self, before: str, wheel: Wheel) -> None:
        from pegwright.show_pipeline.one_swap import carried  # noqa: PLC0415  # as above

        self.path = carried_path(before)
        self.old, self.findings = carried(self.path, wheel)
        report_tables([self.path], wheel)

    def on_its_set(self, wanted: ChosenSong) -> ChosenSong:
        """The song for the set of plates that carries the map, where it asks for none."""
        if wanted.request.plate_set is not None:
            return wanted
        return replace(wanted, request=replace(wanted.request, plate_set=self.old.plate_set))

    def check(self, song: FittedSong | PinnedSong) -> None:
        """Refuse a song of several sets of plates, which do not all carry the map, and pins for another set.

        Raises:
            UsageError: it is one.
        """
        if self.path and len(song.pinnings) > 1:
            message = f"the song takes {len(song.pinnings)} sets of plates, and one of them at most carries this map"
            raise UsageError(message, where="--from", hint="take --from empty, or plan all with `pegwright set`")
        from pegwright.show.swap import check_sets  # noqa: PLC0415  # as above

        check_sets(self.old, song.pinnings[0].pins)

    def start(self, song: FittedSong | PinnedSong) -> FromPlates:
        """What the plates carry, with the swaps from there."""
        from pegwright.song_pipeline.printed import from_plates  # noqa: PLC0415  # as above

        return from_plates(self.old, song)


def _refuse_beside_page(given: Mapping[str, object]) -> None:
    for name, value in given.items():
        if value is not None:
            raise UsageError("goes with a folder, and --page writes none", where=name, hint="leave out one of the two")


def _refuse_own_folder(folder: Path, source: Path) -> None:
    """Refuse to write into the folder that a pin map is read from, whose other files would be taken for old ones."""
    own = source if source.is_dir() else source.parent
    if folder.exists() and own.samefile(folder):
        raise UsageError("is the folder of the pin map itself", where=str(folder), hint="name another with -o")
