"""`pegwright pin`: turn a song into what its pins are set by."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath
from pegwright.cli.options import fit_options, load_wheel, output_options, wheel_option
from pegwright.cli.outputs import report_stopped
from pegwright.cli.progress import next_step, working, written
from pegwright.cli.say import say
from pegwright.cli.sheet_options import style_from
from pegwright.cli.song_argument import chosen_song, song_option
from pegwright.cli.strict import STRICT, stop_if_left_out
from pegwright.cli.width import text_width

if TYPE_CHECKING:
    from pegwright.song import FittedSong
    from pegwright.song_pipeline.hand_edits import HandEdited


@command(
    epilog="""\b
Examples:
  pegwright pin waltz.mid
  pegwright pin march.toml                          a song file, with all its options
  pegwright pin evening.toml --song march           a song of a song set
  pegwright pin march.mxl --wheel pavilion.toml -o march-pins --paper a3
  pegwright pin march.mxl --larger --seen-from inside --date today --labels
  pegwright pin round.mid --bars 13-24 -o second-turn --spares 10
  pegwright pin waltz.mid --edits waltz-2/pin-map.json -o waltz-3

The folder then holds pin-map.json and one plate-N.csv a plate (in a folder for each set of
plates that a long song takes), pin-sheets-PAPER.pdf, pin-count-PAPER.pdf, .txt, .csv and .json,
report.txt, .json and .html, score-bars.svg if bars are drawn, and channel-labels-PAPER.pdf with
--labels. docs/file-formats.md explains each."""
)
@click.argument("song", type=NamedPath())
@option("-o", "--out", type=NamedPath(), help="Folder to write; default: SONG-pins in this folder.")
@wheel_option
@song_option
@fit_options
@output_options
@option(
    "--remedies/--no-remedies",
    default=None,
    help="What would help, on the report page: try all, or leave it out; by default as much as takes half a second.",
)
@option("--strict", is_flag=True, help=f"{STRICT}; nothing is written then.")
@option(
    "--edits", "edits_path", type=NamedPath(), help="Edits made by hand: a file of lines, or a map that lists them."
)
def pin(
    song: Path,
    out: Path | None,
    wheel_path: Path,
    name: str | None,
    paper: str,
    spares: float,
    overwrite: bool,
    remedies: bool | None,
    strict: bool,
    edits_path: Path | None,
    **options: Any,  # noqa: ANN401  # click passes options by name
) -> None:
    """Turn SONG into pin maps, printed pin sheets and a pin count, in one folder.

    SONG is a score, a song file (.toml) that says all options, or with --song a song set. Every note read is in
    the report: it sounds, as written or moved by how much; is left out, with the reason; or was dropped on
    request. The folder is written as a whole or not at all.
    """
    wanted, style = chosen_song(song, wheel_path, name, options), style_from(options)
    wheel = load_wheel(wanted.wheel)
    from pegwright.draw.paper import paper_named  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.facts import require_all_lengths  # noqa: PLC0415
    from pegwright.remedy.budget import FULL_WORK  # noqa: PLC0415
    from pegwright.show.count import pin_count  # noqa: PLC0415
    from pegwright.song_pipeline.files import song_files  # noqa: PLC0415
    from pegwright.song_pipeline.fitting import fit_file, remedies_for  # noqa: PLC0415
    from pegwright.write.count.text import count_text  # noqa: PLC0415
    from pegwright.write.folder import check_folder, write_folder  # noqa: PLC0415
    from pegwright.write.names import safe_name  # noqa: PLC0415
    from pegwright.write.report.text import report_text  # noqa: PLC0415

    require_all_lengths(wheel)
    folder = out or Path(f"{safe_name(wanted.stem)}-pins")
    report_stopped(folder)
    check_folder(folder, overwrite)
    with working(f"Pinning {song.name}"):
        fitted = fit_file(wanted.score, wheel, wanted.request)
        by_hand = _edited(fitted, edits_path) if edits_path else None
    fitted = by_hand.song if by_hand else fitted
    say(report_text(fitted, text_width()))
    if strict:
        stop_if_left_out([fitted.count], "nothing was written")
    with working(f"Writing {folder}"):
        helps = remedies is not False and remedies_for(fitted, FULL_WORK if remedies else None)
        files = song_files(fitted, helps, paper_named(paper), spares, style)
        files |= by_hand.map_files() if by_hand else {}
        others = write_folder(folder, files, overwrite)
    count = pin_count([turn.pins for turn in fitted.pinnings], wheel, spares)
    say(count_text(count, fitted.count, text_width(), fitted.score.title))
    written(folder, ", ".join(files), others)
    next_step(str(folder / f"pin-sheets-{paper}.pdf"), "pin one plate after another by its sheet")


def _edited(fitted: FittedSong, edits: Path) -> HandEdited:
    from pegwright.song_pipeline.hand_edits import edited_by_hand  # noqa: PLC0415  # only where edits are given

    return edited_by_hand(fitted, edits)
