"""What a changed wheel has that the wheel as it is has not: in words, and on as few channels as a song needs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from pegwright.percussion import drum_key_name
from pegwright.placement import Placement
from pegwright.remedy.additions import Addition, AdditionKind, addition_words, own_row, places_words
from pegwright.units import listed, pitch_name
from pegwright.wheel import Row, Wheel


def with_fewer_rows(wheel: Wheel, changed: Wheel, placements: Sequence[Placement]) -> Wheel:
    """A changed wheel on which channels have new holes only in rows where they have pins.

    Args:
        wheel: as it is.
        changed: the same with additions; it may give rows to channels that had them not.
        placements: of a song on it.
    """
    pinned = {
        (channel, row)
        for placement in placements
        for channel, row in zip(placement.channel.tolist(), placement.row.tolist(), strict=True)
        if row >= 0
    }
    rows = {row.name: number for number, row in enumerate(changed.rows)}
    had = [channel.rows for channel in wheel.channels]
    new = {row.name for row in changed.rows[len(wheel.rows) :]}
    if not new <= {changed.rows[row].name for _, row in pinned}:
        return changed  # a row on no channel is none
    channels = []
    for number, channel in enumerate(changed.channels):
        first = had[number] if number < len(had) else tuple(name for name in channel.rows if name not in new)
        kept = tuple(name for name in channel.rows if name in first or (number, rows[name]) in pinned)
        channels.append(replace(channel, rows=kept))
    return replace(changed, channels=tuple(channels), sha256=f"{changed.sha256}, few")


def change_words(wheel: Wheel, changed: Wheel, changes: Sequence[Addition]) -> tuple[str, ...]:
    """Changes for a maker, each with the channels concerned; further channels for one sound in one line.

    Args:
        wheel: as it is.
        changed: with the changes.
        changes: sorted.
    """
    hammers = Counter(change.channel for change in changes if change.kind is AdditionKind.HAMMER)
    added = [channel.name for channel in changed.channels[len(wheel.channels) :]]
    names = dict(zip([change for change in changes if change.adds_channel], added, strict=True))
    own = {channel.name for channel in wheel.channels}
    words: dict[str, None] = {}
    for change in changes:
        count = hammers[change.channel]
        match change.kind:
            case AdditionKind.ROW:
                words[_row_words(wheel, changed, change)] = None
            case AdditionKind.HAMMER if change.channel in own and count == 1:
                words[f"one more channel for {change.channel}"] = None
            case AdditionKind.HAMMER if change.channel in own:
                words[f"{count} more channels for {change.channel}"] = None
            case AdditionKind.PITCH | AdditionKind.DRUM_KEY if hammers[names[change]]:
                words[f"{1 + hammers[names[change]]} channels for {_sound(change)}"] = None
            case AdditionKind.RETUNED | AdditionKind.PITCH | AdditionKind.DRUM_KEY:
                words[addition_words(change, wheel)] = None
    return tuple(words)


def _sound(change: Addition) -> str:
    if change.kind is AdditionKind.PITCH:
        return f"{pitch_name(change.key)} ({change.key})"
    return f"drum key {change.key}, {drum_key_name(change.key)}"


def _row_words(wheel: Wheel, changed: Wheel, change: Addition) -> str:
    row = own_row(changed, change)
    assert row is not None  # noqa: S101  # it was added
    own = own_row(wheel, change)
    what = f"row {own.name}" if own else places_words(change)
    return f"{what} on {_channels_words(wheel, changed, row)}"


def _channels_words(wheel: Wheel, changed: Wheel, row: Row) -> str:
    """The channels that are given a row."""
    had = {channel.name for channel in wheel.channels if row.name in channel.rows}
    given = [channel.name for channel in changed.channels if row.name in channel.rows and channel.name not in had]
    return "every channel" if len(given) == len(changed.channels) else listed(given)
