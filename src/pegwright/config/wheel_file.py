"""The wheel file: TOML to `Wheel`. The format is told in full in docs/wheel-file.md."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from pegwright.config.checks import Check, Exact, Number, OneOf, Pitch, Whole, Words
from pegwright.config.fields import Faults, Table, TooManyFaultsError, parse_toml, read_bytes, unique_names
from pegwright.config.wheel_rules import HOLES_MOST, check_wheel
from pegwright.errors import ConfigError
from pegwright.wheel import Channel, Geometry, Kind, LostHole, PinType, Row, StrikeLimit, Wheel

PLATES_MOST = 64
STEPS_MOST = 4096
CHANNELS_MOST = 512
ROWS_MOST = 16
PHASES_MOST = 96
LOST_MOST = 2000
LIMITS_MOST = 64
_DEFAULT_REACH = Fraction(1, 64)  # half a 32nd, as a share of a whole note
_QUARTERS_PER_WHOLE = 4

_RESTRIKE = Number(0, 60_000, "in ms")
_LEAD = Number(0, 10_000, "in ms")
_KIND = OneOf(tuple(Kind), "kind")
_DRUM_KEY = Whole(0, 127, "a General MIDI percussion key (the standard names 35 to 81)")
_HOLD_MM = Number(0, 10_000, "in mm", above=True)
_BRIDGE_MM = Number(0, 10_000, "in mm")
_SIGNED_MM = Number(-1000, 1000, "in mm")
_GEOMETRY = {
    "radius_mm": Number(1, 100_000, "in mm"),
    "thickness_mm": Number(0, 1000, "in mm", above=True),
    "hole_diameter_mm": Number(0, 1000, "in mm", above=True),
    "pin_diameter_mm": Number(0, 1000, "in mm", above=True),
    "min_wall_mm": Number(0, 1000, "in mm"),
    "pin_clearance_mm": Number(0, 1000, "in mm"),
    "channel_pitch_mm": Number(0, 1000, "in mm", above=True),
    "lead_edge_mm": Number(0, 1000, "in mm"),
    "trail_edge_mm": Number(0, 1000, "in mm"),
}


def load_wheel(path: Path) -> Wheel:
    """The wheel of a file.

    Args:
        path: the wheel file.

    Returns:
        The wheel, checked.

    Raises:
        UsageError: the file cannot be read.
        ConfigError: it has faults; all of them.
    """
    data = read_bytes(path, "name a wheel file, or write one with `pegwright wheel --new`")
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
    """
    top, faults = parse_toml(data, where)
    try:
        wheel = _read_wheel(Table(top, "", faults), hashlib.sha256(data).hexdigest())
        check_wheel(wheel, faults)
    except TooManyFaultsError:
        raise ConfigError(faults.found, where=where) from None
    if faults.found:
        raise ConfigError(faults.found, where=where)
    return wheel


def _read_wheel(top: Table, sha256: str) -> Wheel:
    """The wheel as far as its fields are sound; each faulty value is replaced by a harmless one."""
    name = top.value("name", Words(), "wheel")
    turn = _read_turn(top.table("wheel"))
    geometry = _read_geometry(top.table("geometry"))
    rows, row_names = _read_rows(top.tables("row", ROWS_MOST, least=1), turn)
    defaults = _read_defaults(top.table("channel_defaults", needed=False), row_names)
    channels, channel_names = _read_channels(top.tables("channel", CHANNELS_MOST, least=1), defaults, row_names)
    pin_types = _read_pin_types(top.tables("pin_type", ROWS_MOST, least=1))
    lost = _read_lost(top.tables("lost", LOST_MOST), turn, rows, row_names, channels, channel_names)
    limits = _read_limits(top.tables("limit", LIMITS_MOST), channel_names)
    top.close()
    return Wheel(
        name=name,
        plate_count=turn.plate_count,
        steps_per_plate=turn.steps_per_plate,
        step_quarters=turn.step_quarters,
        plate_sets=turn.plate_sets,
        rows=rows,
        channels=channels,
        pin_types=pin_types,
        lost=lost,
        strike_limits=limits,
        reach_quarters=turn.reach_quarters,
        geometry=geometry,
        sha256=sha256,
    )


class _Turn(NamedTuple):
    plate_count: int
    steps_per_plate: int
    step_quarters: Fraction
    plate_sets: int
    reach_quarters: Fraction
    faults: Faults


