"""`pegwright demo`: the main job on the bundled songs."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath
from pegwright.cli.options import output_options
from pegwright.cli.progress import working
from pegwright.cli.say import say
from pegwright.cli.sheet_options import style_from
from pegwright.cli.terminal import text_width
from pegwright.cli.width import say_command, say_wrapped
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.draw.sheet_style import SheetStyle
    from pegwright.song import FittedSong
    from pegwright.wheel import Wheel


@command(
    epilog="""\b
Examples:
  pegwright demo
  pegwright demo -o demo-pins --paper letter"""
)
@option("-o", "--out", type=NamedPath(), help="Also write a folder for each song into this folder.")
@output_options
@option("--json", "as_json", is_flag=True, help="Print the summary as JSON, for programs.")
def demo(
    out: Path | None,
    paper: str,
    spares: float,
    overwrite: bool,
    as_json: bool,
    **sheets: Any,  # noqa: ANN401  # click passes options by name
) -> None:
    """Fit all bundled songs to the demo wheel and sum up in one table.

    The wheel and the songs are those of the Merrow Sands Pavilion, an invented seaside hall. Below the
    table is the plan of an evening's show with some of the songs.
    """
    from pegwright.bundled import bundled_songs, bundled_wheel  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.config import load_wheel  # noqa: PLC0415
    from pegwright.song_pipeline.fitting import fit_file  # noqa: PLC0415
    from pegwright.write.report.summary import summary_json, summary_text  # noqa: PLC0415

    style = style_from(sheets)
    wheel = load_wheel(bundled_wheel())
    all_fitted = []
    for song in bundled_songs():
        with working(f"Fitting {song.name}"):
            all_fitted.append(fit_file(song, wheel))
    if as_json:
        say(summary_json(wheel, all_fitted).decode(), nl=False)
    else:
        say_wrapped(f"{wheel.name}: {len(all_fitted)} songs, each as it is written, from the first step of the turn\n")
        say(summary_text(all_fitted, text_width()))
        show_evening(wheel)
    if not out:
        return
    write_songs(out, all_fitted, paper, spares, overwrite, style)
    if not as_json:
        say_wrapped(f"Pin maps, pin sheets, pin counts and reports are in {out}, a folder for each song.")


def write_songs(
    out: Path, all_fitted: Sequence[FittedSong], paper: str, spares: float, overwrite: bool, style: SheetStyle
) -> None:
    """Write a folder of files for each song.

    Args:
        out: the folder of these folders.
        all_fitted: the songs.
        paper: name of the paper that is printed on.
        spares: spare pins to count, in per cent.
        overwrite: whether files may be replaced.
        style: of the sheets.
    """
    from pegwright.draw.paper import paper_named  # noqa: PLC0415  # drawing is loaded where files are written
    from pegwright.song_pipeline.files import song_files  # noqa: PLC0415
    from pegwright.song_pipeline.fitting import remedies_for  # noqa: PLC0415
    from pegwright.write.folder import write_folder  # noqa: PLC0415

    for fitted in all_fitted:
        name = fitted.edited.path.stem
        with working(f"Writing {name}"):
            out.mkdir(parents=True, exist_ok=True)
            if (out / name).is_symlink():
                message = "is a link, and nothing is written through one"
                raise UsageError(message, where=str(out / name), hint="choose another folder")
            files = song_files(fitted, remedies_for(fitted), paper_named(paper), spares, style)
            write_folder(out / name, files, overwrite)


def show_evening(wheel: Wheel) -> None:
    """Print the plan of the bundled song set."""
    from pegwright.bundled import bundled_song_set  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.config.song_set import load_song_set  # noqa: PLC0415
    from pegwright.show_pipeline.plan import plan_song_set  # noqa: PLC0415
    from pegwright.write.show.text import show_brief  # noqa: PLC0415

    path = bundled_song_set()
    with working("Planning the evening"):
        planned = plan_song_set(load_song_set(path), wheel)
    say(show_brief(planned.show, text_width()))
    say_command("All of it, with swap sheets and call lists", f"pegwright set {quote(shortest(path))} -o evening")
    say()


def shortest(path: Path) -> str:
    """A path as it is typed from the current folder, if that is shorter."""
    with suppress(ValueError, OSError):  # elsewhere, or the current folder is gone
        return str(path.resolve().relative_to(Path.cwd()))
    return str(path)
