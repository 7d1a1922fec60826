"""Pin maps where a command takes a song: what goes with a score alone is refused."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from pegwright.ask.request import PLAIN, Request
from pegwright.cli.grouped import option
from pegwright.cli.say import say_line
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.findings import Finding
    from pegwright.read.pinmap_song import MapSong
    from pegwright.song_pipeline.table_maps import TableFacts
    from pegwright.wheel import Wheel

EMPTY = "empty"  # what plates carry that have no pins
from_option = option(
    "--from",
    "before",
    metavar="OLD|empty",
    help="What the plates carry now, a pin map or empty; the swap from there has a call list with boxes to tick.",
)
NOT_FITTED = "a pin map is not fitted: options of the fit go with a score"
LEAVE_OUT = "leave them out, or give the score"
_OF_TABLES = "--tempo, --start and --plate-set say what CSV files without a map do not; leave out any other"
_PINS = "-pins"


def read_map(path: Path, wheel: Wheel, request: Request, of_score: Mapping[str, bool]) -> MapSong:
    """The song of a pin map.

    Args:
        path: of the map, or of a folder that has some, or that has the CSV files of all plates alone.
        wheel: that it is for.
        request: made by the options of the fit; of CSV files alone it says the tempo, and can say the start and the
            set of plates.
        of_score: further options that go with a score, and whether each was given.

    Raises:
        UsageError: an option was given that goes with a score, or the tempo of CSV files was not.
        InputError: the map cannot be read, or is not for the wheel.
    """
    from pegwright.read.map_folder import is_tables_alone  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.song_pipeline.table_maps import TableFacts, map_song  # noqa: PLC0415

    alone, options = is_tables_alone(path), request.options
    facts = TableFacts(options.us_per_quarter or 0, options.start_steps, request.plate_set) if alone else TableFacts()
    if alone:
        options = replace(options, us_per_quarter=None, start_steps=Fraction(0))
        request = replace(request, options=options, plate_set=None)
    if request != PLAIN:
        raise UsageError(NOT_FITTED, where=str(path), hint=_OF_TABLES if alone else LEAVE_OUT)
    for name, given in of_score.items():
        if given:
            raise UsageError("needs the score, which a pin map is not", where=name, hint="leave it out")
    if alone and not facts.us_per_quarter:
        raise no_tempo(path)
    song = map_song(path, wheel, facts)
    report_tables([path], wheel)
    return song


def facts_of(path: Path, tempo: float | None, start: Fraction | None) -> TableFacts:
    """What options say of a folder that has the CSV files of plates and no map.

    Args:
        path: of the map.
        tempo: the option `--tempo`.
        start: the option `--start`.

    Raises:
        UsageError: one of them is given with a map.
    """
    from pegwright.read.map_folder import is_tables_alone  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.read.pinmap import is_pin_map  # noqa: PLC0415
    from pegwright.song_pipeline.table_maps import TableFacts  # noqa: PLC0415
    from pegwright.units import us_per_quarter  # noqa: PLC0415

    if is_pin_map(path) and not is_tables_alone(path):  # what is neither is refused by its reader
        for name, value in (("--tempo", tempo), ("--start", start)):
            if value is not None:
                raise UsageError("goes with a folder of CSV files without a map", where=name, hint="leave it out")
    return TableFacts(us_per_quarter(tempo) if tempo else 0, (start or 1) - Fraction(1))


def no_tempo(path: Path) -> UsageError:
    """That a tempo is needed which CSV files without a map do not say."""
    message = "its CSV files do not say the tempo, and there is no map that does"
    return UsageError(message, where=str(path), hint="add it in quarter notes a minute, such as --tempo 96")


def report_tables(folders: Iterable[Path | None], wheel: Wheel) -> None:
    """Print a line on standard error where CSV files in the folder of a map are not as the map is, which is taken.

    Args:
        folders: named on the command line for maps that were read; files are named by themselves.
        wheel: of the maps.
    """
    from pegwright.song_pipeline.plate_tables import table_notices  # noqa: PLC0415  # keeps numpy out of --help

    for folder in folders:
        for notice in table_notices(folder, wheel) if folder else ():
            say_line(f"pegwright: {notice}")


def carried_path(before: str) -> Path | None:
    """The pin map of the option --from; None for empty plates.

    Raises:
        UsageError: it is blank.
    """
    if not before.strip():
        raise UsageError("the name is blank", where="--from", hint=f"give a pin map, or {EMPTY}")
    return None if before == EMPTY else Path(before)


def map_name(path: Path) -> str:
    """What files made of a pin map are called: after its folder where that says more, as `waltz` of `waltz-pins`."""
    from pegwright.read.map_folder import MAP_NAME  # noqa: PLC0415  # as above

    folder = path if path.is_dir() else path.parent
    name = folder.resolve().name if path.is_dir() or path.name == MAP_NAME else path.stem
    return name.removesuffix(_PINS) or path.stem


def finding_lines(findings: Iterable[Finding]) -> list[str]:
    """What changed about the wheel since maps were written that concerns no pin, a sentence for each."""
    return [finding.sentence for finding in findings]
