"""The wheel file: TOML to `Wheel`. The format is described in full in docs/wheel-file.md."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from pegwright.config.checks import Check, FractionCheck, LineCheck, NumberCheck, OneOf, Pitch, WholeCheck
from pegwright.config.fields import Faults, Table, read_bytes, toml_table, unique_names
from pegwright.config.song_checks import YesNo
from pegwright.config.wheel_rules import MAX_HOLES, check_wheel
from pegwright.wheel import Channel, Geometry, Kind, LostHole, PinType, Row, StrikeLimit, Wheel

MAX_PLATES = 64
MAX_STEPS = 4096
MAX_CHANNELS = 512
MAX_ROWS = 16
MAX_PHASES = 96
MAX_LOST = 2000
MAX_LIMITS = 64
_DEFAULT_REACH = Fraction(1, 64)  # half a 32nd, as a share of a whole note
_QUARTERS_PER_WHOLE = 4

_RESTRIKE = NumberCheck(0, 60_000, "in ms")
_LEAD = NumberCheck(0, 10_000, "in ms")
_KIND = OneOf(tuple(Kind), "kind")
_DRUM_KEY = WholeCheck(0, 127, "a General MIDI percussion key (the standard names 35 to 81)")
_HOLD_MM = NumberCheck(0, 10_000, "in mm", above=True)
_BRIDGE_MM = NumberCheck(0, 10_000, "in mm")
_SIGNED_MM = NumberCheck(-1000, 1000, "in mm")
_GEOMETRY = {
    "radius_mm": NumberCheck(1, 100_000, "in mm"),
    "thickness_mm": NumberCheck(0, 1000, "in mm", above=True),
    "hole_diameter_mm": NumberCheck(0, 1000, "in mm", above=True),
    "pin_diameter_mm": NumberCheck(0, 1000, "in mm", above=True),
    "min_wall_mm": NumberCheck(0, 1000, "in mm"),
    "pin_clearance_mm": NumberCheck(0, 1000, "in mm"),
    "channel_pitch_mm": NumberCheck(0, 1000, "in mm", above=True),
    "lead_edge_mm": NumberCheck(0, 1000, "in mm"),
    "trail_edge_mm": NumberCheck(0, 1000, "in mm"),
}


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
    with toml_table(data, where) as top:
        wheel = _read_wheel(top, hashlib.sha256(data).hexdigest())
        check_wheel(wheel, top.faults)
        return wheel


def _read_wheel(top: Table, sha256: str) -> Wheel:
    """The wheel as far as its fields are sound; each faulty value is replaced by a harmless one."""
    name = top.value("name", LineCheck(), "wheel")
    turn = _read_turn(top.table("wheel"))
    geometry = _read_geometry(top.table("geometry"))
    rows, row_names = _read_rows(top.tables("row", MAX_ROWS, minimum=1), turn)
    defaults = _read_defaults(top.table("channel_defaults", needed=False), row_names)
    channels, channel_names = _read_channels(top.tables("channel", MAX_CHANNELS, minimum=1), defaults, row_names)
    pin_types = _read_pin_types(top.tables("pin_type", MAX_ROWS, minimum=1))
    lost = _read_lost(top.tables("lost", MAX_LOST), turn, rows, row_names, channels, channel_names)
    limits = _read_limits(top.tables("limit", MAX_LIMITS), channel_names)
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
        repinned_within_song=turn.repinned_within_song,
    )


class _WheelTurn(NamedTuple):
    """The table `[wheel]`, and the faults of the file."""

    plate_count: int
    steps_per_plate: int
    step_quarters: Fraction
    plate_sets: int
    repinned_within_song: bool
    reach_quarters: Fraction
    faults: Faults


def _read_turn(table: Table) -> _WheelTurn:
    note_value = "a share of a whole note such as 1/16"
    reach = FractionCheck(Fraction(0), Fraction(1, 4), note_value)
    turn = _WheelTurn(
        plate_count=table.value("plates", WholeCheck(1, MAX_PLATES), MAX_PLATES),
        steps_per_plate=table.value("steps_per_plate", WholeCheck(1, MAX_STEPS), MAX_STEPS),
        step_quarters=_QUARTERS_PER_WHOLE
        * table.value("step", FractionCheck(Fraction(0), Fraction(1), note_value, above=True), Fraction(1)),
        plate_sets=table.value("plate_sets", WholeCheck(1, 100), 1, default=2),
        repinned_within_song=table.value("repin_within_song", YesNo(), False, default=True),
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
    names = tuple(table.value("name", LineCheck(), "") for table in tables)
    unique_names(tables, names)
    sound = names and all(table.faults.none_in(table.at("name")) for table in tables)
    return _Names(names, OneOf(names, f"{what} of this wheel") if sound else LineCheck())


def _read_rows(tables: Sequence[Table], turn: _WheelTurn) -> tuple[tuple[Row, ...], _Names]:
    names = _read_names(tables, "row")
    return tuple(_read_row(table, name, turn) for table, name in zip(tables, names.names, strict=True)), names


def _read_row(table: Table, name: str, turn: _WheelTurn) -> Row:
    phase = FractionCheck(Fraction(0), Fraction(MAX_STEPS), "in steps, below period_steps")
    row = Row(
        name=name,
        phases=table.several("phases", phase, Fraction(0), MAX_PHASES),
        period_steps=table.value("period_steps", WholeCheck(1, MAX_STEPS), 1, default=1),
        lateral_mm=table.value("lateral_mm", _SIGNED_MM, 0.0, default=0.0),
    )
    table.close()
    period_sound = table.faults.none_in(table.at("period_steps"))
    if period_sound and turn.faults.none_in("wheel.steps_per_plate") and turn.steps_per_plate % row.period_steps:
        message = f"{row.period_steps} steps do not divide the {turn.steps_per_plate} steps of a plate"
        table.fault("period_steps", message, f"give a divisor of {turn.steps_per_plate}")
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


@dataclass(frozen=True, slots=True)
class _Defaults:
    """Values of a channel that does not give its own; None where it must."""

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
    chosen = table.several("rows", rows.check, "", MAX_ROWS)
    return tuple(name for name in rows.names if name in chosen)


def _read_channels(tables: Sequence[Table], defaults: _Defaults, rows: _Names) -> tuple[tuple[Channel, ...], _Names]:
    names = _read_names(tables, "channel")
    channels = []
    for table, name in zip(tables, names.names, strict=True):
        kind = Kind(table.value("kind", _KIND, Kind.STRIKE, default=defaults.kind))
        channel = Channel(
            name=name,
            pitches=table.several("pitches", Pitch(), 0, 128, minimum=0),
            drum_keys=table.several("drum_keys", _DRUM_KEY, 0, 128, minimum=0),
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
        stock = table.value("stock", WholeCheck(0, 1_000_000, "pins owned"), 0)
        offset_mm = table.value("offset_mm", _SIGNED_MM, 0.0, default=0.0)
        pin_types.append(PinType(name, stock, offset_mm, table.value("bridge_mm", _BRIDGE_MM, 0.0, default=0.0)))
        table.close()
    return tuple(pin_types)


def _read_lost(
    tables: Sequence[Table],
    turn: _WheelTurn,
    rows: Sequence[Row],
    row_names: _Names,
    channels: Sequence[Channel],
    channel_names: _Names,
) -> tuple[LostHole, ...]:
    """Declared losses; plates and holes count from 1 in the file and from 0 in the value."""
    lost_holes: list[LostHole] = []
    holes_sound = turn.faults.none_in("row", "wheel")
    for table in tables:
        name = table.value("row", row_names.check, "")
        holes = [row.hole_count(turn.steps_per_plate) for row in rows if row.name == name and holes_sound]
        plate = table.value("plate", WholeCheck(1, turn.plate_count), 1) - 1 if table.has("plate") else None
        channel = table.value("channel", channel_names.check, "") if table.has("channel") else None
        hole = table.value("hole", WholeCheck(1, max(holes, default=MAX_HOLES), "a hole of the row on a plate"), 1)
        lost = LostHole(name, hole - 1, plate, channel)
        table.close()
        if table.faults.none_in(table.path):
            _check_lost(table, lost, lost_holes, channels)
        lost_holes.append(lost)
    return tuple(lost_holes)


def _check_lost(table: Table, lost: LostHole, earlier: Sequence[LostHole], channels: Sequence[Channel]) -> None:
    if lost in earlier:
        table.fault("hole", f"is a duplicate of lost[{earlier.index(lost) + 1}]", "take one out")
    for channel in channels:
        if channel.name == lost.channel and lost.row not in channel.rows and table.faults.none_in("channel"):
            message = f'channel "{channel.name}" has no row "{lost.row}"'
            table.fault("row", message, f"give a row that it has: {', '.join(channel.rows)}")


def _read_limits(tables: Sequence[Table], channels: _Names) -> tuple[StrikeLimit, ...]:
    names = _read_names(tables, "limit")
    limits = []
    for table, name in zip(tables, names.names, strict=True):
        limit = StrikeLimit(
            name=name,
            channels=table.several("channels", channels.check, "", MAX_CHANNELS),
            strikes=table.value("strikes", WholeCheck(1, MAX_CHANNELS), 1),
            window_ms=table.value("window_ms", NumberCheck(0, 60_000, "in ms", above=True), 1.0),
        )
        table.close()
        limits.append(limit)
    return tuple(limits)
