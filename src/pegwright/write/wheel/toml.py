"""What has to change in the file of a wheel to make it another wheel, as lines to paste."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import TypeAlias

from pegwright.frozen import frozen
from pegwright.wheel import Channel, Kind, Row, Wheel

Value: TypeAlias = str | int | float | Fraction | Sequence[str] | Sequence[int] | Sequence[Fraction]
LINE_CHARS = 100


@frozen()
class WheelFileEdit:
    """Lines for a wheel file.

    Args:
        table: `row`, `channel` or `limit`.
        name: of the table in which one line takes the place of that with the same key, or is added where there is
            none; empty for whole new tables, which are added at the end of the file.
        lines: TOML.
        in_short: whether the file may give that channel, which has one pitch, in short in [[channels]].
    """

    table: str
    name: str
    lines: str
    in_short: bool = False


def wheel_file_edits(before: Wheel, after: Wheel) -> tuple[WheelFileEdit, ...]:
    """What to do to the file of a wheel to make it that of another, which has more rows and channels or others.

    Args:
        before: the wheel of the file.
        after: the same with rows and channels added, others retuned or given rows, and limits that count more.
    """
    new_rows = after.rows[len(before.rows) :]
    new = {row.name for row in new_rows}

    def listed_rows(channel: Channel) -> tuple[str, ...]:
        return tuple(name for name in channel.rows if name not in new)

    tables = [
        _table("[[channel]]", _channel(each, listed_rows(each), before.channels))
        for each in after.channels[len(before.channels) :]
    ]
    for row in new_rows:
        on = [channel.name for channel in after.channels if row.name in channel.rows]
        tables.append(_table("[[row]]", _row(row) | {"channels": on}))
    edits = [WheelFileEdit("row" if new else "channel", "", "\n".join(tables))] if tables else []
    for channel, same in zip(before.channels, after.channels, strict=False):
        in_short = len(channel.pitches) == 1 and not channel.drum_keys
        if channel.pitches != same.pitches:
            edits.append(WheelFileEdit("channel", channel.name, _line("pitches", same.pitches), in_short))
        if channel.rows != listed_rows(same):
            edits.append(WheelFileEdit("channel", channel.name, _line("rows", listed_rows(same)), in_short))
    for limit, wider in zip(before.strike_limits, after.strike_limits, strict=True):
        if limit != wider:
            edits.append(WheelFileEdit("limit", limit.name, _line("channels", wider.channels)))
    return tuple(edits)


def _row(row: Row) -> dict[str, Value]:
    return {
        "name": row.name,
        "phases": row.phases,
        **({"period_steps": row.period_steps} if row.period_steps != 1 else {}),
        **({"lateral_mm": row.lateral_mm} if row.lateral_mm else {}),
    }


def _channel(channel: Channel, rows: Sequence[str], others: Sequence[Channel]) -> dict[str, Value]:
    """What a channel is, whatever the defaults of its file are.

    Args:
        channel: of the wheel.
        rows: that it lists.
        others: channels of the file.
    """
    return {
        "name": channel.name,
        **({"pitches": channel.pitches} if channel.pitches else {}),
        **({"drum_keys": channel.drum_keys} if channel.drum_keys else {}),
        "rows": rows,
        "kind": str(channel.kind),
        **({"hold_mm": channel.hold_mm} if channel.kind is Kind.HOLD else {}),
        "restrike_ms": channel.restrike_ms,
        **_sounding(channel, others),
    }


def _sounding(channel: Channel, others: Sequence[Channel]) -> dict[str, Value]:
    """When a channel sounds after its trip, with the keys that the file may have in its defaults."""
    start = {"fall_start_mm_per_s": channel.fall_start_mm_per_s} if channel.fall_start_mm_per_s else {}
    fall = {"fall_mm": channel.fall_mm, **start}
    return {
        **(fall if channel.fall_mm else {"lead_ms": channel.lead_ms}),
        **({"reader_mm": channel.reader_mm} if any(each.reader_mm for each in others) else {}),
        **({"advance_steps": float(channel.advance_steps)} if any(each.advance_steps for each in others) else {}),
    }


def _table(head: str, values: Mapping[str, Value]) -> str:
    return f"{head}\n{_lines(values)}"


def _lines(values: Mapping[str, Value]) -> str:
    return "".join(_line(key, value) for key, value in values.items())


def _line(key: str, value: Value) -> str:
    """A key with its value, a long list over several lines."""
    line = f"{key} = {_value(value)}\n"
    if len(line) <= LINE_CHARS or isinstance(value, str | Fraction):
        return line
    assert not isinstance(value, int | float), value  # noqa: S101  # no number is so long
    items = [f"{_value(item)}," for item in value]
    return f"{key} = [\n" + "".join(f"    {row}\n" for row in _rows_of(items)) + "]\n"


def _rows_of(items: Iterable[str]) -> Iterator[str]:
    """Items put together in lines that are not too long."""
    row = ""
    for item in items:
        if row and len(row) + 1 + len(item) > LINE_CHARS:
            yield row
            row = ""
        row += f" {item}" if row else item
    if row:
        yield row


def _value(value: Value) -> str:
    match value:
        case str():
            return json.dumps(value, ensure_ascii=False)
        case Fraction():
            return str(value) if value.denominator == 1 else f'"{value}"'
        case int() | float():
            return f"{value:g}" if value == float(f"{value:g}") and float(value).is_integer() else repr(value)
    return f"[{', '.join(map(_value, value))}]"
