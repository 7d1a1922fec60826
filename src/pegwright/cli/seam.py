"""`pegwright seam`: shims, shifts or trimming at the seams of measured plates, and how audible what is left is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pegwright.ask.table import TEMPO
from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath, type_of
from pegwright.cli.outputs import refuse_inputs, toml_path
from pegwright.cli.say import say
from pegwright.cli.song_argument import chosen_song
from pegwright.cli.width import say_wrapped, text_width
from pegwright.errors import UsageError
from pegwright.units import quarters_per_minute

if TYPE_CHECKING:
    from pegwright.plate.placing import PlacedPlates
    from pegwright.write.plate.seams import Tempos

DEFAULT_TEMPO = 120.0
MAX_TEMPOS = 8


@command(
    epilog="""\b
Examples:
  pegwright seam plate.toml measured.toml               shims or shifts for every seam
  pegwright seam plate.toml measured.toml --tempo 63 --tempo 138
  pegwright seam plate.toml measured.toml waltz.mid      judged by the notes at the seams
  pegwright seam plate.toml measured.toml -o seams.toml  for `pegwright hear --seams`

Exit codes: 0 there is a plan, or what to trim; 2 a fault in options or files."""
)
@click.argument("plate_path", type=NamedPath(), metavar="PLATE")
@click.argument("measured_path", type=NamedPath(), metavar="MEASURED")
@click.argument("song", type=NamedPath(), required=False)
@option(
    "--tempo",
    "tempos",
    type=type_of(TEMPO),
    multiple=True,
    metavar="QUARTERS_A_MINUTE",
    help="Quarter notes a minute at which errors are judged, several times for several; else the song's, or 120.",
)
@option("-o", "--out", type=NamedPath(), help="Seam file to write, for `pegwright hear --seams`.")
@option("--overwrite", is_flag=True, help="Replace a file that exists.")
def seam(
    plate_path: Path,
    measured_path: Path,
    song: Path | None,
    tempos: tuple[float, ...],
    out: Path | None,
    overwrite: bool,
) -> None:
    """Work out what to do at the seams of the plates that were measured in MEASURED.

    Errors are judged beside the time between the notes on both sides of a seam in SONG, a score or a song file; without
    one beside a step.

    PLATE is a plate file whose [held] says how plates are held: on dowels, within whose clearance each is shifted, or
    edge to edge, packed with the shims that are owned. The formats are described in docs/seams-and-tolerances.md.
    """
    if overwrite and not out:
        raise UsageError("--overwrite goes with -o only", hint="leave it out, or add -o FILE")
    if len(tempos) > MAX_TEMPOS:
        raise UsageError(f"{len(tempos)} tempos, above the maximum, {MAX_TEMPOS}", hint="run the command twice")
    from pegwright.plate_pipeline.seams import placed_plates, seam_file  # noqa: PLC0415  # numpy
    from pegwright.write.plate.seams import seams_text  # noqa: PLC0415

    path = toml_path(out) if out else None
    if path:
        from pegwright.write.folder import check_file  # noqa: PLC0415  # only where a file is written

        refuse_inputs([path], {"plate file": plate_path, "file of measured plates": measured_path})
        check_file(path, overwrite)
    placed, grown = placed_plates(plate_path, measured_path)
    data = seam_file(placed) if path else b""
    say(seams_text(placed, _tempos(placed, tempos, song), grown, text_width()), nl=False)
    if path:
        from pegwright.write.folder import write_file  # noqa: PLC0415  # only where a file is written

        write_file(path, data, overwrite)
        say_wrapped(f"\nWritten: {path}")


def _tempos(placed: PlacedPlates, tempos: tuple[float, ...], song: Path | None) -> Tempos:
    """The tempos that were asked for, and the time between the notes on both sides of each seam.

    Args:
        placed: the plates.
        tempos: on the command line.
        song: a score or a song file, if one was named.
    """
    from pegwright.plate_pipeline.seams import song_intervals_ms, step_intervals_ms  # noqa: PLC0415  # as above
    from pegwright.write.plate.seams import Tempos as Judged  # noqa: PLC0415

    different = tuple(dict.fromkeys(tempos))
    if song is None:
        different = different or (DEFAULT_TEMPO,)
        return Judged(different, step_intervals_ms(placed, different), "a step")
    from pegwright.song_pipeline.fitting import fit_file  # noqa: PLC0415  # where a song is given alone

    wanted = chosen_song(song, None, None, {})
    fitted = fit_file(wanted.score, placed.wheel, wanted.request)
    maps = [turn.pins for turn in fitted.turns]
    different = different or (quarters_per_minute(maps[0].us_per_quarter),)
    notes = f"the time between the notes on both sides in {song.name}"
    return Judged(different, song_intervals_ms(placed, maps, different), notes)
