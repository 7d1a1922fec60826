"""`pegwright stack`: what the tolerances of a plate file come to in milliseconds, and which to halve first."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath
from pegwright.cli.options import tempo_option
from pegwright.cli.outputs import refuse_inputs
from pegwright.cli.say import say, say_line
from pegwright.cli.song_argument import chosen_song
from pegwright.cli.terminal import text_width
from pegwright.errors import UsageError
from pegwright.units import quarters_per_minute

if TYPE_CHECKING:
    from pegwright.plate.effects import NotePlaces
    from pegwright.wheel import Wheel

DEFAULT_TEMPO = 120.0
MAX_SEED = 2**32 - 1


@command(
    epilog="""\b
Examples:
  pegwright stack plate.toml                  by every step of a turn, at 120
  pegwright stack plate.toml waltz.mid        by the notes of a song, at its tempo
  pegwright stack plate.toml -o error.svg     with a drawing of the error round the turn
  pegwright stack plate.toml waltz.mid --json

Exit codes: 0 the tolerances were added up; 2 a fault in options or files."""
)
@click.argument("plate_path", type=NamedPath(), metavar="PLATE")
@click.argument("song", type=NamedPath(), required=False)
@tempo_option("Quarter notes a minute; the song's, or 120, if left out.", default=None)
@option(
    "--seed",
    type=click.IntRange(0, MAX_SEED),
    default=1,
    show_default=True,
    help="Of the simulation: the same seed gives the same figures.",
)
@option("-o", "--out", type=NamedPath(), metavar="FILE.svg", help="Drawing of the error round the turn to write.")
@option("--overwrite", is_flag=True, help="Replace a file that exists.")
@option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
def stack(
    plate_path: Path,
    song: Path | None,
    tempo: float | None,
    seed: int,
    out: Path | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Add up the [tolerances] of PLATE: worst case, root sum square, and a simulation of turns.

    Errors are judged beside the time between the notes of SONG, a score or a song file; without one beside a step.

    PLATE is a plate file whose [tolerances] say what may be off, and by how much. It is described in
    docs/seams-and-tolerances.md.
    """
    if overwrite and not out:
        raise UsageError("--overwrite goes with -o only", hint="leave it out, or add -o FILE.svg")
    from pegwright.plate_pipeline.stack import error_svg, load_toleranced, stack_notes  # noqa: PLC0415  # numpy
    from pegwright.write.plate.stack import StackSubject, stack_json, stack_text  # noqa: PLC0415

    if out:
        from pegwright.write.folder import check_file, write_file  # noqa: PLC0415  # only where a file is written

        if out.suffix.lower() != ".svg":
            raise UsageError(f"{out.name} is no .svg file", hint="give a name that ends in .svg")
        refuse_inputs([out], {"plate file": plate_path, "song": song})
        check_file(out, overwrite)
    plate, wheel = load_toleranced(plate_path)
    tempo, places = _places(wheel, tempo, song)
    stacked = stack_notes(plate, wheel, places, tempo, seed)
    subject = StackSubject(plate, wheel, song.name if song else None, seed)
    data = error_svg(wheel, stacked, subject.song) if out else b""
    say(stack_json(subject, stacked).decode() if as_json else stack_text(subject, stacked, text_width()), nl=False)
    if out:
        write_file(out, data, overwrite)
        say_line(f"Written: {out}")


def _places(wheel: Wheel, tempo: float | None, song: Path | None) -> tuple[float, NotePlaces]:
    """The tempo, and the notes that are judged.

    Args:
        wheel: the wheel.
        tempo: on the command line, if given.
        song: a score or a song file, if one was named.
    """
    from pegwright.plate_pipeline.stack import song_places, step_places  # noqa: PLC0415  # numpy

    if song is None:
        tempo = DEFAULT_TEMPO if tempo is None else tempo
        return tempo, step_places(wheel, tempo)
    from pegwright.song_pipeline.fitting import fit_file  # noqa: PLC0415  # where a song is given alone

    wanted = chosen_song(song, None, None, {})
    fitted = fit_file(wanted.score, wheel, wanted.request)
    tempo = quarters_per_minute(fitted.turns[0].pins.us_per_quarter) if tempo is None else tempo
    return tempo, song_places(fitted.turns, wheel, tempo)
