"""`pegwright fit`: does a song fit a wheel, and what does not."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pegwright.ask.request import AUTO
from pegwright.ask.table import Topic
from pegwright.cli.grouped import command, option
from pegwright.cli.keeping import command_with, keep_song, kept_bytes, place_to_keep, with_remedy
from pegwright.cli.kinds import FiniteRange, NamedPath, WholeRange
from pegwright.cli.options import fit_options, load_wheel, wheel_option
from pegwright.cli.progress import working
from pegwright.cli.say import say
from pegwright.cli.song_argument import ChosenSong, chosen_song, song_option
from pegwright.cli.strict import STRICT, stop_if_left_out
from pegwright.cli.terminal import text_width
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.load import SetLoad
    from pegwright.remedy.changes import CommandOf
    from pegwright.song import FittedSong
    from pegwright.song_pipeline.fitting import SongRemedies
    from pegwright.wheel import Wheel

LISTED = 5  # of the best transpositions
WINDOW_RANGE_MS = (0.001, 60_000.0)  # as for the limits of a wheel, to the microsecond
MAX_TAKEN = 10  # a test compares it with the numbers of remedies, whose modules --help must not load


@command(
    epilog="""\b
Examples:
  pegwright fit waltz.mid
  pegwright fit round.mid --bars 1-12 --wheel pavilion.toml
  pegwright fit air.musicxml --start 17 --transpose -2
  pegwright fit song.mid --search                          what is best; the next line takes it
  pegwright fit song.mid --transpose auto --start auto
  pegwright fit song.mid --remedies
  pegwright fit song.mid --transpose -2 --keep song.toml   then fit, pin, hear song.toml
  pegwright fit song.toml --take 2                         with remedy 2, written into it
  pegwright fit evening.toml --song waltz                  a song of a song set
  pegwright fit song.mid --load --load-window 200
  pegwright fit jig.mid --offset auto --strict && echo "nothing left out"

