"""`pegwright seam`: shims, shifts or trimming at the seams of measured plates, and how audible what is left is."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pegwright.ask.table import TEMPO
from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath, Parsed, type_of
from pegwright.cli.outputs import refuse_inputs, toml_path
from pegwright.cli.say import say
from pegwright.cli.song_argument import chosen_song
from pegwright.cli.width import say_wrapped, text_width
from pegwright.errors import UsageError
from pegwright.units import quarters_per_minute

if TYPE_CHECKING:
    from pegwright.placement import PinMap
    from pegwright.plate.cutting import Cut
    from pegwright.plate.placing import PlacedPlates
    from pegwright.write.plate.seams import Tempos

DEFAULT_TEMPO = 120.0
MAX_TEMPOS = 8
MAX_CUT_MM = 50.0


def _cut_mm(text: str) -> float:
    """A length that an edge is cut back by."""
    try:
        cut_mm = float(text)
    except ValueError:
        cut_mm = math.nan
    if not 0 < cut_mm <= MAX_CUT_MM:
        raise click.BadParameter(f"{text!r} is no length in mm above 0 and up to {MAX_CUT_MM:g}")
    return cut_mm


@command(
    epilog="""\b
Examples:
  pegwright seam plate.toml measured.toml               shims or shifts for every seam
  pegwright seam plate.toml measured.toml --tempo 63 --tempo 138
  pegwright seam plate.toml measured.toml waltz.mid      judged by the notes at the seams
  pegwright seam plate.toml measured.toml -o seams.toml  for `pegwright hear --seams`
  pegwright seam plate.toml measured.toml waltz.mid --cut 0.5   what cutting an edge back costs
  pegwright seam plate.toml measured.toml --json         the same for programs

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
@option(
    "--cut",
    "cut_mm",
    type=Parsed("length", _cut_mm),
    metavar="MM",
    help="Print what cutting an edge back by MM costs.",
)
@option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
def seam(
    plate_path: Path,
    measured_path: Path,
    song: Path | None,
    tempos: tuple[float, ...],
    out: Path | None,
    overwrite: bool,
    cut_mm: float | None,
    as_json: bool,
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
    from pegwright.write.plate.cut import cut_text  # noqa: PLC0415
    from pegwright.write.plate.seams import seams_text  # noqa: PLC0415
    from pegwright.write.plate.seams_json import seams_json  # noqa: PLC0415

    path = toml_path(out) if out else None
    if path:
        from pegwright.write.folder import check_file  # noqa: PLC0415  # only where a file is written

        refuse_inputs([path], {"plate file": plate_path, "file of measured plates": measured_path})
        check_file(path, overwrite)
    placed, grown = placed_plates(plate_path, measured_path)
    data = seam_file(placed) if path else b""
    maps = _maps(placed, song)
    judged = _tempos(placed, tempos, maps, song)
    cut = _cut(placed, cut_mm, maps)
    if as_json:
        say(seams_json(placed, judged, grown, cut).decode(), nl=False)
    else:
        more = cut_text(placed.wheel, cut, song.name if song else None, text_width()) if cut else ""
        say(seams_text(placed, judged, grown, text_width()) + more, nl=False)
    if path:
        from pegwright.write.folder import write_file  # noqa: PLC0415  # only where a file is written

        write_file(path, data, overwrite)
        say_wrapped(f"Written: {path}" if as_json else f"\nWritten: {path}", err=as_json)


def _maps(placed: PlacedPlates, song: Path | None) -> list[PinMap]:
    """The pins of a song's turns; none without a song."""
    if song is None:
        return []
    from pegwright.song_pipeline.fitting import fit_file  # noqa: PLC0415  # where a song is given alone

    wanted = chosen_song(song, None, None, {})
    return [turn.pins for turn in fit_file(wanted.score, placed.wheel, wanted.request).turns]


def _cut(placed: PlacedPlates, cut_mm: float | None, maps: list[PinMap]) -> Cut | None:
    """What cutting an edge back costs, if that was asked for."""
    if cut_mm is None:
        return None
    from pegwright.plate.cutting import cut_back  # noqa: PLC0415  # where it is asked for alone

    return cut_back(placed.wheel, placed.held, cut_mm, maps)


def _tempos(placed: PlacedPlates, tempos: tuple[float, ...], maps: list[PinMap], song: Path | None) -> Tempos:
    """The tempos that were asked for, and the time between the notes on both sides of each seam.

    Args:
        placed: the plates.
        tempos: on the command line.
        maps: of the song's turns.
        song: a score or a song file, if one was named.
    """
    from pegwright.plate_pipeline.seams import song_intervals_ms, step_intervals_ms  # noqa: PLC0415  # as above
    from pegwright.write.plate.seams import Tempos as Judged  # noqa: PLC0415

    different = tuple(dict.fromkeys(tempos))
    if song is None:
        different = different or (DEFAULT_TEMPO,)
        return Judged(different, step_intervals_ms(placed, different), "a step")
    different = different or (quarters_per_minute(maps[0].us_per_quarter),)
    notes = f"the time between the notes on both sides in {song.name}"
    return Judged(different, song_intervals_ms(placed, maps, different), notes)
