"""The channels of a wheel file: single ones, those written in short by a pattern, and their rows."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import chain
from typing import NamedTuple

from pegwright.config.checks import MAX_TEXT_CHARS, NAME, PITCH, Check, RefusedError, decimal, one_of, whole
from pegwright.config.fields import Table
from pegwright.config.lengths import has_length, length, read_length
from pegwright.units import fall_ms, pitch_name, plural, printed
from pegwright.wheel import Channel, Kind

MAX_CHANNELS = 512
MAX_ROWS = 16
_RESTRIKE = decimal(0, 60_000, "in ms")
_LEAD = decimal(0, 10_000, "in ms")
_KIND = one_of(tuple(Kind), "kind")
_DRUM_KEY = whole(0, 127, "a General MIDI percussion key (the standard names 35 to 81)")
_HOLD = length(0, 10_000, above=True)
_READER = length(-10_000, 10_000, "later is above 0")
_FALL = length(0, 10_000, above=True)
_FALL_START = length(0, 10_000)
MAX_ADVANCE_STEPS = 1000
HALVES = 2
_STEPS = decimal(0, MAX_ADVANCE_STEPS, "in steps")
_RANGE = re.compile(r"\s*(\S.*?)\s*\.\.\s*(\S.*?)\s*")
_FIELD = re.compile(r"\{[^{}]*\}")
_FIELDS = ("{pitch}", "{midi}", "{number}")


class Named(NamedTuple):
    """Names that other tables may refer to; `check` accepts any text where one of them is faulty."""

    names: tuple[str, ...]
    check: Check[str]


class Delays(NamedTuple):
    """When a channel sounds after its trip, as `Channel` has it."""

    lead_ms: float = 0.0
    reader_mm: float = 0.0
    advance_steps: Fraction = Fraction(0)
    fall_mm: float = 0.0
    fall_start_mm_per_s: float = 0.0


class Channels(NamedTuple):
    """The channels as far as they are sound, in order across the rim.

    Args:
        channels: one for each.
        names: theirs.
        paths: the key path of the table that each comes from.
    """

    channels: tuple[Channel, ...]
    names: Named
    paths: tuple[str, ...]


def read_names(tables: Sequence[Table], what: str) -> Named:
    """The names of some tables, each its own.

    Args:
        tables: with the key `name`.
        what: is named.
    """
    names = tuple(table.value("name", NAME, "") for table in tables)
    first: dict[str, int] = {}
    for number, (table, name) in enumerate(zip(tables, names, strict=True)):
        if first.setdefault(name, number) != number and table.faults.none_in(table.at("name")):
            table.fault("name", f'"{name}" is already the name of {tables[first[name]].path}', "give each its own name")
    sound = names and all(table.faults.none_in(table.at("name")) for table in tables)
    return Named(names, one_of(names, f"{what} of this wheel") if sound else NAME)


def read_channels(top: Table, rows: Named, row_tables: Sequence[Table]) -> Channels:
    """The channels; what one does not give itself comes from the table `[channel_defaults]`, if that has it.

    Args:
        top: of the file.
        rows: names of the rows.
        row_tables: those of the rows; a row that names its channels is none that channels have if they list no rows.
    """
    tables = _channel_tables(top)
    of_all = tuple(name for name, table in zip(rows.names, row_tables, strict=True) if not table.has("channels"))
    shared = top.table("channel_defaults", needed=False)
    shared_rows = _read_rows(shared, rows, of_all)
    kind = shared.value("kind", _KIND, Kind.STRIKE, default=Kind.STRIKE)
    restrike_ms = shared.value("restrike_ms", _RESTRIKE, 0.0) if shared.has("restrike_ms") else None
    sounding = _read_sounding(shared, Delays())
    hold_mm = read_length(shared, "hold_mm", _HOLD, 1.0) if has_length(shared, "hold_mm") else None
    shared.close()
    if restrike_ms is None and (shared.misspelt("restrike_ms") or top.misspelt("channel_defaults")):
        restrike_ms = 0.0  # that slip is reported once, and not again at every channel
    if hold_mm is None and (shared.misspelt("hold_mm") or top.misspelt("channel_defaults")):
        hold_mm = 1.0
    names = read_names(tables, "channel")
    channels = []
    for table, name in zip(tables, names.names, strict=True):
        own_kind = Kind(table.value("kind", _KIND, Kind.STRIKE, default=kind))
        channel = Channel(
            name=name,
            pitches=table.several("pitches", PITCH, 0, 128, minimum=0),
            drum_keys=table.several("drum_keys", _DRUM_KEY, 0, 128, minimum=0),
            restrike_ms=table.value("restrike_ms", _RESTRIKE, 0.0, default=restrike_ms),
            kind=own_kind,
            rows=_read_rows(table, rows, shared_rows),
            hold_mm=_read_hold(table, own_kind, hold_mm),
            **_read_sounding(table, sounding)._asdict(),
        )
        table.close()
        channels.append(channel)
    paths = tuple(table.path for table in tables)
    return _with_rows_of_channels(Channels(tuple(channels), names, paths), row_tables, rows)


def _channel_tables(top: Table) -> list[Table]:
    """A table for each channel, in the order of the file; those written in short are written out.

    A single channel with the name of one that is written in short changes that one, in its place.
    """
    singles = top.tables("channel", MAX_CHANNELS, minimum=0 if top.has("channels") else 1)
    written_out = {table.path: list(_written_out(table)) for table in top.tables("channels", MAX_CHANNELS)}
    short = {_name_of(table.values): table for tables in written_out.values() for table in tables}
    changed = {name: single for single in singles if (name := _name_of(single.values)) in short}
    repeated = {table.path for table in changed.values()}
    kept = [table for table in singles if table.path not in repeated]
    blocks = {table.path: [table] for table in kept}
    for path, tables in written_out.items():
        blocks[path] = [_changed(table, changed.get(_name_of(table.values))) for table in tables]
    tables = list(chain.from_iterable(blocks[path] for path in top.faults.in_file_order(list(blocks), top)))
    if len(tables) > MAX_CHANNELS:
        message = f"{plural(len(tables), 'channel')}, above the maximum, {MAX_CHANNELS:,}"
        top.fault("channels", message, "give fewer pitches")
    return tables[:MAX_CHANNELS]


def _changed(table: Table, single: Table | None) -> Table:
    return Table({**table.values, **single.values}, single.path, table.faults) if single else table


def _name_of(values: Mapping[str, object]) -> str:
    name = values.get("name")
    return name.strip() if isinstance(name, str) else ""


def _written_out(table: Table) -> Iterator[Table]:
    """One table for each pitch of channels in short, in its place."""
    pattern = table.value("name", _PATTERN, "")
    pitches = list(_pitches(table))
    if "drum_keys" in table.values:
        table.fault("drum_keys", "is for a single channel", "give drums a [[channel]] each")
    if len(pitches) > 1 and pattern and not _FIELD.search(pattern):
        message = f'"{pattern}" would be the name of all {len(pitches)} channels'
        table.fault("name", message, f'put the pitch in it, such as "{pattern} {{pitch}}"')
        return
    others = {key: value for key, value in table.values.items() if key != "drum_keys"}
    for number, (word, pitch) in enumerate(pitches):
        name = pattern.replace("{pitch}", word).replace("{midi}", str(pitch)).replace("{number}", str(printed(number)))
        if table.faults.none_in(table.at("name")):
            yield Table(others | {"name": name, "pitches": [pitch]}, table.path, table.faults)


def _pitches(table: Table) -> Iterator[tuple[str, int]]:
    """Each pitch of channels in short, as it is named and as its MIDI number."""
    if not table.has("pitches"):
        table.fault("pitches", "is missing", f"give {_SPAN.wanted}, or a list of pitches")
        return
    value, seen_at = table.values["pitches"], dict[int, str]()
    in_list = isinstance(value, list)
    items = value if isinstance(value, list) else [value]
    if not items:
        table.fault("pitches", "is empty", f"give {_SPAN.wanted}, or a list of pitches")
    for number, item in enumerate(items):
        key = f"pitches[{printed(number)}]" if in_list else "pitches"
        spans = not in_list or (isinstance(item, str) and ".." in item)
        low, high = table.checked(key, item, _SPAN, (0, -1)) if spans else (table.checked(key, item, PITCH, -1),) * 2
        for pitch in range(low, high + 1):
            if pitch in seen_at:
                message = f"{pitch_name(pitch)}, MIDI pitch {pitch}, is in {seen_at[pitch]} already"
                table.fault(key, message, "take one out, or give a second one a [[channel]] of its own")
            elif pitch >= 0:
                seen_at[pitch] = key
                yield (item.strip() if isinstance(item, str) and not spans else pitch_name(pitch)), pitch


def _read_span(value: object) -> tuple[int, int]:
    match = _RANGE.fullmatch(value) if isinstance(value, str) else None
    if not match:
        raise RefusedError("is not a range of pitches")
    low, high = (PITCH.read(int(end) if end.isdecimal() else end) for end in match.groups())
    if high < low:
        raise RefusedError("does not run upwards")
    return low, high


def _read_pattern(value: object) -> str:
    text = NAME.read(value)
    for field in _FIELD.findall(text):
        if field not in _FIELDS:
            raise RefusedError(f"has {field}, which stands for nothing")
    return text


_SPAN = Check('a range of pitches in quotes such as "C4..B5", rising', _read_span)
_PATTERN = Check(
    f'a name in quotes of up to {MAX_TEXT_CHARS} characters such as "bar {{pitch}}", with {{pitch}}, {{midi}} or'
    " {number} in it",
    _read_pattern,
)


def _read_rows(table: Table, rows: Named, default: tuple[str, ...]) -> tuple[str, ...]:
    """Names of the rows a channel has, in wheel order."""
    if not table.has("rows"):
        return default
    chosen = table.several("rows", rows.check, "", MAX_ROWS)
    return tuple(name for name in rows.names if name in chosen)


def _read_sounding(table: Table, default: Delays) -> Delays:
    """When a channel sounds after its trip; a lead is measured, or as long as a fall lasts.

    Args:
        table: of a channel, or of all that do not give a key themselves.
        default: what the channel does not give itself.
    """
    reader_mm = read_length(table, "reader_mm", _READER, 0.0, default.reader_mm)
    advance_steps = table.value("advance_steps", _ADVANCE, Fraction(0), default=default.advance_steps)
    given = default._replace(reader_mm=reader_mm, advance_steps=advance_steps)
    falls = has_length(table, "fall_mm")
    if table.has("lead_ms"):
        if falls:
            table.fault("fall_mm", "is given together with lead_ms", "keep the lead that you measured, or the fall")
        given = given._replace(lead_ms=table.value("lead_ms", _LEAD, 0.0), fall_mm=0.0, fall_start_mm_per_s=0.0)
    if falls:
        given = given._replace(fall_mm=read_length(table, "fall_mm", _FALL, 1.0), fall_start_mm_per_s=0.0)
    starts = table.has("fall_start_mm_per_s")
    if starts:
        if not given.fall_mm:
            table.fault("fall_start_mm_per_s", "is for a fall, and no fall_mm is given", "add fall_mm, or leave it out")
        given = given._replace(fall_start_mm_per_s=table.value("fall_start_mm_per_s", _FALL_START.mm, 0.0))
    if falls or starts:
        given = given._replace(lead_ms=fall_ms(given.fall_mm, given.fall_start_mm_per_s))
    return given


def _read_half_steps(value: object) -> Fraction:
    steps = Fraction(str(_STEPS.read(value)))
    if steps.denominator > HALVES:
        raise RefusedError("is neither whole nor a half step more")
    return steps


_ADVANCE = Check(f"whole or half steps from 0 to {MAX_ADVANCE_STEPS:,}, such as 1 or 0.5", _read_half_steps)


def _read_hold(table: Table, kind: Kind, default: float | None) -> float:
    if kind is Kind.HOLD:
        return read_length(table, "hold_mm", _HOLD, 1.0, default)
    if has_length(table, "hold_mm"):
        read_length(table, "hold_mm", _HOLD, 1.0)
        key = "hold_mm" if table.has("hold_mm") else "hold_in"
        table.fault(key, "is for channels that hold, and this one strikes", 'leave it out, or set kind = "hold"')
    return 0.0


def _with_rows_of_channels(read: Channels, tables: Sequence[Table], rows: Named) -> Channels:
    """The channels, each with the rows that name it as well.

    Args:
        read: with the rows that they list, or that all of them have.
        tables: of the rows.
        rows: names of the rows.
    """
    named = [
        table.several("channels", read.names.check, "", MAX_CHANNELS) if table.has("channels") else ()
        for table in tables
    ]
    channels, faults = [], tables[0].faults if tables else None
    for channel, path in zip(read.channels, read.paths, strict=True):
        by_rows = {row for row, among in zip(rows.names, named, strict=True) if channel.name in among}
        own = tuple(row for row in rows.names if row in {*channel.rows, *by_rows})
        channels.append(replace(channel, rows=own))
        if not own and faults and faults.none_in("row", "channel", "channels", "channel_defaults"):
            hint = "give it rows, or name it in the channels of a row"
            faults.add(f"{path}.rows", "is missing, and every row names other channels", hint)
    return read._replace(channels=tuple(channels))
