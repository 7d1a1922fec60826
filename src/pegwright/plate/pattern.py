"""Hole patterns of flat sheets: every hole where it has to be drilled so that it is right once the sheet is bent."""

from __future__ import annotations

import math

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.grid import Loss, across_rim_mm, along_plate_mm, hole_grid
from pegwright.making import Face, Fixing, HoleKind, Layer, Pattern, PatternHoles, PlateFile, Sheet
from pegwright.plate.bend import flat_ratio
from pegwright.plate.marks import plate_marks
from pegwright.plate.tools import fixing_tool, hole_offsets_mm, nearest_tool
from pegwright.units import listed, printed
from pegwright.wheel import Wheel

_CHORD_OFF_MM = 0.005  # by which a chord of a rounded corner may be off its arc


def heat_ratio(sheet: Sheet, layer: Layer) -> float:
    """Length of a layer as it is drilled over its length at the temperature at which lengths hold.

    Source: linear thermal expansion, 1 + alpha (T - T_0).
    """
    warmer_k = sheet.machined_c - sheet.reference_c
    return 1 + (layer.material.expansion_per_k or 0.0) * warmer_k


def table_places(plate: PlateFile, layer: Layer, wheel: Wheel, rim_mm: Floats) -> Floats:
    """Places on the table of places on the mounted plate, flat and at the temperature at which it is drilled.

    Args:
        plate: with the face that is drilled and the temperatures.
        layer: that is drilled.
        wheel: whose rim it is.
        rim_mm: shape (n, 2): along the rim from the plate's first step; across from the middle of the first channel.

    Returns:
        shape (n, 2), x and y.
    """
    heat = heat_ratio(plate.sheet, layer)
    up = -1.0 if plate.sheet.face is Face.OUTER else 1.0
    scale = np.array([heat * flat_ratio(layer, wheel.geometry.radius_mm), heat * up])
    return frozen_floats(rim_mm * scale + 0.0)  # no minus zero


def rim_edges_mm(plate: PlateFile, wheel: Wheel) -> tuple[float, float, float, float]:
    """Cut edges of a plate on the rim: leading and trailing along it, then the side edges across it."""
    geometry = wheel.geometry
    last_mm = (len(wheel.channels) - 1) * geometry.channel_pitch_mm
    trail_mm = wheel.plate_mm - geometry.trail_edge_mm
    return -geometry.lead_edge_mm, trail_mm, -plate.sheet.left_edge_mm, last_mm + plate.sheet.right_edge_mm


def patterns(plate: PlateFile, wheel: Wheel) -> tuple[Pattern, ...]:
    """The pattern of every layer, once for all plates that have the same holes.

    Args:
        plate: the plate file.
        wheel: with every length known.

    Returns:
        by layer, then by the first plate that has it.
    """
    groups = plates_alike(wheel)
    all_patterns = []
    for layer in plate.layers:
        for number, served in enumerate(groups if layer.pin_holes else (all_plates(wheel),)):
            names = _names(plate, layer, number, served if layer.pin_holes and len(groups) > 1 else ())
            all_patterns.append(_pattern(plate, wheel, layer, served, names))
    return tuple(all_patterns)


Served = tuple[tuple[int | None, tuple[int, ...]], ...]  # sets of plates, or None for every set, with plates of each


def all_plates(wheel: Wheel) -> Served:
    """Every plate of every set."""
    return ((None, tuple(range(wheel.plate_count))),)


def plates_alike(wheel: Wheel) -> tuple[Served, ...]:
    """Plates that have the same holes, 0-based and rising, by the first of each group."""
    groups: dict[bytes, dict[int | None, list[int]]] = {}
    for plate_set in range(wheel.plate_sets) if wheel.sets_differ else (None,):
        for number in range(wheel.plate_count):
            lines = hole_grid(wheel.of_set(plate_set)).lines
            live = (line.loss[line.plate == number] == Loss.NONE for line in lines)
            groups.setdefault(np.concatenate(list(live)).tobytes(), {}).setdefault(plate_set, []).append(number)
    return tuple(tuple((each, tuple(plates)) for each, plates in served.items()) for served in groups.values())


def rounded_outline(corners: Floats, radius_mm: float) -> tuple[tuple[float, float], ...]:
    """The edge of a rectangular sheet with rounded corners, as a closed line of short chords.

    Args:
        corners: two opposite corners, shape (2, 2).
        radius_mm: of the corners.
    """
    (left, low), (right, high) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    if not radius_mm:
        return ((left, low), (right, low), (right, high), (left, high))
    half_rad = math.acos(1 - min(_CHORD_OFF_MM / radius_mm, 0.5))
    chords = max(2, math.ceil(math.pi / 2 / (2 * half_rad)))
    centres = (
        (right - radius_mm, low + radius_mm, -1),
        (right - radius_mm, high - radius_mm, 0),
        (left + radius_mm, high - radius_mm, 1),
        (left + radius_mm, low + radius_mm, 2),
    )
    return tuple(
        (x + radius_mm * math.cos(turn_rad), y + radius_mm * math.sin(turn_rad))
        for x, y, quarter in centres
        for turn_rad in np.linspace(quarter * math.pi / 2, (quarter + 1) * math.pi / 2, chords + 1).tolist()
    )


def _names(plate: PlateFile, layer: Layer, pattern: int, served: Served) -> tuple[str, str]:
    """The name of a pattern's files and its title; without plates it serves all.

    Args:
        plate: with all layers.
        layer: of the pattern.
        pattern: its number in the layer, by which it is called where sets differ.
        served: the sets and plates that take it.
    """
    numbers = [str(printed(number)) for _, plates in served for number in plates]
    some = "plate" if len(numbers) == 1 else "plates"
    name = "-".join([some, *numbers]) if numbers else "plate"
    title = f"{some} {listed(numbers)}" if numbers else "every plate"
    if served and served[0][0] is not None:
        name, title = f"pattern-{printed(pattern)}", f"pattern {printed(pattern)}"
    if len(plate.layers) == 1:
        return name, title
    return f"{name}-layer-{printed(plate.layers.index(layer))}", f"{title}, {layer.name}"


