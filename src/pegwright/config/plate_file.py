"""The plate file: TOML to `PlateFile`. The format is described in full in docs/plate-file.md."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from pegwright.config.checks import YES_NO, decimal, one_of, seen, whole
from pegwright.config.fields import Table, read_bytes, toml_table
from pegwright.config.file_kinds import FileKind
from pegwright.config.held import read_held
from pegwright.config.lengths import has_length, in_inches, length, read_length
from pegwright.config.plate_layers import read_layers
from pegwright.config.plate_rules import check_plate
from pegwright.config.song_checks import path_text
from pegwright.config.tolerances import read_tolerances
from pegwright.config.wheel_file import parse_wheel
from pegwright.errors import ConfigError, PegwrightError, UsageError
from pegwright.facts import require_lengths
from pegwright.making import DwellUnit, Face, Fixing, HoleKind, Layer, Machine, PlateFile, Sheet, Tool
from pegwright.units import printed
from pegwright.wheel import Wheel

MAX_FIXINGS = 200
MAX_TOOLS = 50
KINDS = tuple(kind.word for kind in HoleKind if kind not in {HoleKind.PIN, HoleKind.TRIAL})

_PATH = path_text("a wheel file")
_FACE = one_of(tuple(Face), "face")
_KIND = one_of(KINDS, "kind of fixing hole")
_DWELL = one_of(tuple(DwellUnit), "unit of dwells")
_LENGTH = length(0, 10_000)
_ABOVE = length(0, 10_000, above=True)
_DIAMETER = length(0.1, 500)
_SIGNED = length(-100_000, 100_000)
_CELSIUS = decimal(-50, 150, "in degrees Celsius")
_SPINDLE = decimal(0, 200_000, "in revolutions a minute", above=True)
_RATE = length(0, 100_000, "a minute", above=True)
_DWELL_S = decimal(0, 60, "in seconds")
_WHEEL_LENGTHS = (
    "radius_mm",
    "thickness_mm",
    "hole_diameter_mm",
    "pin_diameter_mm",
    "min_wall_mm",
    "pin_clearance_mm",
    "channel_pitch_mm",
)


def load_plate(path: Path) -> tuple[PlateFile, Wheel]:
    """The plate file at a path, and the wheel that it names, whose path is taken from the plate file's folder.

    Raises:
        UsageError: the plate file cannot be read, or the wheel cannot have plates made.
        ConfigError: one of the two has faults, all of them; or the wheel cannot be read.
    """
    data = read_bytes(path, "name a plate file, or write one with `pegwright plate --new`")
    where = str(path)
    with toml_table(data, where, FileKind.PLATE) as top:
        wheel_path = path.parent / top.value("wheel", _PATH, "")
        wheel_data = _wheel_bytes(top, wheel_path)
    wheel = parse_wheel(wheel_data, str(wheel_path))
    _check_wheel(wheel, where)
    return replace(parse_plate(data, where, wheel), wheel_path=str(wheel_path)), wheel


def _wheel_bytes(top: Table, path: Path) -> bytes:
    """The bytes of the wheel file; where it cannot be read, that is a fault of the key that names it."""
    if top.faults.none_in("wheel"):
        try:
            return read_bytes(path, "name a wheel file by its path from the plate file's folder")
        except UsageError as error:
            top.fault("wheel", f"{seen(top.values['wheel'])} {error.message}", error.hint)
    return b""


def _check_wheel(wheel: Wheel, where: str) -> None:
    """Refuse a wheel whose plates cannot be made."""
    if not wheel.geometry.seams:
        fault = PegwrightError("the drum of this wheel is of one piece", hint="plates are made for wheels with seams")
        raise ConfigError([fault], where=where)
    require_lengths(wheel, (*_WHEEL_LENGTHS, "lead_edge_mm", "trail_edge_mm"), "a plate needs every length")


def parse_plate(data: bytes, where: str, wheel: Wheel) -> PlateFile:
    """The plate file of a file's bytes.

    Args:
        data: TOML in UTF-8.
        where: the file's name, for faults.
        wheel: that it names, with every length known.

    Raises:
        ConfigError: the file has faults; all of them.
    """
    with toml_table(data, where, FileKind.PLATE) as top:
        wheel_path = top.value("wheel", _PATH, "")
        for key in ("sheet", "layer", "fixing", "tool", "machine", "strip", "held", "tolerances"):
            top.has(key)  # so that all of them are known where another is misspelt
        sheet_table = top.table("sheet")
        layers = read_layers(top, sheet_table, wheel)
        sheet = _read_sheet(sheet_table)
        held = read_held(top, wheel)
        tools = _read_tools(top.tables("tool", MAX_TOOLS, minimum=1))
        plate = PlateFile(
            wheel_path=wheel_path,
            sheet=sheet,
            layers=layers,
            fixings=_read_fixings(top.tables("fixing", MAX_FIXINGS), wheel, layers),
            tools=tools,
            machine=_read_machine(top.table("machine")),
            held=held,
            tolerances=read_tolerances(top, layers, held),
            sha256=hashlib.sha256(data).hexdigest(),
        )
        top.close()
        paths = [f"layer[{printed(number)}]" for number in range(len(layers))] if top.has("layer") else ["sheet"]
        check_plate(plate, wheel, top.faults, paths)
        return plate


def _read_sheet(table: Table) -> Sheet:
    sheet = Sheet(
        left_edge_mm=read_length(table, "left_edge_mm", _ABOVE, 1.0),
        right_edge_mm=read_length(table, "right_edge_mm", _ABOVE, 1.0),
        corner_radius_mm=read_length(table, "corner_radius_mm", _LENGTH, 0.0, 0.0),
        face=Face(table.value("drilled_from", _FACE, Face.OUTER, default=Face.OUTER)),
        machined_c=table.value("machined_c", _CELSIUS, 20.0, default=20.0),
        reference_c=table.value("reference_c", _CELSIUS, 20.0, default=20.0),
        marks=table.value("marks", YES_NO, True, default=True),
        hole_wall_mm=read_length(table, "hole_wall_mm", _LENGTH, 0.0) if has_length(table, "hole_wall_mm") else None,
    )
    table.close()
    return sheet


def _read_tools(tables: Sequence[Table]) -> tuple[Tool, ...]:
    tools: dict[int, Tool] = {}
    for table in tables:
        tool = Tool(
            number=table.value("number", whole(1, 999), 0),
            diameter_mm=read_length(table, "diameter_mm", _DIAMETER, 1.0),
            spindle_per_min=table.value("spindle_per_min", _SPINDLE, 1.0),
            feed_mm_per_min=read_length(table, "feed_mm_per_min", _RATE, 1.0),
            peck_mm=read_length(table, "peck_mm", _LENGTH, 0.0, 0.0),
            dwell_s=table.value("dwell_s", _DWELL_S, 0.0, default=0.0),
            slot_drill=table.value("slot_drill", YES_NO, False, default=False),
        )
        table.close()
        if tool.number and tool.number in tools:
            table.fault("number", f"{tool.number} is a duplicate", "give each tool a number of its own")
        tools.setdefault(tool.number, tool)
    return tuple(tools[number] for number in sorted(tools)) or (Tool(0, 1.0, 1.0, 1.0),)


def _read_machine(table: Table) -> Machine:
    machine = Machine(
        travel_x_mm=read_length(table, "travel_x_mm", _ABOVE, 1.0),
        travel_y_mm=read_length(table, "travel_y_mm", _ABOVE, 1.0),
        safe_z_mm=read_length(table, "safe_z_mm", _ABOVE, 1.0),
        retract_z_mm=read_length(table, "retract_z_mm", _ABOVE, 1.0),
        through_mm=read_length(table, "through_mm", _LENGTH, 0.0),
        spoilboard_mm=read_length(table, "spoilboard_mm", _LENGTH, 0.0),
        rapid_mm_per_min=read_length(table, "rapid_mm_per_min", _RATE, 1.0),
        overshoot_mm=read_length(table, "overshoot_mm", _LENGTH, 0.0, 0.0),
        canned=table.value("canned_cycles", YES_NO, True, default=True),
        exact_path=table.value("exact_path", YES_NO, False, default=False),
        dwell_unit=DwellUnit(table.value("dwell_unit", _DWELL, DwellUnit.SECONDS, default=DwellUnit.SECONDS)),
    )
    table.close()
    return machine


def _read_fixings(tables: Sequence[Table], wheel: Wheel, layers: Sequence[Layer]) -> tuple[Fixing, ...]:
    names = tuple(layer.name for layer in layers)
    return tuple(_read_fixing(table, wheel, names) for table in tables)


def _read_fixing(table: Table, wheel: Wheel, layers: tuple[str, ...]) -> Fixing:
    kind = HoleKind[table.value("kind", _KIND, "mark").upper()]
    diameter_mm = read_length(table, "diameter_mm", _DIAMETER, 1.0)
    head_mm = read_length(table, "head_mm", _LENGTH, 0.0, 0.0)
    slot_mm = 0.0
    if kind is HoleKind.SLOT:
        slot_mm = read_length(table, "slot_mm", _ABOVE, diameter_mm)
        if slot_mm < diameter_mm and table.faults.none_in(table.path):
            message = f"{slot_mm:g} mm is below its width, diameter_mm, {diameter_mm:g} mm"
            table.fault("slot_mm", message, "give its length from end to end")
    elif has_length(table, "slot_mm") and table.faults.none_in(table.at("kind")):
        table.fault("slot_mm", f"is for a slot, and this is a {kind.word}", 'leave it out, or set kind = "slot"')
    if head_mm and head_mm < diameter_mm:
        table.fault("head_mm", f"{head_mm:g} mm is below the hole, {diameter_mm:g} mm", "measure head or countersink")
    chosen = table.several("layers", one_of(layers, "layer"), layers[0], len(layers)) if table.has("layers") else ()
    along_mm = _read_along(table, wheel)
    across_mm = read_length(table, "across_mm", _SIGNED, 0.0)
    table.close()
    return Fixing(kind, along_mm, across_mm, diameter_mm, head_mm, slot_mm, chosen)


def _read_along(table: Table, wheel: Wheel) -> float:
    """The place along the rim of a fixing hole, given as a length or as a step, which counts from 1."""
    by_length = has_length(table, "along_mm")
    if not table.has("step"):
        return read_length(table, "along_mm", _SIGNED, 0.0)
    if by_length:
        key = "along_mm" if table.has("along_mm") else in_inches("along_mm")
        table.fault(key, "is given together with step", "keep one of the two")
    last = wheel.steps_per_plate + 1
    return (table.value("step", decimal(0, last, "counted from 1 as on pin sheets"), 1.0) - 1) * wheel.step_mm
