"""`pegwright check`: whether the pins of a map can be set and played."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath
from pegwright.cli.maps import facts_of
from pegwright.cli.options import load_wheel, map_wheel_option, tempo_option
from pegwright.cli.say import say
from pegwright.cli.terminal import text_width
from pegwright.errors import EXIT_LEFT_OUT, UsageError

if TYPE_CHECKING:
    from pegwright.correct.checked import Checked
    from pegwright.correct.values import WorkingMap
    from pegwright.wheel import Wheel


@command(
    epilog="""\b
Examples:
  pegwright check waltz-pins
  pegwright check waltz-pins/pin-map.json --wheel pavilion.toml
  pegwright check waltz-pins/plate-3.csv
  pegwright check plate-3.csv --of waltz-pins --json

MAP is a pin-map.json, a folder that `pegwright pin` wrote, a folder that has the CSV files of all
plates alone, or the CSV of a plate. CSV files that were changed are compared with the map beside
them, and what differs is printed as edits, which `pegwright edit` makes.

Exit codes: 0 no rule is broken; 3 some are; 2 a fault in options or wheel file; 1 a file that
cannot be read."""
)
@click.argument("map_path", metavar="MAP", type=NamedPath())
@map_wheel_option
@option("--of", "of_path", type=NamedPath(), metavar="MAP", help="The map that a CSV file was written with.")
@tempo_option("Tempo of a folder that has CSV files and no map; without it times are not checked.", default=None)
@option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
def check(map_path: Path, wheel_path: Path, of_path: Path | None, tempo: float | None, as_json: bool) -> None:
    """Check every pin of MAP: its hole, its neighbours, re-strike, limits, held notes, and the stock.

    Every fault is printed with the plate, channel, step and row of its pins, and the set of plates
    where a song has several.
    """
    wheel = load_wheel(wheel_path)
    checked = _checked(map_path, of_path, tempo, wheel)
    if as_json:
        from pegwright.write.correct.json import checked_json  # noqa: PLC0415  # loaded where asked for

        say(checked_json(checked, wheel).decode(), nl=False)
    else:
        from pegwright.write.correct.text import checked_text  # noqa: PLC0415

        say(checked_text(checked, wheel, text_width()), nl=False)
    if checked.faults:
        sys.exit(EXIT_LEFT_OUT)


def _checked(path: Path, of_path: Path | None, tempo: float | None, wheel: Wheel) -> Checked:
    from pegwright.correct.checked import Checked  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.correct.faults import map_faults  # noqa: PLC0415
    from pegwright.read.map_folder import is_tables_alone  # noqa: PLC0415
    from pegwright.read.working_map import inspected_maps  # noqa: PLC0415
    from pegwright.song_pipeline import corrected, table_maps  # noqa: PLC0415
    from pegwright.song_pipeline.plate_tables import missing_tables  # noqa: PLC0415

    is_table = path.suffix.lower() == ".csv"
    facts = facts_of(of_path if of_path and is_table else path, tempo, None)
    if of_path is not None and not is_table:
        raise UsageError("goes with the CSV file of a plate", where="--of", hint="leave it out")
    if is_tables_alone(path):
        working = table_maps.map_of_tables(path, wheel, facts)
        return Checked((working,), (), map_faults([working], wheel.of_set(working.plate_set)))
    if is_table:
        maps = table_maps.working_maps(of_path or corrected.map_beside(path), wheel, facts)
        return _compared(maps, (path,), wheel.of_set(maps[0].plate_set))
    maps, file_faults = inspected_maps(path, wheel)
    wheel = wheel.of_set(maps[0].plate_set)
    if path.is_dir() and not file_faults:
        compared = _compared(maps, corrected.folder_tables(path), wheel)
        return replace(compared, faults=(*missing_tables(path, maps, wheel), *compared.faults))
    return Checked(maps, (), (*file_faults, *map_faults(maps, wheel)))


def _compared(maps: tuple[WorkingMap, ...], tables: tuple[Path, ...], wheel: Wheel) -> Checked:
    """The maps with what differs in CSV files, checked."""
    from pegwright.correct.checked import Checked  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.correct.faults import map_faults  # noqa: PLC0415
    from pegwright.song_pipeline.corrected import correct, csv_edits  # noqa: PLC0415

    edits = csv_edits(tables, maps, wheel)
    if not edits:
        return Checked(maps, (), map_faults(maps, wheel))
    correction = correct(maps, edits, wheel, keep_faults=True)
    return Checked(correction.after, correction.edits, map_faults(correction.after, wheel))