def _pattern(plate: PlateFile, wheel: Wheel, layer: Layer, served: Served, names: tuple[str, str]) -> Pattern:
    """The pattern of a layer.

    Args:
        plate: with the layer.
        wheel: whose plates they are.
        layer: that is drilled.
        served: the sets and plates that take it; the first has its holes.
        names: of its files, and in words.
    """
    lead_mm, trail_mm, left_mm, right_mm = rim_edges_mm(plate, wheel)
    corners = table_places(plate, layer, wheel, np.array([[lead_mm, left_mm], [trail_mm, right_mm]]))
    plate_set, (first, *_) = served[0]
    plates = tuple(sorted({number for _, each in served for number in each}))
    return Pattern(
        name=names[0],
        title=names[1],
        layer=layer,
        plates=plates,
        face=plate.sheet.face,
        holes=_holes(plate, wheel.of_set(plate_set), layer, first),
        outline=rounded_outline(corners, plate.sheet.corner_radius_mm),
        marks=plate_marks(plate, wheel, layer, plates, lambda rim: table_places(plate, layer, wheel, rim)),
        sets=tuple((each, numbers) for each, numbers in served if each is not None),
    )


def served_words(pattern: Pattern) -> str:
    """The plates that take a pattern: `plates 1 and 2`; where sets differ, `plate 1 of set 1 and plate 2 of set 2`."""
    named = [(f" of set {printed(number)}", plates) for number, plates in pattern.sets] or [("", pattern.plates)]
    return " and ".join(
        f"{'plate' if len(plates) == 1 else 'plates'} {listed([str(printed(each)) for each in plates])}{of_set}"
        for of_set, plates in named
    )


def _holes(plate: PlateFile, wheel: Wheel, layer: Layer, number: int) -> PatternHoles:
    """Every hole of a layer of one plate: fixing holes, then pin holes by channel, place and row."""
    rows = [_fixing_row(*hole) for hole in fixing_holes(plate, layer)]
    rows += _pin_rows(wheel, layer, number) if layer.pin_holes else []
    kind, channel, row, index, fixing, along_mm, across_mm, diameter_mm = zip(*rows, strict=True) if rows else [()] * 8
    rim_mm = np.array([along_mm, across_mm], dtype=np.float64).T
    places = table_places(plate, layer, wheel, rim_mm)
    of_fixing = [fixing_tool(plate.tools, each).number for each in plate.fixings]
    of_pins = nearest_tool(plate.tools, layer.hole_diameter_mm).number
    return PatternHoles(
        kind=frozen_ints(kind),
        tool=frozen_ints([of_pins if number < 0 else of_fixing[number] for number in fixing]),
        diameter_mm=frozen_floats(diameter_mm),
        channel=frozen_ints(channel),
        row=frozen_ints(row),
        index=frozen_ints(index),
        fixing=frozen_ints(fixing),
        x_mm=frozen_floats(places[:, 0]),
        y_mm=frozen_floats(places[:, 1]),
        along_mm=frozen_floats(along_mm),
        across_mm=frozen_floats(across_mm),
    )


_Row = tuple[int, int, int, int, int, float, float, float]


def fixing_holes(plate: PlateFile, layer: Layer) -> list[tuple[int, Fixing, float]]:
    """Fixing holes of a layer: number of the fixing, the fixing, place along the rim; a slot is a chain of them."""
    holes: list[tuple[int, Fixing, float]] = []
    for number, fixing in enumerate(plate.fixings):
        if fixing.layers and layer.name not in fixing.layers:
            continue
        offsets_mm = hole_offsets_mm(fixing, fixing_tool(plate.tools, fixing))
        holes += [(number, fixing, fixing.along_mm + offset_mm) for offset_mm in offsets_mm]
    return holes


def _fixing_row(number: int, fixing: Fixing, along_mm: float) -> _Row:
    return int(fixing.kind), -1, -1, -1, number, along_mm, fixing.across_mm, fixing.diameter_mm


def _pin_rows(wheel: Wheel, layer: Layer, number: int) -> list[_Row]:
    rows: list[_Row] = []
    for channel, line in enumerate(hole_grid(wheel).lines):
        live = (line.plate == number) & (line.loss == Loss.NONE)
        for row, index in zip(line.row[live].tolist(), line.index[live].tolist(), strict=True):
            along_mm, across_mm = along_plate_mm(wheel, row, index), across_rim_mm(wheel, channel, row)
            rows.append((int(HoleKind.PIN), channel, row, index, -1, along_mm, across_mm, layer.hole_diameter_mm))
    return rows


def plate_angles_deg(holes: PatternHoles, wheel: Wheel) -> Floats:
    """Angle of every hole round the shaft from step 1 of its plate, shape (h,)."""
    return frozen_floats(holes.along_mm * (360 / wheel.geometry.circumference_mm))


def plate_start_deg(wheel: Wheel, number: int) -> float:
    """Angle round the shaft from step 1 of the turn to step 1 of a plate."""
    return 360.0 * number / wheel.plate_count


def live_counts(pattern: Pattern) -> tuple[int, int]:
    """Pin holes and fixing holes of a pattern."""
    kinds: Ints = pattern.holes.kind
    pins = int(np.count_nonzero(kinds == HoleKind.PIN))
    return pins, len(kinds) - pins
