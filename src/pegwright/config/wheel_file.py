"""The wheel file: TOML to `Wheel`. The format is described in full in docs/wheel-file.md."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from pegwright.ask.options import MAX_REACH_QUARTERS
from pegwright.config.checks import (
    MAX_DENOMINATOR,
    MAX_TEXT_CHARS,
    NAME,
    PITCH,
    YES_NO,
    Check,
    decimal,
    fraction,
    one_of,
    whole,
)
from pegwright.config.fields import Faults, Table, TooManyFaultsError, read_bytes, toml_table
from pegwright.config.wheel_rules import MAX_HOLES, check_wheel
from pegwright.units import printed
from pegwright.wheel import Channel, Collar, Geometry, Kind, LostHole, PinType, Row, StrikeLimit, Wheel

MAX_PLATES = 64
MAX_STEPS = 4096
MAX_CHANNELS = 512
MAX_ROWS = 16
MAX_PHASES = 96
MAX_LOST = 2000
MAX_LIMITS = 64
_DEFAULT_REACH = Fraction(1, 64)  # half a 32nd, as a share of a whole note
_QUARTERS_PER_WHOLE = 4

_NOTE_VALUE = "a share of a whole note such as 1/16"
_STEP = fraction(Fraction(0), Fraction(1), _NOTE_VALUE, above=True)
_REACH = fraction(Fraction(0), MAX_REACH_QUARTERS / _QUARTERS_PER_WHOLE, _NOTE_VALUE)
_PHASE = fraction(Fraction(0), Fraction(MAX_STEPS), "in steps, below period_steps")
_RESTRIKE = decimal(0, 60_000, "in ms")
_LEAD = decimal(0, 10_000, "in ms")
_COLLAR = one_of(tuple(Collar), "kind of collar")
_KIND = one_of(tuple(Kind), "kind")
_DRUM_KEY = whole(0, 127, "a General MIDI percussion key (the standard names 35 to 81)")
_WINDOW_MS = decimal(0, 60_000, "in ms", above=True)
_HOLD_MM = decimal(0, 10_000, "in mm", above=True)
_BRIDGE_MM = decimal(0, 10_000, "in mm")
_SIGNED_MM = decimal(-1000, 1000, "in mm")
_GEOMETRY = {
    "radius_mm": decimal(1, 100_000, "in mm"),
    "thickness_mm": decimal(0, 1000, "in mm", above=True),
    "hole_diameter_mm": decimal(0, 1000, "in mm", above=True),
    "pin_diameter_mm": decimal(0, 1000, "in mm", above=True),
    "min_wall_mm": decimal(0, 1000, "in mm"),
    "pin_clearance_mm": decimal(0, 1000, "in mm"),
    "channel_pitch_mm": decimal(0, 1000, "in mm", above=True),
    "lead_edge_mm": decimal(0, 1000, "in mm"),
    "trail_edge_mm": decimal(0, 1000, "in mm"),
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


def _read_wheel(top: Table, sha256: str) -> Wheel:
    """The wheel as far as its fields are sound; each faulty value is replaced by a harmless one."""
    name = top.value("name", NAME, "wheel")
    turn = top.table("wheel")
    plate_count = turn.value("plates", whole(1, MAX_PLATES), MAX_PLATES)
    steps_per_plate = turn.value("steps_per_plate", whole(1, MAX_STEPS), MAX_STEPS)
    step = turn.value("step", _STEP, Fraction(1))
    plate_sets = turn.value("plate_sets", whole(1, 100), 1, default=2)
    repinned_within_song = turn.value("repin_within_song", YES_NO, False, default=True)
    reach = turn.value("reach", _REACH, Fraction(0), default=_DEFAULT_REACH)
    turn.close()
    geometry = _read_geometry(top.table("geometry"))
    row_tables = top.tables("row", MAX_ROWS, minimum=1)
    rows, row_names = _read_rows(row_tables, steps_per_plate)
    channels, channel_names = _read_channels(top, row_names, [table.has("channels") for table in row_tables])
    channels = _with_rows_of_channels(channels, row_tables, row_names, channel_names.check)
    _check_rows_given(channels, top)
    wheel = Wheel(
        name=name,
        plate_count=plate_count,
        steps_per_plate=steps_per_plate,
        step_quarters=_QUARTERS_PER_WHOLE * step,
        plate_sets=plate_sets,
        rows=rows,
        channels=channels,
        pin_types=_read_pin_types(top.tables("pin_type", MAX_ROWS, minimum=1)),
        lost=(),
        strike_limits=(),
        reach_quarters=_QUARTERS_PER_WHOLE * reach,
        geometry=geometry,
        sha256=sha256,
        repinned_within_song=repinned_within_song,
    )
    lost = _read_lost(top.tables("lost", MAX_LOST), wheel, row_names.check, channel_names.check)
    limits = _read_limits(top.tables("limit", MAX_LIMITS), channel_names.check)
    top.close()
    return replace(wheel, lost=lost, strike_limits=limits)


def _read_geometry(table: Table) -> Geometry:
    lengths = {key: table.value(key, check, 1.0) for key, check in _GEOMETRY.items()}
    table.close()
    return Geometry(**lengths)


class _Names(NamedTuple):
    """Names that other tables may refer to; `check` accepts any text where one of them is faulty."""

    names: tuple[str, ...]
    check: Check[str]


def _read_names(tables: Sequence[Table], what: str) -> _Names:
    names = tuple(table.value("name", NAME, "") for table in tables)
    for number, (table, name) in enumerate(zip(tables, names, strict=True)):
        if name in names[:number] and table.faults.none_in(table.at("name")):
            first = tables[names.index(name)].path
            table.fault("name", f'"{name}" is already the name of {first}', "give each its own name")
    sound = names and all(table.faults.none_in(table.at("name")) for table in tables)
    return _Names(names, one_of(names, f"{what} of this wheel") if sound else NAME)


def _read_rows(tables: Sequence[Table], steps_per_plate: int) -> tuple[tuple[Row, ...], _Names]:
    names = _read_names(tables, "row")
    return tuple(_read_row(*named, steps_per_plate) for named in zip(tables, names.names, strict=True)), names


def _read_row(table: Table, name: str, steps_per_plate: int) -> Row:
    row = Row(
        name=name,
        phases=table.several("phases", _PHASE, Fraction(0), MAX_PHASES),
        period_steps=table.value("period_steps", whole(1, MAX_STEPS), 1, default=1),
        lateral_mm=table.value("lateral_mm", _SIGNED_MM, 0.0, default=0.0),
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


def _read_channel_rows(table: Table, rows: _Names, default: tuple[str, ...]) -> tuple[str, ...]:
    """Names of the rows a channel has, in wheel order."""
    if not table.has("rows"):
        return default
    chosen = table.several("rows", rows.check, "", MAX_ROWS)
    return tuple(name for name in rows.names if name in chosen)


def _with_rows_of_channels(
    channels: tuple[Channel, ...], tables: Sequence[Table], rows: _Names, channel_name: Check[str]
) -> tuple[Channel, ...]:
    """The channels, each with the rows that name it as well.

    Args:
        channels: with the rows that they list, or that all of them have.
        tables: of the rows.
        rows: names of the rows.
        channel_name: the check of the name of a channel.
    """
    named = [
        table.several("channels", channel_name, "", MAX_CHANNELS) if table.has("channels") else () for table in tables
    ]
    of_channel = {
        channel.name: {row for row, among in zip(rows.names, named, strict=True) if channel.name in among}
        for channel in channels
    }
    return tuple(
        replace(channel, rows=tuple(row for row in rows.names if row in {*channel.rows, *of_channel[channel.name]}))
        for channel in channels
    )


def _check_rows_given(channels: Sequence[Channel], top: Table) -> None:
    for number, channel in enumerate(channels):
        if not channel.rows and top.faults.none_in("row", "channel", "channel_defaults"):
            hint = "give it rows, or name it in the channels of a row"
            top.fault(f"channel[{printed(number)}].rows", "is missing, and every row names other channels", hint)


def _read_channels(top: Table, rows: _Names, named: Sequence[bool]) -> tuple[tuple[Channel, ...], _Names]:
    """The channels; what one does not give itself comes from the table `[channel_defaults]`, if that has it.

    Args:
        top: of the file.
        rows: names of the rows.
        named: whether each row names its channels, so that it is none that channels have if they list no rows.
    """
    shared = top.table("channel_defaults", needed=False)
    of_all = tuple(name for name, by_name in zip(rows.names, named, strict=True) if not by_name)
    shared_rows = _read_channel_rows(shared, rows, of_all)
    shared_kind = shared.value("kind", _KIND, Kind.STRIKE, default=Kind.STRIKE)
    restrike_ms = shared.value("restrike_ms", _RESTRIKE, 0.0) if shared.has("restrike_ms") else None
    lead_ms = shared.value("lead_ms", _LEAD, 0.0, default=0.0)
    hold_mm = shared.value("hold_mm", _HOLD_MM, 0.0) if shared.has("hold_mm") else None
    shared.close()
    tables = top.tables("channel", MAX_CHANNELS, minimum=1)
    names = _read_names(tables, "channel")
    channels = []
    for table, name in zip(tables, names.names, strict=True):
        kind = Kind(table.value("kind", _KIND, Kind.STRIKE, default=shared_kind))
        channel = Channel(
            name=name,
            pitches=table.several("pitches", PITCH, 0, 128, minimum=0),
            drum_keys=table.several("drum_keys", _DRUM_KEY, 0, 128, minimum=0),
            restrike_ms=table.value("restrike_ms", _RESTRIKE, 0.0, default=restrike_ms),
            lead_ms=table.value("lead_ms", _LEAD, 0.0, default=lead_ms),
            kind=kind,
            rows=_read_channel_rows(table, rows, shared_rows),
            hold_mm=_read_hold(table, kind, hold_mm),
        )
        table.close()
        channels.append(channel)
    return tuple(channels), names


def _read_hold(table: Table, kind: Kind, default: float | None) -> float:
    if kind is Kind.HOLD:
        return table.value("hold_mm", _HOLD_MM, 1.0, default=default)
    if table.has("hold_mm"):
        table.value("hold_mm", _HOLD_MM, 1.0)
        table.fault("hold_mm", "is for channels that hold, and this one strikes", 'leave it out, or set kind = "hold"')
    return 0.0


def _read_pin_types(tables: Sequence[Table]) -> tuple[PinType, ...]:
    names = _read_names(tables, "pin type")
    pin_types = []
    for table, name in zip(tables, names.names, strict=True):
        stock = table.value("stock", whole(0, 1_000_000, "pins owned"), 0)
        offset_mm = table.value("offset_mm", _SIGNED_MM, 0.0, default=0.0)
        bridge_mm = table.value("bridge_mm", _BRIDGE_MM, 0.0, default=0.0)
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
        lost = LostHole(name, hole - 1, plate, channel)
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
    for table, name in zip(tables, _read_names(tables, "limit").names, strict=True):
        limit = StrikeLimit(
            name=name,
            channels=table.several("channels", channel_name, "", MAX_CHANNELS),
            strikes=table.value("strikes", whole(1, MAX_CHANNELS), 1),
            window_ms=table.value("window_ms", _WINDOW_MS, 1.0),
        )
        table.close()
        limits.append(limit)
    return tuple(limits)
