"""`pegwright set`: a whole show, from its song set to the sheets that its pins are set by."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from pegwright.ask.table import BY_NAME, PAPERS, Topic
from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath
from pegwright.cli.maps import report_tables
from pegwright.cli.options import click_option, new_option
from pegwright.cli.outputs import toml_path
from pegwright.cli.progress import next_step, working, written
from pegwright.cli.say import say, say_line
from pegwright.cli.sheet_options import part_options, style_from
from pegwright.cli.song_argument import report_changed
from pegwright.cli.strict import STRICT, stop_if_left_out
from pegwright.cli.terminal import text_width
from pegwright.cli.width import say_command, say_wrapped
from pegwright.errors import EXIT_UNREADABLE, UsageError
from pegwright.units import listed, plural, printed

if TYPE_CHECKING:
    from pegwright.config.seam_file import SeamFile
    from pegwright.draw.sheet_style import SheetStyle
    from pegwright.show.show import Pinned, Show
    from pegwright.show_pipeline.plan import PlannedShow
    from pegwright.wheel import Wheel

DEFAULT_SET = "evening.toml"
ORDERS = ("given", "least-work", "least-worst")  # a test compares them with show/plan.py


@command(
    "set",
    epilog="""\b
Examples:
  pegwright set --new                               write evening.toml, with the songs of this folder
  pegwright set evening.toml                        the plan, nothing written
  pegwright set evening.toml -o evening             all of it: one document to print, maps, pages
  pegwright set evening.toml -o again --pages 28-39  only these pages of that document
  pegwright set evening.toml --order least-worst    another playing order
  pegwright set evening.toml --seams seams.toml     for which songs the plates have other seams
  pegwright set evening.toml --json > plan.json

docs/show.md says how to write a song set and how to read its plan.