Exit codes: 0 the report was printed; 3 some notes left out (with --strict);
2 a fault in options or wheel file; 1 a score that cannot be read."""
)
@click.argument("song", type=NamedPath())
@wheel_option
@song_option
@fit_options
@option(
    "--search",
    topic=Topic.PLACING,
    is_flag=True,
    help=f"List the best {LISTED} transpositions and starts; --transpose auto --start auto takes the best.",
)
@option(
    "--remedies/--no-remedies",
    default=None,
    help="Try and list what would help, for the song, each note and the wheel; or leave it out of --search as well.",
)
@option("--keep", type=NamedPath(), metavar="FILE", help="Also write the song with all its options as a song file.")
@option(
    "--take",
    type=WholeRange(1, MAX_TAKEN),
    metavar="N",
    help="Take the remedy that --remedies gives this number, and write it into the song file.",
)
@option("--load", is_flag=True, help="Report how many pins trip within a time, round the turn, and the worst places.")
@option(
    "--load-window",
    "window_ms",
    type=FiniteRange(*WINDOW_RANGE_MS),
    metavar="MS",
    help="That time, for all channels; default: the longest of the wheel's limits, or a step.",
)
@option("--overwrite", is_flag=True, help="Replace a song file that exists.")
@option("--strict", is_flag=True, help=f"{STRICT}.")
@option("--json", "as_json", is_flag=True, help="Print the report as JSON, for programs.")
def fit(
    song: Path,
    wheel_path: Path,
    name: str | None,
    search: bool,
    remedies: bool | None,
    keep: Path | None,
    take: int | None,
    load: bool,
    window_ms: float | None,
    overwrite: bool,
    strict: bool,
    as_json: bool,
    **options: Any,  # noqa: ANN401  # click passes options by name
) -> None:
    """Check whether SONG fits the wheel; only --keep and --take write files.

    SONG is a MIDI or MusicXML file (.mid, .musicxml, .xml, .mxl); with the extra `other-scores`
    also ABC, Humdrum **kern or MEI (.abc, .krn, .mei); or a song file (.toml) that says all options,
    or with --song a song set. Every note read is reported: it sounds,
    as written or moved by how much; is left out, with the reason; or was dropped on request.
    """
    wanted = chosen_song(song, wheel_path, name, _searched(options) if search else options)
    kept = place_to_keep(wanted, keep, take, overwrite)
    if window_ms is not None and not load:
        raise UsageError("goes with --load", where="--load-window", hint="add --load to print the load")
    wheel = load_wheel(wanted.wheel)
    from pegwright.song_pipeline.fitting import set_loads  # noqa: PLC0415  # keeps numpy out of --help

    with working(f"Fitting {song.name}"):
        wanted, fitted = _fitted(wanted, wheel, LISTED if search else 1, take)
        loads = set_loads(fitted, window_ms) if load else ()
    helps = None
    if remedies or (search and not as_json and remedies is None):
        with working(f"Trying what would help {song.name}"):
            helps = _tried(fitted, bool(remedies))
    data = kept_bytes(wanted, kept) if kept else b""
    command = partial(command_with, wanted, fitted)
    _print(fitted, helps, command, bool(remedies), loads if load else None, as_json)
    if kept:
        keep_song(kept, data, err=as_json)
    if strict:
        stop_if_left_out([fitted.count])


def _fitted(wanted: ChosenSong, wheel: Wheel, listed: int, take: int | None) -> tuple[ChosenSong, FittedSong]:
    """The song as it is fitted, and the choice with a remedy taken.

    Args:
        wanted: the song and its options.
        wheel: the wheel.
        listed: how many of the best transpositions a search lists.
        take: the number of a remedy to take, or None.
    """
    from pegwright.song_pipeline.fitting import fit_file  # noqa: PLC0415  # keeps numpy out of --help

    fitted = fit_file(wanted.score, wheel, replace(wanted.request, report_best=listed))
    if take is None:
        return wanted, fitted
    wanted = with_remedy(wanted, fitted, _tried(fitted, full=True)[0], take)
    return wanted, fit_file(wanted.score, wheel, wanted.request)


def _tried(fitted: FittedSong, full: bool) -> SongRemedies:
    """What would help the song: all that is tried for `--remedies`, or what a report page has."""
    from pegwright.remedy.budget import FULL_WORK  # noqa: PLC0415  # loaded where remedies are tried
    from pegwright.song_pipeline.fitting import remedies_for  # noqa: PLC0415

    return remedies_for(fitted, FULL_WORK if full else None)


def _print(
    fitted: FittedSong,
    helps: SongRemedies | None,
    command: CommandOf,
    listed: bool,
    loads: tuple[SetLoad, ...] | None,
    as_json: bool,
) -> None:
    """Print the report, or after a search its list, with the load where it is given.

    Args:
        fitted: the song.
        helps: what would help; after a search the best of it is named.
        command: the whole command that makes the changes of a remedy.
        listed: whether all remedies are printed.
        loads: of its pins.
        as_json: for programs.
    """
    from pegwright.write.report.text import report_text  # noqa: PLC0415  # each is loaded where it is printed

    if as_json:
        _print_json(fitted, helps if listed else None, command, loads)
        return
    width = text_width()
    if fitted.best and fitted.request.report_best > 1:
        from pegwright.write.report.search import beyond_search_text, search_text, taking_text  # noqa: PLC0415

        say(search_text(fitted.best, width))
        say(beyond_search_text(helps[0], fitted.count, command, width) if helps else "", nl=False)
        say(taking_text(command, width), nl=False)
    else:
        say(report_text(fitted, width), nl=False)
    if loads is not None:
        from pegwright.write.report.load import load_text  # noqa: PLC0415

        say("\n" + load_text(fitted.wheel, loads, width), nl=False)
    if helps and listed:
        from pegwright.write.report.remedies import remedies_text  # noqa: PLC0415

        text = remedies_text(fitted.score, *helps, dropped=fitted.count.dropped, width=width, command=command)
        say("\n" + text, nl=False)


def _print_json(
    fitted: FittedSong,
    helps: SongRemedies | None,
    command: CommandOf,
    loads: tuple[SetLoad, ...] | None,
) -> None:
    """Print the report as JSON, with the load where it is given; arguments as for `_print`."""
    from pegwright.write.report.json import report_json_pieces  # noqa: PLC0415  # loaded where asked for

    helps_json = loads_json = None
    if helps:
        from pegwright.write.report.remedies import remedies_json  # noqa: PLC0415

        helps_json = remedies_json(fitted.score, *helps, command)
    if loads is not None:
        from pegwright.write.report.load import load_json  # noqa: PLC0415

        loads_json = load_json(fitted.wheel, loads)
    for piece in report_json_pieces(fitted, helps_json, loads_json):
        say(piece.decode(), nl=False)


def _searched(options: dict[str, Any]) -> dict[str, Any]:
    """The options with transposition and start left open.

    Raises:
        UsageError: one of them was given.
    """
    for name, by_default in (("transpose", 0), ("start", 1)):
        if options[name] not in (AUTO, by_default):
            message = f"--search finds the best, and {options[name]} was given"
            raise UsageError(message, where=f"--{name}", hint="leave out one of the two")
    return options | {"transpose": AUTO, "start": AUTO}