def _read_turn(table: Table) -> _Turn:
    note_value = "a share of a whole note such as 1/16"
    reach = Exact(Fraction(0), Fraction(1, 4), note_value)
    turn = _Turn(
        plate_count=table.value("plates", Whole(1, PLATES_MOST), PLATES_MOST),
        steps_per_plate=table.value("steps_per_plate", Whole(1, STEPS_MOST), STEPS_MOST),
        step_quarters=_QUARTERS_PER_WHOLE
        * table.value("step", Exact(Fraction(0), Fraction(1), note_value, above=True), Fraction(1)),
        plate_sets=table.value("plate_sets", Whole(1, 100), 1, default=2),
        reach_quarters=_QUARTERS_PER_WHOLE * table.value("reach", reach, Fraction(0), default=_DEFAULT_REACH),
        faults=table.faults,
    )
    table.close()
    return turn


def _read_geometry(table: Table) -> Geometry:
    lengths = {key: table.value(key, check, 1.0) for key, check in _GEOMETRY.items()}
    table.close()
    return Geometry(**lengths)


class _Names(NamedTuple):
    """Names that other tables may refer to; `check` accepts any text where one of them is faulty."""

    names: tuple[str, ...]
    check: Check[str]


def _read_names(tables: Sequence[Table], what: str) -> _Names:
    names = tuple(table.value("name", Words(), "") for table in tables)
    unique_names(tables, names)
    sound = names and all(table.faults.none_in(table.at("name")) for table in tables)
    return _Names(names, OneOf(names, f"{what} of this wheel") if sound else Words())


def _read_rows(tables: Sequence[Table], turn: _Turn) -> tuple[tuple[Row, ...], _Names]:
    names = _read_names(tables, "row")
    return tuple(_read_row(table, name, turn) for table, name in zip(tables, names.names, strict=True)), names


def _read_row(table: Table, name: str, turn: _Turn) -> Row:
    phase = Exact(Fraction(0), Fraction(STEPS_MOST), "in steps, below period_steps")
    row = Row(
        name=name,
        phases=table.several("phases", phase, Fraction(0), PHASES_MOST),
        period_steps=table.value("period_steps", Whole(1, STEPS_MOST), 1, default=1),
        lateral_mm=table.value("lateral_mm", _SIGNED_MM, 0.0, default=0.0),
    )
    table.close()
    period_sound = table.faults.none_in(table.at("period_steps"))
    if period_sound and turn.faults.none_in("wheel.steps_per_plate") and turn.steps_per_plate % row.period_steps:
        told = f"{row.period_steps} steps do not divide the {turn.steps_per_plate} steps of a plate"
        table.fault("period_steps", told, f"give a divisor of {turn.steps_per_plate}")
    if table.faults.none_in(table.at("phases")):
        _check_phases(table, row, period_sound)
    return row


def _check_phases(table: Table, row: Row, period_sound: bool) -> None:
    for number, phase in enumerate(row.phases):
        key = f"phases[{number + 1}]"
        if number and phase < row.phases[number - 1]:
            table.fault(key, f"{phase} is below the one before, {row.phases[number - 1]}", "put them in rising order")
        if period_sound and phase >= row.period_steps:
            told = f"{phase} is not below the period, {row.period_steps}"
            table.fault(key, told, f"set period_steps = {int(phase) + 1} or give a smaller phase")


@dataclass(frozen=True, slots=True)
class _Defaults:
    """What a channel has where it says nothing; None where that must be said."""

    rows: tuple[str, ...]
    kind: str
    restrike_ms: float | None
    lead_ms: float
    hold_mm: float | None


def _read_defaults(table: Table, rows: _Names) -> _Defaults:
    defaults = _Defaults(
        rows=_read_channel_rows(table, rows, rows.names),
        kind=table.value("kind", _KIND, Kind.STRIKE, default=Kind.STRIKE),
        restrike_ms=table.value("restrike_ms", _RESTRIKE, 0.0) if table.has("restrike_ms") else None,
        lead_ms=table.value("lead_ms", _LEAD, 0.0, default=0.0),
        hold_mm=table.value("hold_mm", _HOLD_MM, 0.0) if table.has("hold_mm") else None,
    )
    table.close()
    return defaults


def _read_channel_rows(table: Table, rows: _Names, default: tuple[str, ...]) -> tuple[str, ...]:
    """Names of the rows a channel has, in wheel order."""
    if not table.has("rows"):
        return default
    chosen = table.several("rows", rows.check, "", ROWS_MOST)
    return tuple(name for name in rows.names if name in chosen)


