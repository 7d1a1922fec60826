"""The facts of a wheel, as a page of plain text."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from pegwright import facts
from pegwright.clearance import clearances, rows_at_same_places
from pegwright.grid import Loss
from pegwright.percussion import drum_key_name
from pegwright.tell.wheel import turn_finding, unchecked
from pegwright.units import (
    LengthUnit,
    fraction_text,
    length_text,
    listed,
    nearest_name,
    pitch_name,
    plural,
    printed,
    revolutions_text,
    turning_text,
    us_per_quarter,
)
from pegwright.wheel import Channel, Wheel
from pegwright.write.tables import HANG, KEPT, LINE_CELLS, Line, TextTable, one_line, paragraphs

NAME_CELLS = 20
_SOUND_CELLS = 20
_ROW_CELLS = 8
_LABEL_CELLS = 11
_LOST_SHOWN = 12
_EDGES = {Loss.LEAD_EDGE: "leading", Loss.TRAIL_EDGE: "trailing"}


def wheel_text(wheel: Wheel, quarters_per_minute: float, width: int = LINE_CELLS) -> str:
    """The facts of a wheel.

    Args:
        wheel: the wheel.
        quarters_per_minute: the tempo for its speeds.
        width: cells of a line.
    """
    about = [of(wheel) for of in (_channels, _silent, _holes, _seams, _clearance, _bars, _sounds, _limits, _pins)]
    return paragraphs([[*_turn(wheel), *_speed(wheel, quarters_per_minute)], *filter(None, about)], width)


def _line(label: str, *items: str) -> str:
    """A labelled paragraph of items with commas, broken between them where several are given."""
    text = items[0] if len(items) == 1 else ", ".join(item.replace(" ", KEPT) for item in items)
    return f"{label:{_LABEL_CELLS}}  {HANG}{text}"


def _turn(wheel: Wheel) -> list[Line]:
    quarters = f"{fraction_text(wheel.turn_quarters)} quarter note{'' if wheel.turn_quarters == 1 else 's'}"
    turn = f"{wheel.turn_steps:,} steps or {quarters} a turn"
    moved = f"a note may be moved by up to {wheel.reach_quarters / 4!s}"
    return [
        one_line(wheel.name, LINE_CELLS),
        "",
        _line("Turn", f"{plural(wheel.plate_count, 'plate')} of {plural(wheel.steps_per_plate, 'step')}; {turn}"),
        _line("Step", f"a note value of {wheel.step_quarters / 4!s}; {moved}"),
        _line("Rim", *_rim(wheel)),
    ]


def _rim(wheel: Wheel) -> list[str]:
    """Lengths along the rim, as far as they are known."""
    geometry, text = wheel.geometry, partial(length_text, unit=wheel.unit)
    seam = ["no seams"] if not geometry.seams else []
    if not geometry.radius_known:
        return ["its length is not known", *seam]
    if geometry.edges_known:
        seam = [f"{text(geometry.trail_edge_mm - geometry.lead_edge_mm, decimals=2)} gap at a seam"]
    plates = [f"{text(wheel.plate_mm, decimals=1)} from plate to plate"]
    return [
        f"{text(geometry.circumference_mm, decimals=1)} round",
        *(plates if wheel.plate_count > 1 else []),
        f"{text(wheel.step_mm, decimals=3)} a step",
        *seam,
    ]


def _speed(wheel: Wheel, quarters_per_minute: float) -> list[Line]:
    speed = facts.speed_at(wheel, quarters_per_minute)
    turning = f"{speed.turn_s:.2f} s a turn, {revolutions_text(speed.turns_per_minute)}"
    lines = [_line("Tempo", f"{quarters_per_minute:g} quarter notes a minute: {turning}")]
    step = f"{speed.step_ms:.2f} ms a step"
    if wheel.geometry.radius_known:
        unit = wheel.unit
        surface = f"{length_text(speed.rim_mm_per_s, unit, 2)}/s at the rim"
        lines.append(_line("", surface, f"{speed.ms_per_mm / unit.of(1.0):.3f} ms/{unit}", step))
    else:
        lines.append(_line("", step))
    return [*lines, *_bounds(wheel, quarters_per_minute)]


def _bounds(wheel: Wheel, quarters_per_minute: float) -> list[str]:
    """How slowly and how fast the wheel can be turned, and whether this tempo is beyond it."""
    lowest, highest = facts.tempo_tenths(wheel)
    slowest_s, fastest_s = wheel.slowest_turn_s, wheel.fastest_turn_s
    items = []
    if slowest_s is not None and lowest is not None:
        items.append(f"no slower than {turning_text(slowest_s)}: tempo {lowest / 10:g}")
    if fastest_s is not None and highest is not None:
        items.append(f"no faster than {turning_text(fastest_s)}: tempo {highest / 10:g}")
    beyond = turn_finding(wheel, us_per_quarter(quarters_per_minute), wheel.name)
    return [*(_line("Turning", item) for item in items), *(_line("", finding.message) for finding in beyond)]


def _clearance(wheel: Wheel) -> list[Line]:
    """The lowest clearance of pins, what was not checked, and rows that add nothing."""
    text = partial(length_text, unit=wheel.unit, decimals=2)
    lines: list[Line] = []
    if lowest := clearances(wheel):
        items = []
        if lowest.in_row_mm is not None:
            items.append(f"{text(lowest.in_row_mm)} between pins of one row")
        if lowest.between_channels_mm is not None:
            items.append(f"{text(lowest.between_channels_mm)} between pins of different channels")
        needed = f"at least {length_text(wheel.geometry.pin_clearance_mm, wheel.unit)} is needed"
        lines.append(_line("Clearance", *(items or ["no two pins are near each other"]), needed))
        lines += [
            _line("", f"{_rows(pair)}: pins in nearby holes touch, so that one of the two holes is used")
            for pair in lowest.touching_rows
        ]
    lines += [_line("Unchecked", finding.message) for finding in unchecked(wheel)]
    lines += [
        _line("Remark", f"{_rows(pair)} have the same places: one adds nothing to the other")
        for pair in rows_at_same_places(wheel)
    ]
    return lines


def _rows(pair: tuple[str, str]) -> str:
    return f"rows {listed([one_line(name, NAME_CELLS) for name in pair])}"


def _silent(wheel: Wheel) -> list[Line]:
    """Channels that nothing in a score sounds, which may be a name misspelt of one that was to be changed."""
    silent = [channel.name for channel in wheel.channels if not channel.pitches and not channel.drum_keys]
    lines = []
    for name in silent:
        others = [channel.name for channel in wheel.channels if channel.name not in silent]
        near = nearest_name(name, others)
        meant = f"; is {one_line(near, NAME_CELLS)!r} meant?" if near else ""
        lines.append(
            f"channel {one_line(name, NAME_CELLS)!r} has neither pitches nor drum keys: no note sounds it{meant}"
        )
    return [_line("Silent", *lines)] if lines else []


def _channels(wheel: Wheel) -> list[Line]:
    digits = len(str(len(wheel.channels)))
    holes = facts.count_holes(wheel).holes.sum(axis=1)
    readers = any(channel.reader_mm for channel in wheel.channels)
    early = any(channel.advance_steps for channel in wheel.channels)
    lines = []
    for number, channel in enumerate(wheel.channels):
        in_rows = [f"{holes[number, n]:,}" if row.name in channel.rows else "-" for n, row in enumerate(wheel.rows)]
        lines.append(
            (
                f"{printed(number):{digits}} {one_line(channel.name, NAME_CELLS)}",
                one_line(_sounds_of(channel), _SOUND_CELLS),
                _kind(channel, wheel.unit),
                *in_rows,
                f"{holes[number].sum():,}",
                f"{channel.restrike_ms:g}",
                f"{channel.lead_ms:.6g}",
                *([f"{wheel.unit.of(channel.reader_mm):+.6g}" if channel.reader_mm else "0"] if readers else []),
                *([f"{float(channel.advance_steps):g}"] if early else []),
            )
        )
    rows = [one_line(row.name, _ROW_CELLS) for row in wheel.rows]
    header = ["Channel", "sounds", "kind", *rows, "holes", "re-strike ms", "lead ms"]
    header += [f"reader {wheel.unit}"] * readers + ["early steps"] * early
    title = f"Holes of each channel in a set of {plural(wheel.plate_count, 'plate')}, by row"
    row_columns = range(3, 3 + len(rows))
    return [title, TextTable(header, lines, left=(0, 1, 2), below=(row_columns, (2,)))]


def _kind(channel: Channel, unit: LengthUnit) -> str:
    return f"{channel.kind} {length_text(channel.hold_mm, unit)}" if channel.hold_mm else channel.kind.value


def _sounds_of(channel: Channel) -> str:
    sounds = [pitch_name(pitch) for pitch in channel.pitches]
    if channel.drum_keys:
        sounds.append(f"drum {'/'.join(str(key) for key in channel.drum_keys)}")
    return ", ".join(sounds) or "nothing"


def _holes(wheel: Wheel) -> list[Line]:
    count = facts.count_holes(wheel)
    by_plate = count.holes.sum(axis=(0, 2))
    plates = f"{by_plate[0]:,} on every plate"
    if len(set(by_plate.tolist())) > 1:
        plates = ", ".join(f"{holes:,} on plate {printed(plate)}" for plate, holes in enumerate(by_plate))
    a_set = "in every set" if wheel.sets_differ else "in a set"
    sets = f"{count.set_count:,} {a_set}; {count.show_count:,} in all, in {plural(count.plate_sets, 'set')} of plates"
    return [_line("Holes", f"{plates}; {sets}")]


def _seams(wheel: Wheel) -> list[Line]:
    groups = facts.lost_groups(wheel)
    if not groups:
        known = not wheel.geometry.seams or wheel.geometry.edges_known
        why = "no seam takes a hole" if wheel.geometry.seams else "a drum without seams"
        return [_line("Lost holes", f"none: {why}" if known else "none given; those at seams are not known")]
    shown = [_lost(wheel, group) for group in groups[:_LOST_SHOWN]]
    more = sum(group.lost_count for group in groups[_LOST_SHOWN:])
    total = sum(group.lost_count for group in groups if group.plate_set is None)
    counted = [f"{total:,} of a set"]
    for number in range(wheel.plate_sets):
        own = sum(group.lost_count for group in groups if group.plate_set == number)
        counted += [f"{own:,} more of set {printed(number)}"] if own else []
    lines: list[Line] = [_line("Lost holes", ", ".join(counted)), *(f"  {line}" for line in shown)]
    return [*lines, f"  and {plural(more, 'more hole')}, listed in full by --json"] if more else lines


def _lost(wheel: Wheel, group: facts.LostGroup) -> str:
    row = wheel.rows[group.row]
    plates = "every plate"
    if len(group.plates) < wheel.plate_count:
        plates = f"plate {', '.join(str(printed(plate)) for plate in group.plates)}"
    if group.plate_set is not None:
        plates += f" of set {printed(group.plate_set)}"
    step = fraction_text(row.position_steps(group.index) + 1)
    why = "the wheel file says so"
    if group.edge_mm is not None and group.needed_mm is not None:
        text = partial(length_text, unit=wheel.unit, decimals=2)
        why = f"{text(group.edge_mm)} from the {_EDGES[group.loss]} edge, needs {text(group.needed_mm)}"
    where = f"{one_line(row.name, NAME_CELLS)} hole {printed(group.index)} (at step {step}) of {plates}"
    return f"{where}, {plural(group.channel_count, 'channel')}: {why}"


def _bars(wheel: Wheel) -> list[Line]:
    lines = []
    for beats, beat_type in facts.COMMON_METRES:
        metre = facts.metre_on(wheel, beats, beat_type)
        figures = (metre.steps_per_bar, metre.places_per_bar, metre.bars_per_plate, metre.bars_per_turn)
        lines.append((f"{beats}/{beat_type}", *(fraction_text(figure) for figure in figures)))
    header = ["Metre", "steps a bar", "places a bar", "bars a plate", "bars a turn"]
    return [TextTable(header, lines), "A place is a moment at which some row can have a pin, including lost holes."]


def _sounds(wheel: Wheel) -> list[Line]:
    pitches, keys = facts.pitch_channels(wheel), facts.drum_key_channels(wheel)
    notes = [f"{pitch_name(pitch)} {pitch}{_times(names)}" for pitch, names in pitches.items()]
    drums = [f"{key} {drum_key_name(key)}{_times(names)}" for key, names in keys.items()]
    return [
        _line("Pitches", *notes or ["none"]),
        _line("Drum keys", *drums or ["none"]),
        _line("", "Names take middle C, MIDI pitch 60, as C4; drum keys are those of General MIDI."),
    ]


def _times(names: Sequence[str]) -> str:
    return f" (x{len(names)})" if len(names) > 1 else ""


def _limits(wheel: Wheel) -> list[Line]:
    limits = [
        f"{one_line(limit.name, NAME_CELLS)}: up to {plural(limit.strikes, 'strike')} of"
        f" {plural(len(limit.channels), 'channel')} within {limit.window_ms:g} ms"
        for limit in wheel.strike_limits
    ]
    return [_line("Limits", *limits or ["none"])]


def _pins(wheel: Wheel) -> list[Line]:
    bridges = any(pin_type.bridge_mm for pin_type in wheel.pin_types)
    offsets = any(pin_type.offset_mm for pin_type in wheel.pin_types)
    lines = [
        (
            one_line(pin_type.name, NAME_CELLS),
            f"{pin_type.stock:,}",
            f"{wheel.unit.of(pin_type.offset_mm):+.6g}" if pin_type.offset_mm else "0",
            *([str(pin_type.collar) if pin_type.offset_mm else ""] if offsets else []),
            *([f"{wheel.unit.of(pin_type.bridge_mm):.6g}"] if bridges else []),
        )
        for pin_type in wheel.pin_types
    ]
    total = sum(pin_type.stock for pin_type in wheel.pin_types)
    header = [
        "Pin type",
        "in stock",
        f"offset {wheel.unit}",
        *(["collar"] if offsets else []),
        *([f"bridge {wheel.unit}"] if bridges else []),
    ]
    return [TextTable(header, [*lines, ("total", f"{total:,}", *[""] * (len(header) - 2))])]
