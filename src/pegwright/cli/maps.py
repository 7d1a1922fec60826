"""Pin maps where a command takes a song: what goes with a score alone is refused."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from pegwright.ask.request import PLAIN, Request
from pegwright.cli.grouped import option
from pegwright.cli.say import say_line
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.findings import Finding
    from pegwright.read.pinmap_song import MapSong
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
_PINS = "-pins"


def read_map(path: Path, wheel: Wheel, request: Request, of_score: Mapping[str, bool]) -> MapSong:
    """The song of a pin map.

    Args:
        path: of the map, or of a folder that has some.
        wheel: that it is for.
        request: made by the options of the fit.
        of_score: further options that go with a score, and whether each was given.

    Raises:
        UsageError: an option was given that goes with a score.
        InputError: the map cannot be read, or is not for the wheel.
    """
    if request != PLAIN:
        raise UsageError(NOT_FITTED, where=str(path), hint=LEAVE_OUT)
    for name, given in of_score.items():
        if given:
            raise UsageError("needs the score, which a pin map is not", where=name, hint="leave it out")
    from pegwright.read.pinmap_song import read_map_song  # noqa: PLC0415  # keeps numpy out of --help

    song = read_map_song(path, wheel)
    report_tables([path], wheel)
    return song


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
