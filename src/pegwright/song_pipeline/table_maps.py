"""Maps wherever a command takes one: as a JSON file, or as the CSV files of all plates without one.

CSV files give every pin and its note, and neither the tempo nor where the song begins. What they leave out is given
beside them; then their map is written as JSON and read like any other, so that every rule of reading holds for both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from pegwright.ask.options import FitOptions
from pegwright.ask.request import Request
from pegwright.columns import tuples
from pegwright.correct.faults import UNKNOWN_TEMPO_US
from pegwright.correct.values import NO_HASH, HandPin, WorkingMap, ordered
from pegwright.errors import InputError
from pegwright.frozen import frozen
from pegwright.grid import Loss, hole_grid
from pegwright.json_value import Json
from pegwright.read.map_folder import is_tables_alone
from pegwright.read.pinmap import MapFile, read_map_file
from pegwright.read.pinmap_song import MapSong, read_map_song, song_of_map
from pegwright.read.plate_csv import plate_files, plate_of, read_plate, settled_pins
from pegwright.read.working_map import read_working_map, read_working_maps
from pegwright.units import fraction_text, listed, printed, quarters_per_minute
from pegwright.wheel import Wheel
from pegwright.write.pin_map.edited import edited_map_json
from pegwright.write.pin_map.json import early_json, layout_json, wheel_json


@frozen()
class TableFacts:
    """What the CSV files of plates do not say.

    Args:
        us_per_quarter: the tempo; 0 where it is not known.
        start_steps: where on the turn the song begins.
        plate_set: the set of plates, 0-based, whose holes the pins are in; None for the first that has them, if some
            set has not.
    """

    us_per_quarter: int = 0
    start_steps: Fraction = Fraction(0)
    plate_set: int | None = None


NO_FACTS = TableFacts()


def map_file(path: Path, wheel: Wheel, facts: TableFacts = NO_FACTS) -> MapFile:
    """All that a map holds; its tempo is 0 where it is not known.

    Args:
        path: of a JSON map, of a folder that has one, or of a folder that has the CSV files of all plates alone.
        wheel: that it is for.
        facts: of a folder of CSV files alone.

    Raises:
        InputError: it cannot be read, or is not for the wheel.
    """
    if not is_tables_alone(path):
        return read_map_file(path, wheel=wheel)
    file = read_map_file(_json_of_tables(path, wheel, facts), str(path), wheel)
    pins = replace(file.pins, us_per_quarter=facts.us_per_quarter)
    return replace(file, turn=replace(file.turn, pins=pins))


def map_song(path: Path, wheel: Wheel, facts: TableFacts = NO_FACTS) -> MapSong:
    """The song of a map, or of a folder of maps, or of the CSV files of all plates.

    Args:
        path: as `read_map_song` takes it, or of a folder of CSV files alone.
        wheel: that the maps are for.
        facts: of a folder of CSV files alone.

    Raises:
        InputError: a map cannot be read or is not for the wheel; the maps are not those of one song.
    """
    return song_of_map(map_file(path, wheel, facts), wheel) if is_tables_alone(path) else read_map_song(path, wheel)


def working_maps(path: Path, wheel: Wheel, facts: TableFacts = NO_FACTS) -> tuple[WorkingMap, ...]:
    """The maps of a song, to be worked on; their tempo is 0 where it is not known.

    Args:
        path: as `read_working_maps` takes it, or of a folder of CSV files alone.
        wheel: that they are for.
        facts: of a folder of CSV files alone.

    Raises:
        InputError: one cannot be read, was changed after it was written, or is for another wheel.
    """
    if not is_tables_alone(path):
        return read_working_maps(path, wheel)
    working = read_working_map(_json_of_tables(path, wheel, facts), str(path), wheel)
    return (replace(working, us_per_quarter=facts.us_per_quarter),)


def map_of_tables(folder: Path, wheel: Wheel, facts: TableFacts) -> WorkingMap:
    """The map that the CSV files of all plates make, without a map beside them; its holes may be lost ones.

    Args:
        folder: with the files.
        wheel: that they are for.
        facts: what the files do not say.

    Raises:
        InputError: a plate has no file, or one of them cannot be read.
        UsageError: the wheel has no such start or set of plates.
    """
    if facts != TableFacts(facts.us_per_quarter):
        _check(folder, wheel, facts)
    tables = plate_files(folder)
    missing = sorted(set(range(wheel.plate_count)) - {plate_of(path) for path in tables})
    if missing:
        message = f"has no CSV file of plate {listed([str(printed(plate)) for plate in missing])}"
        raise InputError(
            message, where=str(folder), hint="put the file back; a plate without pins has the header alone"
        )
    settled = settled_pins([line for path in tables for line in read_plate(path, wheel)], set())
    pins = ordered([pin for pin, _ in settled], wheel)
    wheel = wheel.of_set(_set_of(pins, wheel) if facts.plate_set is None else facts.plate_set)
    title = folder.resolve().name
    document: dict[str, Json] = {
        "wheel": wheel_json(wheel),
        "layout": layout_json(wheel),
        "score": {"title": title, "file": title, "sha256": NO_HASH},
        "fit": _fit(wheel, facts),
    }
    return WorkingMap(str(folder), "", document, pins, facts.us_per_quarter)


def _check(folder: Path, wheel: Wheel, facts: TableFacts) -> None:
    """Refuse a start or a set of plates that the wheel does not have."""
    from pegwright.song_pipeline.fitting import check_start, wheel_for  # noqa: PLC0415  # where one is given

    request = Request(options=FitOptions(start_steps=facts.start_steps), plate_set=facts.plate_set)
    check_start(request, wheel_for(request, wheel), str(folder))


def _set_of(pins: Sequence[HandPin], wheel: Wheel) -> int | None:
    """The first set of plates that has every hole of some pins; None where all sets have them, or none has."""
    if not wheel.sets_differ or _have_holes(pins, wheel):
        return None
    return next((number for number in range(wheel.plate_sets) if _have_holes(pins, wheel.of_set(number))), None)


def _have_holes(pins: Sequence[HandPin], wheel: Wheel) -> bool:
    """Whether no pin is in a hole that is lost."""
    lines = hole_grid(wheel).lines
    there = {
        line: set(tuples(*(column[line.loss == Loss.NONE] for column in (line.plate, line.row, line.index))))
        for line in set(lines)
    }
    return all((pin.hole.plate, pin.hole.row, pin.hole.number) in there[lines[pin.hole.channel]] for pin in pins)


def _fit(wheel: Wheel, facts: TableFacts) -> dict[str, Json]:
    """How the song is laid on the wheel, as far as it is known: nothing is said to have been moved or changed.

    Args:
        wheel: with the holes of its set of plates.
        facts: what the files do not say.
    """
    us_per_quarter = facts.us_per_quarter or UNKNOWN_TEMPO_US  # a map has to state a tempo
    plate, step = divmod(facts.start_steps, wheel.steps_per_plate)
    return {
        "us_per_quarter": us_per_quarter,
        "quarters_per_minute": round(quarters_per_minute(us_per_quarter), 6),
        "start_plate": printed(int(plate)),
        "start_step": fraction_text(printed(step)),
        "transpose_semitones": 0,
        "fold_octaves": False,
        "reach_quarters": "0",
        "part_priorities": [],
        "drum_keys": [],
        **({} if wheel.plate_set is None else {"plate_set": printed(wheel.plate_set)}),
        **({"advance_steps": early} if (early := early_json(wheel)) else {}),
    }


def _json_of_tables(folder: Path, wheel: Wheel, facts: TableFacts) -> bytes:
    return edited_map_json(map_of_tables(folder, wheel, facts), wheel)