Exit codes: 0 planned; 1 some songs could not be read or fitted, the others are planned;
2 a fault in options, song set or wheel file; 3 some notes left out (with --strict).""",
)
@click.argument("file", type=NamedPath(), required=False)
@new_option(DEFAULT_SET, "a song set to begin with")
@option("-o", "--out", type=NamedPath(), help="Folder to write the whole show into.")
@option(
    "--order",
    topic=Topic.PLACING,
    type=click.Choice(ORDERS),
    help="Playing order: as given, or with the minimum work or the least hurried worst swap.",
)
@click_option(replace(BY_NAME["paper"], help="For the printed sheets."), PAPERS[0])
@click_option(BY_NAME["larger"], None)
@click_option(BY_NAME["seen_from"], BY_NAME["seen_from"].default)
@click_option(BY_NAME["date"], None)
@click_option(BY_NAME["labels"], None)
@part_options
@option("--overwrite", is_flag=True, help=BY_NAME["overwrite"].help)
@option("--seams", "seam_file", type=NamedPath(), help="Measured seams, to report where the plan has other ones.")
@option("--strict", is_flag=True, help=f"{STRICT}; nothing is written then.")
@option("--json", "as_json", is_flag=True, help="Print the plan as JSON, for programs.")
def song_set(
    file: Path | None,
    new_path: Path | None,
    out: Path | None,
    order: str | None,
    paper: str,
    overwrite: bool,
    seam_file: Path | None,
    strict: bool,
    as_json: bool,
    **sheets: Any,  # noqa: ANN401  # click passes options by name
) -> None:
    """Plan the show of a song set FILE: playing order, starts, swaps, time and pins.

    Pins are pulled and set for each song on one set of plates while another plays. The plan chooses
    where on the turn songs begin, which plate takes which place and, if asked, the playing order, so
    that the fewest pins are moved. The folder is written as a whole or not at all.
    """
    if new_path:
        if file or out or order or seam_file or strict or as_json:
            raise UsageError("--new goes with --overwrite alone", hint="give the new file's name after --new")
        write_starter(toml_path(new_path), overwrite)
        return
    if not file:
        raise UsageError("no song set is named", hint="name one, or write one with `pegwright set --new`")
    _plan(file, order, strict, _ShowOutput(out, paper, style_from(sheets), overwrite, as_json, seam_file))


class _ShowOutput(NamedTuple):
    """Where and how a plan is written: folder, if any, paper, style of sheets, JSON or not; measured seams, if any."""

    folder: Path | None
    paper: str
    style: SheetStyle
    overwrite: bool
    as_json: bool
    seam_file: Path | None


def write_starter(path: Path, overwrite: bool) -> None:
    """Write a song set to begin with to `path`, and say so."""
    from pegwright.config.new_set import new_song_set  # noqa: PLC0415  # only where a file is written
    from pegwright.write.folder import write_file  # noqa: PLC0415

    data, songs = new_song_set(path.parent)
    write_file(path, data, overwrite)
    held = f"with the {plural(songs, 'song')} of its folder" if songs else "with two songs as examples: name your own"
    say_command(f"Wrote {path}, {held}. Then run", f"pegwright set {quote(str(path))}")


def _plan(file: Path, order: str | None, strict: bool, output: _ShowOutput) -> None:
    """Plan the show of a song set, print the plan, and write its folder where one is named.

    Args:
        file: the song set.
        order: the playing order asked for, or None for that of the set.
        strict: whether notes left out are an error.
        output: where and how it is written.
    """
    from pegwright.config import load_wheel  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.config.song_set import load_song_set  # noqa: PLC0415
    from pegwright.facts import require_all_lengths  # noqa: PLC0415
    from pegwright.show.plan import Aim  # noqa: PLC0415
    from pegwright.show_pipeline.plan import plan_song_set  # noqa: PLC0415
    from pegwright.write.folder import check_folder  # noqa: PLC0415

    songs = load_song_set(file)
    report_changed(song.file for song in songs.songs)
    songs = replace(songs, aim=Aim(order)) if order else songs
    wheel = load_wheel(songs.wheel)
    if output.folder:
        require_all_lengths(wheel)
        check_folder(output.folder, output.overwrite)
    seams = _load_seams(output.seam_file, wheel)
    with working(f"Planning {file.name}"):
        planned = plan_song_set(songs, wheel)
    report_tables(songs.carried, wheel)
    _print_plan(planned, output.as_json)
    _report_seams(planned.show, seams, output)
    if strict:
        stop_if_left_out([song.count for song in planned.show.songs], "nothing was written")
    if output.folder:
        _write(planned, output.folder, output)
    for name, why in planned.show.skipped:
        say_line(f"pegwright: not in the plan: {why if name in why else f'{name}: {why}'}")
    if planned.show.skipped:
        sys.exit(EXIT_UNREADABLE)


def _load_seams(path: Path | None, wheel: Wheel) -> SeamFile | None:
    """The seam file, before the plan is made."""
    if path is None:
        return None
    from pegwright.config.seam_file import load_seams  # noqa: PLC0415  # only where one is named

    return load_seams(path, wheel)


def _report_seams(show: Show, seams: SeamFile | None, output: _ShowOutput) -> None:
    """Say for which songs the plan has other seams than were measured."""
    if seams is None:
        return
    from pegwright.show.seams import put_elsewhere  # noqa: PLC0415  # only where one is named

    number, count = seams.set_number or 1, show.wheel.plate_count
    order = seams.order or tuple(range(1, count + 1))
    elsewhere = put_elsewhere(show, number, order)
    plates = listed(list(map(str, order)))
    whose = f"{output.seam_file}, measured with plates {plates} of set {number} at places 1 to {count}"
    if not elsewhere:
        say_wrapped(f"\nThe seams of {whose}, hold for the whole show.", err=output.as_json)
        return
    lines = [f"\nThe seams of {whose}, do not hold where the plan puts plates elsewhere:"]
    for pinned in elsewhere:
        plates = listed([str(printed(plate)) for plate in pinned.plates])
        lines.append(f"  {_pinned_song(show, pinned)}: plates {plates}")
    lines.append("Measure those seams too.")
    say_wrapped("\n".join(lines), err=output.as_json)


def _pinned_song(show: Show, pinned: Pinned) -> str:
    """The title of the song that a set is pinned for, with its letter."""
    title = show.songs[pinned.place].title
    return f"{title} {pinned.letter}" if pinned.letter else title


def _print_plan(planned: PlannedShow, as_json: bool) -> None:
    if as_json:
        from pegwright.show_pipeline.files import file_names  # noqa: PLC0415  # drawing is loaded where it is asked for
        from pegwright.write.show.data import show_json  # noqa: PLC0415

        say(show_json(planned.show, file_names(planned.show)).decode(), nl=False)
    else:
        from pegwright.write.show.text import show_text  # noqa: PLC0415  # as above

        say(show_text(planned.show, text_width()), nl=False)


def _write(planned: PlannedShow, folder: Path, output: _ShowOutput) -> None:
    from pegwright.draw.paper import paper_named  # noqa: PLC0415  # as above
    from pegwright.show_pipeline.files import show_files  # noqa: PLC0415
    from pegwright.song_pipeline.files import print_name  # noqa: PLC0415
    from pegwright.write.folder import write_folder  # noqa: PLC0415

    with working(f"Writing {folder}"):
        paper = paper_named(output.paper)
        files = show_files(planned, paper, output.style)
        others = write_folder(folder, files, output.overwrite)
    say(err=output.as_json)
    words = f"{print_name(paper)}, plan.txt, songs/ and data/, {len(files)} files"
    written(folder, words, others, err=output.as_json)
    work = "pull and set the pins of one plate after another by its sheet, set after set as the overview lists them"
    next_step(str(folder / print_name(paper)), work, err=output.as_json)
