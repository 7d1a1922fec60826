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
from pegwright.cli.progress import working
from pegwright.cli.say import say
from pegwright.cli.song_argument import chosen_song
from pegwright.cli.terminal import text_width
from pegwright.cli.width import say_wrapped
from pegwright.errors import UsageError
from pegwright.units import quarters_per_minute

if TYPE_CHECKING:
    from pegwright.plate.cutting import Cut, SongPins, Trim
    from pegwright.plate.placing import PlacedPlates
    from pegwright.write.plate.seams import Tempos

DEFAULT_TEMPO = 120.0
MAX_TEMPOS = 8
MAX_CUT_MM = 50.0
TRIMS = "trims"


def _cut(text: str) -> float | str:
    """A length that an edge is cut back by, or the word for the trimming of the plan."""
    if text.strip().lower() == TRIMS:
        return TRIMS
    try:
        cut_mm = float(text)
    except ValueError:
        cut_mm = math.nan
    if not 0 < cut_mm <= MAX_CUT_MM:
        raise click.BadParameter(f"{text!r} is no length in mm above 0 and up to {MAX_CUT_MM:g}, nor {TRIMS}")
    return cut_mm


@command(
    epilog="""\b
Examples:
  pegwright seam plate.toml measured.toml               shims or shifts for every seam
  pegwright seam plate.toml measured.toml --tempo 63 --tempo 138
  pegwright seam plate.toml measured.toml waltz.mid      judged by the notes at the seams
  pegwright seam plate.toml measured.toml -o seams.toml  for `pegwright hear --seams`
  pegwright seam plate.toml measured.toml waltz.mid --cut 0.5   what cutting an edge back costs
  pegwright seam plate.toml measured.toml evening.toml --cut trims   what the trimming above costs, by song
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
    "cut",
    type=Parsed("length", _cut),
    metavar="MM|trims",
    help="Print what cutting an edge back by MM costs, or what the trimming costs that the plan asks for.",
)
@option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
def seam(
    plate_path: Path,
    measured_path: Path,
    song: Path | None,
    tempos: tuple[float, ...],
    out: Path | None,
    overwrite: bool,
    cut: float | str | None,
    as_json: bool,
) -> None:
    """Work out what to do at the seams of the plates that were measured in MEASURED.

    Errors are judged beside the time between the notes on both sides of a seam in SONG, a score, a song file, or a
    song set, which is planned; without one beside a step.

    PLATE is a plate file whose [held] says how plates are held: on dowels, within whose clearance each is shifted, or
    edge to edge, packed with the shims that are owned. The formats are described in docs/seams-and-tolerances.md.
    """
    if overwrite and not out:
        raise UsageError("--overwrite goes with -o only", hint="leave it out, or add -o FILE")
    if len(tempos) > MAX_TEMPOS:
        raise UsageError(f"{len(tempos)} tempos, above the maximum, {MAX_TEMPOS}", hint="run the command twice")
    from pegwright.plate_pipeline.seams import placed_plates, seam_file  # noqa: PLC0415  # numpy
    from pegwright.write.plate.seams import seams_text  # noqa: PLC0415
    from pegwright.write.plate.seams_json import seams_json  # noqa: PLC0415

    path = toml_path(out) if out else None
    if path:
        from pegwright.write.folder import check_file  # noqa: PLC0415  # only where a file is written

        refuse_inputs([path], {"plate file": plate_path, "file of measured plates": measured_path})
        check_file(path, overwrite)
    placed, grown = placed_plates(plate_path, measured_path)
    data = seam_file(placed) if path else b""
    songs = _songs(placed, song)
    judged = _tempos(placed, tempos, songs, song)
    costs = _costs(placed, cut, songs)
    if as_json:
        say(seams_json(placed, judged, grown, costs).decode(), nl=False)
    else:
        name = song.name if song else None
        say(seams_text(placed, judged, grown, text_width()) + _costs_text(placed, costs, name), nl=False)
    if path:
        from pegwright.write.folder import write_file  # noqa: PLC0415  # only where a file is written

        write_file(path, data, overwrite)
        say_wrapped(f"Written: {path}" if as_json else f"\nWritten: {path}", err=as_json)


def _songs(placed: PlacedPlates, song: Path | None) -> tuple[SongPins, ...]:
    """The pins of a song, or of the songs that a show has on the measured set; none without a song."""
    if song is None:
        return ()
    from pegwright.config.song_file import toml_values  # noqa: PLC0415  # where a song is given alone
    from pegwright.formats import is_song_set  # noqa: PLC0415
    from pegwright.plate.cutting import SongPins as Pins  # noqa: PLC0415

    values = toml_values(song)
    if values is not None and is_song_set(values):
        from pegwright.show_pipeline.seam_songs import songs_on_set  # noqa: PLC0415  # of a song set alone

        with working(f"Planning {song.name}"):
            songs = songs_on_set(song, placed.wheel, placed.measured.set_number - 1)
        if not songs:
            what = f"the plan puts no song on set {placed.measured.set_number}, which was measured"
            raise UsageError(what, where=str(song), hint="name a song, or measure the set that is used")
        return songs
    from pegwright.song_pipeline.fitting import fit_file  # noqa: PLC0415  # where a song is given alone

    wanted = chosen_song(song, None, None, {})
    order = tuple(number - 1 for number in placed.measured.order)
    turns = fit_file(wanted.score, placed.wheel, wanted.request).turns
    return (Pins(song.name, tuple((turn.pins, order) for turn in turns)),)


def _costs(placed: PlacedPlates, cut: float | str | None, songs: tuple[SongPins, ...]) -> Cut | tuple[Trim, ...] | None:
    """What cutting an edge back costs, or the trimming of the plan, if that was asked for."""
    if cut is None:
        return None
    from pegwright.plate.cutting import cut_back, trims  # noqa: PLC0415  # where it is asked for alone

    return trims(placed, songs) if isinstance(cut, str) else cut_back(placed.wheel, placed.held, cut, songs)


def _costs_text(placed: PlacedPlates, costs: Cut | tuple[Trim, ...] | None, song: str | None) -> str:
    """The same as text, after that of the seams; nothing where it was not asked for."""
    if costs is None:
        return ""
    from pegwright.write.plate.cut import cut_text, trims_text  # noqa: PLC0415  # where it is asked for alone

    if isinstance(costs, tuple):
        return trims_text(placed, costs, song, text_width())
    return cut_text(placed.wheel, costs, song, text_width())


def _tempos(placed: PlacedPlates, tempos: tuple[float, ...], songs: tuple[SongPins, ...], song: Path | None) -> Tempos:
    """The tempos that were asked for, and the time between the notes on both sides of each seam.

    Args:
        placed: the plates.
        tempos: on the command line.
        songs: whose notes they are; of several the slowest and the fastest tempo are taken where none is asked for.
        song: a score, a song file or a song set, if one was named.
    """
    from pegwright.plate_pipeline.seams import song_intervals_ms, step_intervals_ms  # noqa: PLC0415  # as above
    from pegwright.write.plate.seams import Tempos as Judged  # noqa: PLC0415

    different = tuple(dict.fromkeys(tempos))
    if song is None:
        different = different or (DEFAULT_TEMPO,)
        return Judged(different, step_intervals_ms(placed, different), "a step")
    maps = [pins for each in songs for pins, _ in each.maps]
    own = [quarters_per_minute(pins.us_per_quarter) for pins in maps]
    different = different or tuple(dict.fromkeys((min(own), max(own))))
    of_any = "any song of " if len(songs) > 1 else ""
    notes = f"the time between the notes on both sides in {of_any}{song.name}"
    return Judged(different, song_intervals_ms(placed, maps, different), notes)