def _read_channels(tables: Sequence[Table], defaults: _Defaults, rows: _Names) -> tuple[tuple[Channel, ...], _Names]:
    names = _read_names(tables, "channel")
    channels = []
    for table, name in zip(tables, names.names, strict=True):
        kind = Kind(table.value("kind", _KIND, Kind.STRIKE, default=defaults.kind))
        channel = Channel(
            name=name,
            pitches=table.several("pitches", Pitch(), 0, 128, least=0),
            drum_keys=table.several("drum_keys", _DRUM_KEY, 0, 128, least=0),
            restrike_ms=table.value("restrike_ms", _RESTRIKE, 0.0, default=defaults.restrike_ms),
            lead_ms=table.value("lead_ms", _LEAD, 0.0, default=defaults.lead_ms),
            kind=kind,
            rows=_read_channel_rows(table, rows, defaults.rows),
            hold_mm=_read_hold(table, kind, defaults),
        )
        table.close()
        channels.append(channel)
    return tuple(channels), names


def _read_hold(table: Table, kind: Kind, defaults: _Defaults) -> float:
    if kind is Kind.HOLD:
        return table.value("hold_mm", _HOLD_MM, 1.0, default=defaults.hold_mm)
    if table.has("hold_mm"):
        table.value("hold_mm", _HOLD_MM, 1.0)
        table.fault("hold_mm", "is for channels that hold, and this one strikes", 'leave it out, or set kind = "hold"')
    return 0.0


def _read_pin_types(tables: Sequence[Table]) -> tuple[PinType, ...]:
    names = _read_names(tables, "pin type")
    pin_types = []
    for table, name in zip(tables, names.names, strict=True):
        stock = table.value("stock", Whole(0, 1_000_000, "pins owned"), 0)
        offset_mm = table.value("offset_mm", _SIGNED_MM, 0.0, default=0.0)
        pin_types.append(PinType(name, stock, offset_mm, table.value("bridge_mm", _BRIDGE_MM, 0.0, default=0.0)))
        table.close()
    return tuple(pin_types)


def _read_lost(
    tables: Sequence[Table],
    turn: _Turn,
    rows: Sequence[Row],
    row_names: _Names,
    channels: Sequence[Channel],
    channel_names: _Names,
) -> tuple[LostHole, ...]:
    """Declared losses; plates and holes count from 1 in the file and from 0 in the value."""
    found: list[LostHole] = []
    holes_sound = turn.faults.none_in("row", "wheel")
    for table in tables:
        name = table.value("row", row_names.check, "")
        holes = [row.hole_count(turn.steps_per_plate) for row in rows if row.name == name and holes_sound]
        plate = table.value("plate", Whole(1, turn.plate_count), 1) - 1 if table.has("plate") else None
        channel = table.value("channel", channel_names.check, "") if table.has("channel") else None
        hole = table.value("hole", Whole(1, max(holes, default=HOLES_MOST), "a hole of the row on a plate"), 1)
        lost = LostHole(name, hole - 1, plate, channel)
        table.close()
        if table.faults.none_in(table.path):
            _check_lost(table, lost, found, channels)
        found.append(lost)
    return tuple(found)


def _check_lost(table: Table, lost: LostHole, earlier: Sequence[LostHole], channels: Sequence[Channel]) -> None:
    if lost in earlier:
        table.fault("hole", f"is the same loss as lost[{earlier.index(lost) + 1}]", "take one out")
    for channel in channels:
        if channel.name == lost.channel and lost.row not in channel.rows and table.faults.none_in("channel"):
            told = f'channel "{channel.name}" has no row "{lost.row}"'
            table.fault("row", told, f"give a row that it has: {', '.join(channel.rows)}")


def _read_limits(tables: Sequence[Table], channels: _Names) -> tuple[StrikeLimit, ...]:
    names = _read_names(tables, "limit")
    limits = []
    for table, name in zip(tables, names.names, strict=True):
        limit = StrikeLimit(
            name=name,
            channels=table.several("channels", channels.check, "", CHANNELS_MOST),
            strikes=table.value("strikes", Whole(1, CHANNELS_MOST), 1),
            window_ms=table.value("window_ms", Number(0, 60_000, "in ms", above=True), 1.0),
        )
        table.close()
        limits.append(limit)
    return tuple(limits)
