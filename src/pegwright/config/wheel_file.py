"""The wheel file: TOML to `Wheel`. The format is described in full in docs/wheel-file.md."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from pegwright.ask.options import MAX_REACH_QUARTERS
from pegwright.config.checks import (
    MAX_DENOMINATOR,
    MAX_TEXT_CHARS,
    NAME,
    YES_NO,
    Check,
    decimal,
    fraction,
    one_of,
    whole,
)
from pegwright.config.fields import Faults, Table, TooManyFaultsError, read_bytes, toml_table
from pegwright.config.file_kinds import FileKind
from pegwright.config.lengths import has_length, in_inches, length, read_length, unit_of
from pegwright.config.wheel_channels import MAX_CHANNELS, MAX_ROWS, Named, read_channels, read_names
from pegwright.config.wheel_rules import MAX_HOLES, check_wheel
from pegwright.wheel import Channel, Collar, Geometry, LostHole, PinType, Row, StrikeLimit, Wheel

MAX_PLATES = 64
MAX_STEPS = 4096
MAX_PHASES = 96
MAX_LOST = 2000
MAX_LIMITS = 64
_DEFAULT_REACH = Fraction(1, 64)  # half a 32nd, as a share of a whole note
_QUARTERS_PER_WHOLE = 4

_NOTE_VALUE = "a share of a whole note such as 1/16"
_STEP = fraction(Fraction(0), Fraction(1), _NOTE_VALUE, above=True)
_REACH = fraction(Fraction(0), MAX_REACH_QUARTERS / _QUARTERS_PER_WHOLE, _NOTE_VALUE)
_PHASE = fraction(Fraction(0), Fraction(MAX_STEPS), "in steps, below period_steps")
_COLLAR = one_of(tuple(Collar), "kind of collar")
_WINDOW_MS = decimal(0, 60_000, "in ms", above=True)
_TURN_S = decimal(0, 86_400, "in seconds a turn", above=True)
_BRIDGE = length(0, 10_000)
_SIGNED = length(-1000, 1000)
_GEOMETRY = {
    "radius_mm": length(1, 100_000),
    "thickness_mm": length(0, 1000, above=True),
    "hole_diameter_mm": length(0, 1000, above=True),
    "pin_diameter_mm": length(0, 1000, above=True),
    "min_wall_mm": length(0, 1000),
    "pin_clearance_mm": length(0, 1000),
    "channel_pitch_mm": length(0, 1000, above=True),
    "lead_edge_mm": length(0, 1000),
    "trail_edge_mm": length(0, 1000),
}
_OF_SEAMS = ("min_wall_mm", "lead_edge_mm", "trail_edge_mm")


def load_wheel(path: Path | str) -> Wheel:
    """The wheel of a file.

    Args:
        path: of the wheel file.

    Returns:
        The wheel, checked.

    Raises:
        UsageError: the file cannot be read.
        ConfigError: it has faults; all of them.

    >>> from pegwright import bundled_wheel
    >>> load_wheel(bundled_wheel()).name
    'Merrow Sands Pavilion'
    """
    data = read_bytes(Path(path), "name a wheel file, or write one with `pegwright wheel --new`")
    return parse_wheel(data, str(path))


def parse_wheel(data: bytes, where: str) -> Wheel:
    """The wheel of a file's bytes.

    Args:
        data: TOML in UTF-8, with or without a byte order mark.
        where: the file's name, for faults.

    Returns:
        The wheel, checked.

    Raises:
        ConfigError: the file has faults; all of them.

    >>> parse_wheel(b'name = "A wheel"', "wheel.toml")
    Traceback (most recent call last):
    pegwright.errors.ConfigError: ...
    """
    with toml_table(data, where, FileKind.WHEEL) as top:
        wheel, channel_paths = _read_wheel(top, hashlib.sha256(data).hexdigest())
        check_wheel(wheel, top.faults, channel_paths)
        return wheel


def could_be_loaded(wheel: Wheel) -> bool:
    """Whether a wheel that is one of a file with rows, channels and names added could be read from a file itself."""
    names = [*(row.name for row in wheel.rows), *(channel.name for channel in wheel.channels)]
    phases = [phase for row in wheel.rows for phase in row.phases]
    within = (
        len(wheel.rows) <= MAX_ROWS
        and len(wheel.channels) <= MAX_CHANNELS
        and all(len(name) <= MAX_TEXT_CHARS for name in names)
        and all(len(row.phases) <= MAX_PHASES and not wheel.steps_per_plate % row.period_steps for row in wheel.rows)
        and all(phase.denominator <= MAX_DENOMINATOR for phase in phases)
    )
    faults = Faults({})
    with suppress(TooManyFaultsError):
        check_wheel(wheel, faults)
    return within and not faults.errors


def _read_wheel(top: Table, sha256: str) -> tuple[Wheel, tuple[str, ...]]:
    """The wheel as far as its fields are sound, each faulty value replaced by a harmless one; paths of its channels."""
    for key in ("pin_type", "lost", "limit"):
        top.has(key)  # so that what is not known while channels are read is misspelt
    name = top.value("name", NAME, "wheel")
    turn = top.table("wheel")
    plate_count = turn.value("plates", whole(1, MAX_PLATES), MAX_PLATES)
    steps_per_plate = turn.value("steps_per_plate", whole(1, MAX_STEPS), MAX_STEPS)
    step = turn.value("step", _STEP, Fraction(1))
    plate_sets = turn.value("plate_sets", whole(1, 100), 1, default=2)
    repinned_within_song = turn.value("repin_within_song", YES_NO, False, default=True)
    reach = turn.value("reach", _REACH, Fraction(0), default=_DEFAULT_REACH)
    seams = turn.value("seam", YES_NO, True, default=True)
    slowest_s, fastest_s = _read_turn_times(turn)
    turn.close()
    geometry = _read_geometry(top.table("geometry", needed=False), seams, plate_count * steps_per_plate)
    row_tables = top.tables("row", MAX_ROWS, minimum=1)
    rows, row_names = _read_rows(row_tables, steps_per_plate)
    channels = read_channels(top, row_names, row_tables)
    wheel = Wheel(
        name=name,
        plate_count=plate_count,
        steps_per_plate=steps_per_plate,
        step_quarters=_QUARTERS_PER_WHOLE * step,
        plate_sets=plate_sets,
        rows=rows,
        channels=channels.channels,
        pin_types=_read_pin_types(top.tables("pin_type", MAX_ROWS, minimum=1)),
        lost=(),
        strike_limits=(),
        reach_quarters=_QUARTERS_PER_WHOLE * reach,
        geometry=geometry,
        sha256=sha256,
        repinned_within_song=repinned_within_song,
        slowest_turn_s=slowest_s,
        fastest_turn_s=fastest_s,
        unit=unit_of(top.values),
    )
    lost = _read_lost(top.tables("lost", MAX_LOST), wheel, row_names.check, channels.names.check)
    limits = _read_limits(top.tables("limit", MAX_LIMITS), channels.names.check)
    top.close()
    return replace(wheel, lost=lost, strike_limits=limits), channels.paths


def _read_turn_times(table: Table) -> tuple[float | None, float | None]:
    """The longest and the shortest time that a turn can take, where they are given."""
    slowest_s, fastest_s = (
        table.value(key, _TURN_S, 1.0) if table.has(key) else None for key in ("slowest_turn_s", "fastest_turn_s")
    )
    sound = all(table.faults.none_in(table.at(key)) for key in ("slowest_turn_s", "fastest_turn_s"))
    if slowest_s is not None and fastest_s is not None and sound and slowest_s < fastest_s:
        message = f"{slowest_s:g} s is below fastest_turn_s, {fastest_s:g} s: a slow turn takes longer"
        table.fault("slowest_turn_s", message, "exchange the two")
    return slowest_s, fastest_s


def _read_geometry(table: Table, seams: bool, turn_steps: int) -> Geometry:
    """The lengths; without a radius none of them can be compared with a step, so that none bars anything.

    Args:
        table: `[geometry]`, or an empty one.
        seams: whether plates have cut edges.
        turn_steps: whole steps in a turn.
    """
    lengths_mm, unknown = {}, []
    for key, check in _GEOMETRY.items():
        if not seams and key in _OF_SEAMS:
            if has_length(table, key):
                given = key if table.has(key) else in_inches(key)
                message = "is for plates with cut edges, and this drum has none"
                table.fault(given, message, "leave it out, or take seam = false out of [wheel]")
        elif has_length(table, key):
            lengths_mm[key] = read_length(table, key, check, 1.0)
        else:
            unknown.append(key)
    table.close()
    bar_nothing = dict.fromkeys(_GEOMETRY, 0.0) | {"radius_mm": turn_steps / (2 * math.pi), "channel_pitch_mm": 1.0}
    return Geometry(**bar_nothing | ({} if "radius_mm" in unknown else lengths_mm), seams=seams, unknown=tuple(unknown))


def _read_rows(tables: Sequence[Table], steps_per_plate: int) -> tuple[tuple[Row, ...], Named]:
    names = read_names(tables, "row")
    return tuple(_read_row(*named, steps_per_plate) for named in zip(tables, names.names, strict=True)), names


def _read_row(table: Table, name: str, steps_per_plate: int) -> Row:
    row = Row(
        name=name,
        phases=table.several("phases", _PHASE, Fraction(0), MAX_PHASES),
        period_steps=table.value("period_steps", whole(1, MAX_STEPS), 1, default=1),
        lateral_mm=read_length(table, "lateral_mm", _SIGNED, 0.0, 0.0),
    )
    table.has("channels")  # read when the channels are known
    table.close()
    period_sound = table.faults.none_in(table.at("period_steps"))
    if period_sound and table.faults.none_in("wheel.steps_per_plate") and steps_per_plate % row.period_steps:
        message = f"{row.period_steps} steps do not divide the {steps_per_plate} steps of a plate"
        table.fault("period_steps", message, f"give a divisor of {steps_per_plate}")
    if table.faults.none_in(table.at("phases")):
        _check_phases(table, row, period_sound)
    return row


def _check_phases(table: Table, row: Row, period_sound: bool) -> None:
    for number, phase in enumerate(row.phases):
        key = f"phases[{number + 1}]"
        if number and phase < row.phases[number - 1]:
            table.fault(key, f"{phase} is below the one before, {row.phases[number - 1]}", "put them in rising order")
        if period_sound and phase >= row.period_steps:
            message = f"{phase} is not below the period, {row.period_steps}"
            table.fault(key, message, f"set period_steps = {int(phase) + 1} or give a smaller phase")


def _read_pin_types(tables: Sequence[Table]) -> tuple[PinType, ...]:
    names = read_names(tables, "pin type")
    pin_types = []
    for table, name in zip(tables, names.names, strict=True):
        stock = table.value("stock", whole(0, 1_000_000, "pins owned"), 0)
        offset_mm = read_length(table, "offset_mm", _SIGNED, 0.0, 0.0)
        bridge_mm = read_length(table, "bridge_mm", _BRIDGE, 0.0, 0.0)
        collar = Collar(table.value("collar", _COLLAR, Collar.MOVES, default=Collar.MOVES))
        if bridge_mm and collar is Collar.STAYS:
            table.fault("collar", "is for pins that are no bridge, which begins where it trips", "leave it out")
        pin_types.append(PinType(name, stock, offset_mm, bridge_mm, collar))
        table.close()
    return tuple(pin_types)


def _read_lost(
    tables: Sequence[Table], wheel: Wheel, row_name: Check[str], channel_name: Check[str]
) -> tuple[LostHole, ...]:
    """Declared losses; plates and holes count from 1 in the file and from 0 in the value."""
    lost_holes: list[LostHole] = []
    hole_counts = {row.name: row.hole_count(wheel.steps_per_plate) for row in wheel.rows}
    for table in tables:
        name = table.value("row", row_name, "")
        plate = table.value("plate", whole(1, wheel.plate_count), 1) - 1 if table.has("plate") else None
        channel = table.value("channel", channel_name, "") if table.has("channel") else None
        hole_count = hole_counts.get(name, MAX_HOLES) if table.faults.none_in("row", "wheel") else MAX_HOLES
        hole = table.value("hole", whole(1, hole_count, "a hole of the row on a plate"), 1)
        plate_set = (
            table.value("set", whole(1, wheel.plate_sets, "a set of plates"), 1) - 1 if table.has("set") else None
        )
        lost = LostHole(name, hole - 1, plate, channel, plate_set)
        table.close()
        if table.faults.none_in(table.path):
            _check_lost(table, lost, lost_holes, wheel.channels)
        lost_holes.append(lost)
    return tuple(lost_holes)


def _check_lost(table: Table, lost: LostHole, earlier: Sequence[LostHole], channels: Sequence[Channel]) -> None:
    if lost in earlier:
        table.fault("hole", f"is a duplicate of lost[{earlier.index(lost) + 1}]", "take one out")
    for channel in channels:
        if channel.name == lost.channel and lost.row not in channel.rows and table.faults.none_in("channel"):
            message = f'channel "{channel.name}" has no row "{lost.row}"'
            table.fault("row", message, f"give a row that it has: {', '.join(channel.rows)}")


def _read_limits(tables: Sequence[Table], channel_name: Check[str]) -> tuple[StrikeLimit, ...]:
    limits = []
    for table, name in zip(tables, read_names(tables, "limit").names, strict=True):
        limit = StrikeLimit(
            name=name,
            channels=table.several("channels", channel_name, "", MAX_CHANNELS),
            strikes=table.value("strikes", whole(1, MAX_CHANNELS), 1),
            window_ms=table.value("window_ms", _WINDOW_MS, 1.0),
        )
        table.close()
        limits.append(limit)
    return tuple(limits)
