"""What is wrong with a map, in words that name plate, channel, step and row."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from pegwright.check.pin_map import PinFault, PinRule, pin_faults
from pegwright.correct.names import pin_words, with_letter
from pegwright.correct.values import HandPin, WorkingMap
from pegwright.frozen import frozen
from pegwright.units import figures, length_text, listed, plural, printed
from pegwright.wheel import Kind, Wheel

STOCK = "stock"
FILE = "file"  # a fault of the file and not of a pin
UNKNOWN_TEMPO_US = 4_294_967_295  # so slow that no strike comes too soon, for maps whose tempo is not known

_BY_RULE = {
    PinRule.HOLE: "the wheel has no such hole",
    PinRule.LOST: "the hole is lost",
    PinRule.BRIDGE: "a bridge pin on a channel that strikes",
    PinRule.EDGE: "the pin reaches over an edge of its plate",
    PinRule.HELD: "the channel has let go before the pin that is to hold the note on",
}


@frozen()
class MapFault:
    """A rule that a map breaks.

    Args:
        letter: of the set of plates; empty for the only one, and for what concerns all of them.
        rule: its name, see `PinRule`; `stock`, or `file` for a fault of the file itself.
        pins: that break it together.
        words: the fault in a sentence without a full stop, with every pin.
    """

    letter: str
    rule: str
    pins: tuple[HandPin, ...]
    words: str

    @property
    def line(self) -> str:
        """The words with the letter of the set of plates."""
        return with_letter(self.letter, self.words)

    @property
    def key(self) -> tuple[object, ...]:
        """Equal for the same fault of two maps, whatever the pins sound."""
        return self.letter, self.rule, frozenset((pin.hole, pin.pin_type) for pin in self.pins), bool(self.pins)


def map_faults(maps: Sequence[WorkingMap], wheel: Wheel, plate_sets: int | None = None) -> tuple[MapFault, ...]:
    """Every rule that the maps of a song break.

    Args:
        maps: of the song.
        wheel: of the maps.
        plate_sets: how many of them can stand in plates at once; None takes those that the wheel owns.
    """
    faults = [fault for working in maps for fault in _pin_faults(working, wheel)]
    return (*faults, *stock_faults(maps, wheel, wheel.plate_sets if plate_sets is None else plate_sets))


def new_faults(before: Sequence[WorkingMap], after: Sequence[WorkingMap], wheel: Wheel) -> tuple[MapFault, ...]:
    """The rules that maps break after an edit and did not break before it.

    Args:
        before: the maps.
        after: the same maps, edited.
        wheel: of the maps.
    """
    earlier = {working.letter: working for working in before}
    changed = [working for working in after if working.pins != earlier[working.letter].pins]
    known = {fault.key for working in changed for fault in _pin_faults(earlier[working.letter], wheel)}
    faults = [fault for working in changed for fault in _pin_faults(working, wheel)]
    stock = {fault.words.partition(":")[0] for fault in stock_faults(before, wheel, wheel.plate_sets)}
    lacking = stock_faults(after, wheel, wheel.plate_sets)
    return (
        *(fault for fault in faults if fault.key not in known),
        *(fault for fault in lacking if fault.words.partition(":")[0] not in stock),
    )


def stock_faults(maps: Sequence[WorkingMap], wheel: Wheel, plate_sets: int) -> list[MapFault]:
    """The pin types of which there are not enough for the sets of plates that are pinned at once.

    Args:
        maps: of the song.
        wheel: its stock.
        plate_sets: that are pinned at once; the sets that need the most of a type are counted.
    """
    used = [Counter(pin.pin_type for pin in working.pins) for working in maps]
    faults = []
    for number, kind in enumerate(wheel.pin_types):
        counts = sorted((count[number] for count in used), reverse=True)[: max(plate_sets, 1)]
        if sum(counts) > kind.stock:
            sets = f" for {plural(len(counts), 'set')} of plates" if len(counts) > 1 else ""
            words = f"pin type {kind.name}: {sum(counts):,} are needed{sets} and {kind.stock:,} are in stock"
            faults.append(MapFault("", STOCK, (), words))
    return faults


def _pin_faults(working: WorkingMap, wheel: Wheel) -> list[MapFault]:
    columns = working.columns()
    if not working.us_per_quarter:
        from dataclasses import replace  # noqa: PLC0415  # for maps of CSV files alone

        columns = replace(columns, us_per_quarter=UNKNOWN_TEMPO_US)
    faults = []
    for fault in pin_faults(wheel, columns, working.begins):
        pins = tuple(working.pins[number] for number in fault.pins)
        faults.append(MapFault(working.letter, fault.rule, pins, _words(wheel, fault, pins)))
    return faults


def _words(wheel: Wheel, fault: PinFault, pins: tuple[HandPin, ...]) -> str:
    if fault.rule == PinRule.NUMBER:
        return f"the wheel has no such channel, plate, row or pin type: {_numbers(wheel, pins[0])}"
    each = [pin_words(wheel, pin) for pin in pins]
    if fault.rule == PinRule.SHARED:
        return f"{len(each)} pins are in one hole: {listed(each)}"
    return f"{_broken(wheel, fault, pins)}: {'; '.join(each)}"


def _broken(wheel: Wheel, fault: PinFault, pins: tuple[HandPin, ...]) -> str:
    """The rule that is broken, with the value seen and its bound."""
    if fault.rule in _BY_RULE:
        return _BY_RULE[fault.rule]
    if fault.rule == PinRule.TOUCH:
        apart = length_text(_apart_mm(wheel, *pins), wheel.unit, 1)
        needed = length_text(wheel.geometry.apart_mm, wheel.unit, 1)
        return f"pins touch, {apart} apart where {needed} are needed"
    if fault.rule == PinRule.LIMIT:
        limit = wheel.strike_limits[fault.limit]
        seen = f"{len(pins)} strikes within {figures(fault.apart_ms)} ms"
        return f"{seen} where limit {limit.name} allows {limit.strikes} within {figures(limit.window_ms)} ms"
    channel = wheel.channels[pins[0].hole.channel]
    needed = f"{figures(channel.restrike_ms)} ms are needed{' after it has let go' * (channel.kind is Kind.HOLD)}"
    return f"{channel.name} is struck again after {figures(fault.apart_ms)} ms where {needed}"


def _numbers(wheel: Wheel, pin: HandPin) -> str:
    bounds = (
        ("channel", pin.hole.channel, len(wheel.channels)),
        ("plate", pin.hole.plate, wheel.plate_count),
        ("row", pin.hole.row, len(wheel.rows)),
        ("pin type", pin.pin_type, len(wheel.pin_types)),
    )
    seen = (f"{name} {printed(number)}{'' if number < count else f' of {count}'}" for name, number, count in bounds)
    return f"{', '.join(seen)}, hole {printed(pin.hole.number)}"


def _apart_mm(wheel: Wheel, one: HandPin, other: HandPin) -> float:
    """Between the middles of the collars of two pins, in the plane of the rim; of a bridge, that of its beginning."""
    turn_mm = wheel.geometry.circumference_mm
    along_mm = (_collar_mm(wheel, one) - _collar_mm(wheel, other)) % turn_mm
    rows = wheel.rows[one.hole.row], wheel.rows[other.hole.row]
    side_mm = (one.hole.channel - other.hole.channel) * wheel.geometry.channel_pitch_mm
    return math.hypot(min(along_mm, turn_mm - along_mm), side_mm + rows[0].lateral_mm - rows[1].lateral_mm)


def _collar_mm(wheel: Wheel, pin: HandPin) -> float:
    steps = pin.hole.plate * wheel.steps_per_plate + wheel.rows[pin.hole.row].position_steps(pin.hole.number)
    return float(steps) * wheel.step_mm + wheel.pin_types[pin.pin_type].collar_mm
