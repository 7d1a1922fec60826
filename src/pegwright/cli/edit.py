"""`pegwright edit`: a pin map corrected by hand."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath
from pegwright.cli.maps import facts_of, no_tempo
from pegwright.cli.options import load_wheel, map_wheel_option, start_option, tempo_option
from pegwright.cli.outputs import refuse_inputs, report_stopped
from pegwright.cli.progress import written
from pegwright.cli.say import say
from pegwright.cli.terminal import text_width
from pegwright.cli.width import say_wrapped
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.correct.checked import Correction
    from pegwright.correct.values import WorkingMap
    from pegwright.song_pipeline.corrected import PlacedEdit
    from pegwright.wheel import Wheel


@command(
    epilog="""\b
Examples:
  pegwright edit waltz-pins 'remove plate 3, channel 7, step 12 half' -o waltz-2
  pegwright edit waltz-pins/pin-map.json 'set plate 3, channel 7, step 13 on, late' -o waltz-2.json
  pegwright edit round-pins 'B: move plate 1, channel snare, step 5 to step 6' -o round-2
  pegwright edit waltz-pins waltz-pins/plate-3.csv -o waltz-2
  pegwright edit waltz-pins changes.txt -o waltz-2
  pegwright edit waltz-2 --undo -o waltz-1

MAP is a pin-map.json, a folder that `pegwright pin` wrote, or with --tempo a folder that has the CSV files of all
plates alone. EDITS are lines, files of such lines, CSV files of plates that were changed in a spreadsheet, folders of
these, and maps whose edits are to be made again; without any, the CSV files in the folder MAP are compared with its
map. Without -o nothing is written. docs/correcting-pins.md explains all of it."""
)
@click.argument("map_path", metavar="MAP", type=NamedPath())
@click.argument("edits", metavar="[EDITS]...", nargs=-1)
@map_wheel_option
@option("-o", "--out", type=NamedPath(), help="The map to write, if it ends in .json; otherwise a folder.")
@option("--force", is_flag=True, help="Make edits that break a rule of pins, and keep the fault in the map.")
@tempo_option("Tempo of a folder that has CSV files and no map, which needs it.", default=None)
@start_option
@option("--undo", is_flag=True, help="Undo all edits that the map lists, back to the map of the fit.")
@option("--overwrite", is_flag=True, help="Replace what pegwright wrote there.")
def edit(
    map_path: Path,
    edits: tuple[str, ...],
    wheel_path: Path,
    out: Path | None,
    force: bool,
    tempo: float | None,
    start: Fraction | None,
    undo: bool,
    overwrite: bool,
) -> None:
    """Remove, set and move pins of MAP, each edit checked before anything is written.

    Prints what is changed, and the edits that undo it.
    """
    wheel = load_wheel(wheel_path)
    from pegwright.song_pipeline.corrected import correct  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.song_pipeline.table_maps import working_maps  # noqa: PLC0415
    from pegwright.write.correct.text import correction_text  # noqa: PLC0415

    if out:
        _check_out(out, map_path, wheel_path, overwrite)
    maps = working_maps(map_path, wheel, facts_of(map_path, tempo, start))
    if not maps[0].us_per_quarter:
        raise no_tempo(map_path)
    wheel = wheel.of_set(maps[0].plate_set)
    wanted = _wanted(map_path, edits, undo, maps, wheel)
    if out and out.suffix.lower() == ".json" and len(maps) > 1:
        hint = "name a folder, or the map of one set of plates"
        raise UsageError(f"a song of {len(maps)} sets of plates takes as many maps", where=str(out), hint=hint)
    correction = correct(maps, wanted, wheel, force)
    say(correction_text(correction, wheel, text_width()), nl=False)
    if out:
        _write(out, correction, wheel, overwrite)
    else:
        say_wrapped("Nothing was written: name the new map with -o.")


def _wanted(
    map_path: Path, edits: tuple[str, ...], undo: bool, maps: tuple[WorkingMap, ...], wheel: Wheel
) -> list[PlacedEdit]:
    """The edits that are to be made, at least one.

    Args:
        map_path: the argument MAP.
        edits: the arguments after it.
        undo: whether all that the maps list are to be undone.
        maps: as they were read.
        wheel: of the maps.
    """
    from pegwright.read.map_folder import is_tables_alone  # noqa: PLC0415  # not for --help
    from pegwright.song_pipeline.corrected import folder_tables, given_edits, undoing  # noqa: PLC0415

    if undo and edits:
        raise UsageError("--undo goes without edits", hint="undo first, then edit what was written")
    alone = is_tables_alone(map_path)
    given = edits or ([str(path) for path in folder_tables(map_path)] if map_path.is_dir() and not alone else ())
    wanted = undoing(maps, wheel) if undo else given_edits(given, maps, wheel)
    if not wanted:
        none = "the folder holds no CSV files of plates" if map_path.is_dir() else "none were given"
        none = "the folder has no map to compare its CSV files with" if alone else none
        what = "the CSV files in the folder say what the map says" if given else none
        what = "the map lists none" if undo else what
        raise UsageError(f"there is no edit to make: {what}", where=str(map_path), hint="give one after the map")
    return wanted


def _check_out(out: Path, map_path: Path, wheel_path: Path, overwrite: bool) -> None:
    """Refuse before any work a place that cannot be written."""
    from pegwright.write.folder import check_file, check_folder  # noqa: PLC0415  # not for --help

    report_stopped(out)
    refuse_inputs([out], {"map": map_path, "wheel file": wheel_path})
    if out.suffix.lower() == ".json":
        check_file(out, overwrite)
    else:
        check_folder(out, overwrite)


def _write(out: Path, correction: Correction, wheel: Wheel, overwrite: bool) -> None:
    from pegwright.song_pipeline.corrected import map_files  # noqa: PLC0415  # not for --help
    from pegwright.write.folder import write_file, write_folder  # noqa: PLC0415
    from pegwright.write.pin_map.edited import edited_map_json  # noqa: PLC0415

    maps = correction.after
    if out.suffix.lower() != ".json":
        files = map_files(maps, wheel)
        written(out, ", ".join(files), write_folder(out, files, overwrite))
        return
    write_file(out, edited_map_json(maps[0], wheel), overwrite)
    say_wrapped(f"Written: {out}")
