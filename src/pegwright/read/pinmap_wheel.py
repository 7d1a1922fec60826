"""A pin map compared with a wheel: every pin in the hole that it was fitted to, by the same names.

The wheel file may have changed since the map was written. Where the hash of its layout is still that of the map,
nothing that matters did. Otherwise what changed is looked for pin by pin: a map of which no pin is concerned is read,
with a finding; any other is refused with what changed and which pins that concerns.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple, NoReturn, TypeAlias

from pegwright.columns import tuples
from pegwright.errors import InputError
from pegwright.findings import Finding, Severity
from pegwright.frozen import frozen
from pegwright.grid import Loss, hole_grid
from pegwright.layout import ChannelLayout, RowLayout, TypeLayout, WheelLayout, layout_of, layout_sha256
from pegwright.placement import PinMap
from pegwright.units import fraction_text, length_text, listed, plural, printed
from pegwright.wheel import Wheel, sets_words, step_name

REFIT = "write the map again from the song with this wheel file"
WHEEL_CHANGED = "wheel-changed"  # of findings on what concerns no pin
SHOWN = 80  # characters of a value that a message repeats
_PINS_NAMED, _CHANGES_NAMED = 3, 2
_QUARTERS_PER_WHOLE = 4


Part: TypeAlias = RowLayout | ChannelLayout | TypeLayout


class PinNames(NamedTuple):
    """What a map calls the channel, the row, the type and the place of one of its pins."""

    channel: str
    row: str
    pin_type: str
    step: str


@frozen(eq=False)
class MapWheel:
    """What a map says of the wheel that it was made for.

    Args:
        plate_count: plates round the rim.
        steps_per_plate: steps on each.
        sha256: hash of its file.
        layout_sha256: hash of its layout; empty in maps of earlier versions.
        layout: what is listed of it; None in maps of earlier versions.
        advance_steps: of the channels whose pins were set early, by name.
        names: of every pin of the map.
    """

    plate_count: int
    steps_per_plate: int
    sha256: str
    layout_sha256: str
    layout: WheelLayout | None
    advance_steps: Mapping[str, Fraction]
    names: Sequence[PinNames]


class _Difference(NamedTuple):
    """Something that is not as it was, and the pins that it concerns."""

    words: str
    pins: list[int]


def compare_wheel(pins: PinMap, of_map: MapWheel, wheel: Wheel, where: str) -> tuple[Finding, ...]:
    """Check that every pin of a map is in a hole that the wheel has, by the same names.

    Args:
        pins: of the map.
        of_map: the wheel that it was made for.
        wheel: the wheel as it is now.
        where: the file, for errors.

    Returns:
        What changed that concerns no pin, where the wheel file is another one; and channels whose pins the map sets
        early by other steps than the wheel does.

    Raises:
        InputError: some pins are concerned by what changed.
    """
    wheel = wheel.of_set(pins.plate_set)
    if changes := [change for change in _changes(pins, of_map, wheel) if change.pins]:
        concerned = sorted({pin for change in changes for pin in change.pins})
        others = len(changes) - _CHANGES_NAMED
        more = [f"{others} more like it"] if others > 0 else []
        words = "; ".join([*(change.words for change in changes[:_CHANGES_NAMED]), *more])
        refuse(where, f"{words}; {_concerned(concerned, pins, of_map)}", REFIT)
    changed = early_changes(pins.channel.tolist(), of_map.advance_steps, wheel)
    early = tuple(Finding("advance-changed", Severity.NOTE, where, words, REFIT) for words in changed)
    return (*_changed_file(of_map, wheel, where), *early)


def changes_of_all(of_map: MapWheel, wheel: Wheel, pin_types: Iterable[int]) -> Iterator[str]:
    """A sentence for each change that concerns pins whatever holes they are in.

    Args:
        of_map: the wheel that a map was made for.
        wheel: the wheel as it is now.
        pin_types: of the pins of the map.
    """
    yield from _whole_changes(of_map, wheel)
    types = _type_changes(of_map, wheel)
    yield from (types[number] for number in sorted(set(pin_types)) if number in types)


def _changed_file(of_map: MapWheel, wheel: Wheel, where: str) -> tuple[Finding, ...]:
    """What changed about the wheel since a map was written of which no pin is concerned."""
    if wheel.sha256 == of_map.sha256 or layout_sha256(wheel) == of_map.layout_sha256:
        return ()
    message = "the wheel file was changed after this map was written"
    if of_map.layout is None:
        hint = "the map does not give what a step was worth, nor offsets of pin types: compare them yourself"
        return (Finding(WHEEL_CHANGED, Severity.NOTE, where, f"{message}; every pin still has its hole", hint),)
    words = listed(list(_differences(of_map.layout, layout_of(wheel)))) or "not the same holes exist"
    return (Finding(WHEEL_CHANGED, Severity.NOTE, where, f"{message}: {words}; no pin of it is concerned"),)


def early_changes(channels: Iterable[int], early_steps: Mapping[str, Fraction], wheel: Wheel) -> Iterator[str]:
    """A sentence for each channel whose pins a map sets early by other steps than the wheel does.

    Args:
        channels: of the pins of the map.
        early_steps: of the channels that the map sets early, by name.
        wheel: the wheel as it is now.
    """
    for number in sorted(set(channels)):
        channel = wheel.channels[number]
        steps, now = early_steps.get(channel.name, Fraction(0)), channel.advance_steps
        if steps != now:
            message = f"advance_steps of channel {quoted(channel.name)} is {float(steps):g} in the map and"
            apart = f"{fraction_text(abs(now - steps))} step{'' if abs(now - steps) == 1 else 's'}"
            which = "early" if now < steps else "late"
            yield f"{message} {float(now):g} on the wheel: its pins stand {apart} too {which} for this wheel"


def _concerned(concerned: Sequence[int], pins: PinMap, of_map: MapWheel) -> str:
    """How many pins are concerned, and the first of them."""
    places = [
        f"{quoted(of_map.names[pin].channel)} plate {printed(int(pins.plate[pin]))} step {of_map.names[pin].step} "
        f"row {quoted(of_map.names[pin].row)}"
        for pin in concerned[:_PINS_NAMED]
    ]
    others = len(concerned) - _PINS_NAMED
    more = [f"{others:,} more"] if others > 0 else []
    return f"this concerns {len(concerned):,} of {plural(pins.pin_count, 'pin')}: {listed([*places, *more])}"


def _whole_changes(of_map: MapWheel, wheel: Wheel) -> Iterator[str]:
    """What is not as it was about the wheel as a whole, which concerns every pin."""
    whole = [
        ("the number of plates", of_map.plate_count, wheel.plate_count),
        ("the number of steps on a plate", of_map.steps_per_plate, wheel.steps_per_plate),
    ]
    if of_map.layout:
        values = (of_map.layout.step_quarters, wheel.step_quarters)
        whole.append(("the value of a step", *(str(value / _QUARTERS_PER_WHOLE) for value in values)))  # type: ignore[arg-type]  # any two alike
    yield from (_both(what, one, other) for what, one, other in whole if one != other)


def _changes(pins: PinMap, of_map: MapWheel, wheel: Wheel) -> Iterator[_Difference]:
    everything = list(range(pins.pin_count))
    yield from (_Difference(words, everything) for words in _whole_changes(of_map, wheel))
    of_pins: dict[str, list[int]] = {}
    for pin, words in _pin_changes(pins, of_map, wheel):
        of_pins.setdefault(words, []).append(pin)
    yield from (_Difference(words, numbers) for words, numbers in of_pins.items())


def _pin_changes(pins: PinMap, of_map: MapWheel, wheel: Wheel) -> Iterator[tuple[int, str]]:
    """For each pin that is concerned by what changed about its hole or its type the first such change."""
    hole_loss, layout = _hole_losses(wheel), layout_of(wheel)
    types = _type_changes(of_map, wheel)
    columns = tuples(pins.channel, pins.plate, pins.row, pins.index, pins.pin_type)
    for pin, (channel, plate, row, index, kind) in enumerate(columns):
        names = of_map.names[pin]
        numbered = (
            ("channel", channel, names.channel, layout.channels),
            ("row", row, names.row, layout.rows),
            ("pin type", kind, names.pin_type, layout.pin_types),
        )
        words = next(filter(None, (_named(*each) for each in numbered)), "") or types.get(kind, "")
        if not words and plate < wheel.plate_count:
            words = hole_loss(channel, plate, row, index)
            step = "" if words else step_name(wheel.rows[row], index)
            if step not in ("", names.step):
                hole = f"row {quoted(names.row)}: hole {printed(index)} of the row"
                words = _both(hole, f"step {names.step}", f"step {step}")
        if words:
            yield pin, words


def _named(what: str, number: int, name: str, on_wheel: Sequence[Part]) -> str:
    """What is not as it was about a numbered thing with a name.

    Args:
        what: it is.
        number: its own, 0-based.
        name: in the map.
        on_wheel: all such things of the wheel.
    """
    if number >= len(on_wheel):
        return f"{what} {printed(number)}, {quoted(name)}, is none of the {len(on_wheel)} of this wheel"
    now = on_wheel[number].name
    return _both(f"{what} {printed(number)}", name, now) if name != now else ""


def _type_changes(of_map: MapWheel, wheel: Wheel) -> dict[int, str]:
    """For each pin type, by number, that is bent or bridges otherwise than it did what that is."""
    if of_map.layout is None:
        return {}
    changes: dict[int, str] = {}
    for number, (old, new) in enumerate(zip(of_map.layout.pin_types, layout_of(wheel).pin_types, strict=False)):
        for what, one, other in (
            ("offset", old.offset_mm, new.offset_mm),
            ("bridge", old.bridge_mm, new.bridge_mm),
        ):
            if one != other:
                lengths = (length_text(length_mm, wheel.unit) for length_mm in (one, other))
                changes.setdefault(number, _both(f"{what} of pin type {quoted(old.name)}", *lengths))
    return changes


def _hole_losses(wheel: Wheel) -> Callable[[int, int, int, int], str]:
    """A function that says what is wrong with the hole of a channel, plate, row and index: empty if it exists."""
    lines = hole_grid(wheel).lines
    losses = {line: dict(zip(tuples(line.plate, line.row, line.index), line.loss, strict=True)) for line in set(lines)}

    def words(channel: int, plate: int, row: int, index: int) -> str:
        loss = losses[lines[channel]].get((plate, row, index))
        if loss == Loss.NONE:
            return ""
        hole = f"hole {printed(index)} of row {quoted(wheel.rows[row].name)}"
        if loss is None:
            return f"{hole} does not exist on this wheel"
        if loss != Loss.DECLARED:
            return f"{hole} is lost on this wheel, at a seam"
        where = sets_words(wheel.sets_without(channel, row, index, plate)) or " on this wheel"
        return f"{hole} is lost{where}, as declared"

    return words


def _differences(old: WheelLayout, new: WheelLayout) -> Iterator[str]:
    """What of a layout is not as it was, in words."""
    if old.step_quarters != new.step_quarters:
        values = (old.step_quarters, new.step_quarters)
        yield _both("the value of a step", *(str(value / _QUARTERS_PER_WHOLE) for value in values))
    kinds: Sequence[tuple[str, Sequence[Part], Sequence[Part]]] = (
        ("row", old.rows, new.rows),
        ("channel", old.channels, new.channels),
        ("pin type", old.pin_types, new.pin_types),
    )
    for what, before, after in kinds:
        for number, (one, other) in enumerate(zip(before, after, strict=False)):
            if one.name != other.name:
                yield _both(f"{what} {printed(number)}", one.name, other.name)
            elif one != other:
                yield f"{what} {quoted(one.name)} is not as it was"
        yield from (f"{what} {quoted(each.name)} was added" for each in after[len(before) :])
        yield from (f"{what} {quoted(each.name)} was taken out" for each in before[len(after) :])


def _both(what: str, in_map: object, on_wheel: object) -> str:
    return f"{what} is {quoted(in_map)} in the map and {quoted(on_wheel)} on the wheel"


def early_steps(fit: Mapping[str, Any]) -> dict[str, Fraction]:
    """The channels that a map sets early, by name, and by how many steps.

    Args:
        fit: what the map says of its fit.
    """
    return {early["channel_name"]: Fraction(str(early["steps"])) for early in fit.get("advance_steps", ())}


def quoted(value: object) -> str:
    """A value as messages repeat it."""
    text = repr(value)
    return text if len(text) <= SHOWN else text[:SHOWN] + "…"


def refuse(where: str, message: str, hint: str) -> NoReturn:
    """Refuse a file.

    Args:
        where: its name.
        message: what is wrong.
        hint: what to do.

    Raises:
        InputError: always.
    """
    raise InputError(message, where=where, hint=hint)
