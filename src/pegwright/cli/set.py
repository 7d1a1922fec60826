"""`pegwright set`: a whole show, from its song set to the sheets that its pins are set by."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from pegwright.ask.table import BY_NAME, PAPERS, Topic
from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath
from pegwright.cli.options import click_option, new_option
from pegwright.cli.outputs import toml_path
from pegwright.cli.progress import next_step, working, written
from pegwright.cli.say import say, say_line
from pegwright.cli.sheet_options import style_from
from pegwright.cli.song_argument import report_changed
from pegwright.cli.strict import STRICT, stop_if_left_out
from pegwright.cli.width import say_command, text_width
from pegwright.errors import EXIT_UNREADABLE, UsageError
from pegwright.units import plural

if TYPE_CHECKING:
    from pegwright.draw.sheet_style import SheetStyle

DEFAULT_SET = "evening.toml"
ORDERS = ("given", "least-work", "least-worst")  # a test compares them with show/plan.py


@command(
    "set",
    epilog="""\b
Examples:
  pegwright set --new                               write evening.toml, with the songs of this folder
  pegwright set evening.toml                        the plan, nothing written
  pegwright set evening.toml -o evening             all maps, sheets and lists
  pegwright set evening.toml --order least-worst    another playing order
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
@option("--overwrite", is_flag=True, help=BY_NAME["overwrite"].help)
@option("--strict", is_flag=True, help=f"{STRICT}; nothing is written then.")
@option("--json", "as_json", is_flag=True, help="Print the plan as JSON, for programs.")
def song_set(
    file: Path | None,
    new_path: Path | None,
    out: Path | None,
    order: str | None,
    paper: str,
    overwrite: bool,
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
        if file or out or order or strict or as_json:
            raise UsageError("--new goes with --overwrite alone", hint="give the new file's name after --new")
        write_starter(toml_path(new_path), overwrite)
        return
    if not file:
        raise UsageError("no song set is named", hint="name one, or write one with `pegwright set --new`")
    style = style_from(sheets)
    _plan(file, out, order, paper, overwrite, strict, as_json, style)


def write_starter(path: Path, overwrite: bool) -> None:
    """Write a song set to begin with to `path`, and say so."""
    from pegwright.config.new_set import new_song_set  # noqa: PLC0415  # only where a file is written
    from pegwright.write.folder import write_file  # noqa: PLC0415

    data, songs = new_song_set(path.parent)
    write_file(path, data, overwrite)
    held = f"with the {plural(songs, 'song')} of its folder" if songs else "with two songs as examples: name your own"
    say_command(f"Wrote {path}, {held}. Then run", f"pegwright set {quote(str(path))}")


def _say_written(out: Path, count: int, others: Sequence[str], paper: str, as_json: bool) -> None:
    written(out, f"plan, overview and pin count, swaps/ and songs/, {count} files", others, err=as_json)
    sheets = f"{out / f'overview-{paper}.pdf'} and every file of {out / 'swaps'} that ends in -sheets-{paper}.pdf"
    work = "pull and set the pins of one plate after another by its sheet, set after set as the overview lists them"
    next_step(sheets, work, err=as_json)


def _plan(
    file: Path,
    out: Path | None,
    order: str | None,
    paper: str,
    overwrite: bool,
    strict: bool,
    as_json: bool,
    style: SheetStyle,
) -> None:
    from pegwright.config import load_wheel  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.config.song_set import load_song_set  # noqa: PLC0415
    from pegwright.facts import require_all_lengths  # noqa: PLC0415
    from pegwright.show.plan import Aim  # noqa: PLC0415
    from pegwright.show_pipeline.plan import plan_song_set  # noqa: PLC0415
    from pegwright.write.folder import check_folder, write_folder  # noqa: PLC0415
    from pegwright.write.show.text import show_text  # noqa: PLC0415

    songs = load_song_set(file)
    report_changed(song.file for song in songs.songs)
    if order:
        songs = replace(songs, aim=Aim(order))
    wheel = load_wheel(songs.wheel)
    if out:
        require_all_lengths(wheel)
        check_folder(out, overwrite)
    with working(f"Planning {file.name}"):
        planned = plan_song_set(songs, wheel)
    show = planned.show
    if as_json:
        from pegwright.show_pipeline.files import file_names  # noqa: PLC0415  # drawing is loaded where it is asked for
        from pegwright.write.show.data import show_json  # noqa: PLC0415

        say(show_json(show, file_names(show)).decode(), nl=False)
    else:
        say(show_text(show, text_width()), nl=False)
    if strict:
        stop_if_left_out([song.count for song in show.songs], "nothing was written")
    if out:
        from pegwright.draw.paper import paper_named  # noqa: PLC0415  # as above
        from pegwright.show_pipeline.files import show_files  # noqa: PLC0415

        with working(f"Writing {out}"):
            files = show_files(planned, paper_named(paper), style)
            others = write_folder(out, files, overwrite)
        say(err=as_json)
        _say_written(out, len(files), others, paper, as_json)
    if show.skipped:
        for name, why in show.skipped:
            say_line(f"pegwright: not in the plan: {why if name in why else f'{name}: {why}'}")
        sys.exit(EXIT_UNREADABLE)
