"""Drill jigs: the holes of one channel with holes to locate it by, for those who drill by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pegwright.columns import Ints, frozen_floats, frozen_ints
from pegwright.making import HoleKind, Layer, Marks, MarkText, Pattern, PatternHoles, PlateFile
from pegwright.plate.pattern import rounded_outline, table_places
from pegwright.plate.tools import nearest_tool
from pegwright.units import listed
from pegwright.wheel import Wheel

JIG_USE = (
    "The jig lies on the sheet with the same face up, step 1 over step 1. Drill the first channel with the jig clamped"
    " so that its step 1 is over that of the plate and its holes run square to the end; then move it on by a channel:"
    " pins through its two locating holes go into the nearest holes of the channel before.",
    "It has every hole that some channel has: holes that plate.txt calls lost stay undrilled.",
    "For many plates, put hardened bushes into it; a jig of soft sheet wears.",
)
END_MM = 12.0  # of the jig beyond its outermost holes
SIDE_MM = 8.0
_TEXT_MM = 3.0


def jigs(plate: PlateFile, wheel: Wheel, patterns: Sequence[Pattern]) -> tuple[Pattern, ...]:
    """A jig for every set of rows that channels have, for each layer with pin holes.

    It lies on the sheet with the same face up; its locating holes are those of the nearest holes of the channel before,
    into which pins go through jig and sheet. It has every hole that some channel on some plate has.

    Args:
        plate: the plate file.
        wheel: that it names.
        patterns: of the plates.
    """
    jigs_made = []
    sets = list(dict.fromkeys(channel.rows for channel in wheel.channels))
    for layer in plate.layers:
        of_layer = [pattern for pattern in patterns if pattern.layer.name == layer.name]
        if not layer.pin_holes:
            continue
        number = f"-layer-{plate.layers.index(layer) + 1}" if len(plate.layers) > 1 else ""
        for rows in sets:
            title = f"jig for rows {listed(rows)}" if len(rows) > 1 else f"jig for row {rows[0]}"
            name = f"jig{number}-{sets.index(rows) + 1}" if len(sets) > 1 else f"jig{number}"
            jig = _jig(plate, wheel, layer, of_layer, rows)
            jigs_made.append(replace(jig, name=name, title=f"{title}, {layer.name}" if number else title))
    return tuple(jigs_made)


def _jig(plate: PlateFile, wheel: Wheel, layer: Layer, patterns: Sequence[Pattern], rows: tuple[str, ...]) -> Pattern:
    """A jig for one set of rows.

    Args:
        plate: the plate file.
        wheel: that it names.
        layer: to be drilled.
        patterns: of the layer.
        rows: names of those that the channels have.
    """
    channels = [number for number, channel in enumerate(wheel.channels) if channel.rows == rows]
    places = {
        (int(row), int(index)): (float(along), float(across) - channel * wheel.geometry.channel_pitch_mm)
        for pattern in patterns
        for channel, row, index, along, across in _pin_rows(pattern.holes, channels)
    }
    keys = sorted(places, key=lambda key: (places[key], key))
    located = _locating(wheel, keys, places, rows)
    pitch_mm = wheel.geometry.channel_pitch_mm
    rim = [places[key] for key in keys]
    before = [(places[key][0], places[key][1] - pitch_mm) for key in located]
    every = np.array([*before, *rim])
    ends = np.array([every.min(axis=0), every.max(axis=0)]) + np.array([[-END_MM, -SIDE_MM], [END_MM, SIDE_MM]])
    corners = table_places(plate, layer, wheel, ends)
    words_at = table_places(plate, layer, wheel, np.array([[(ends[0][0] + ends[1][0]) / 2, -pitch_mm]]))[0]
    words = MarkText("JIG", float(words_at[0]), float(words_at[1]), min(_TEXT_MM, pitch_mm / 3))
    return Pattern(
        name="jig",
        title="jig",
        layer=layer,
        plates=tuple(range(wheel.plate_count)),
        face=plate.sheet.face,
        holes=_holes(plate, wheel, layer, every, channels[0], keys),
        outline=rounded_outline(corners, 0.0),
        marks=Marks((), (words,)),
    )


def _pin_rows(holes: PatternHoles, channels: Sequence[int]) -> zip[tuple[float, ...]]:
    chosen: Ints = np.flatnonzero(np.isin(holes.channel, channels) & (holes.kind == HoleKind.PIN))
    columns = (holes.channel, holes.row, holes.index, holes.along_mm, holes.across_mm)
    return zip(*(column[chosen].tolist() for column in columns), strict=True)


def _locating(
    wheel: Wheel,
    keys: Sequence[tuple[int, int]],
    places: dict[tuple[int, int], tuple[float, float]],
    rows: tuple[str, ...],
) -> list[tuple[int, int]]:
    """The first and the last hole of a row that every channel has; of the jig's own rows where there is none.

    Args:
        wheel: its channels and rows.
        keys: row and index of every hole of the jig, along it.
        places: of each.
        rows: names of those that the jig is for.
    """
    common = set(rows).intersection(*(channel.rows for channel in wheel.channels)) or set(rows)
    chosen = [key for key in keys if wheel.rows[key[0]].name in common]
    if not chosen:
        return []
    first = chosen[0]
    last = max((key for key in chosen if key[0] == first[0]), key=lambda key: places[key])
    return [first, last] if first != last else [first]


def _holes(
    plate: PlateFile,
    wheel: Wheel,
    layer: Layer,
    rim_mm: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    channel: int,
    keys: Sequence[tuple[int, int]],
) -> PatternHoles:
    """The holes of a jig, those to locate it by first.

    Args:
        plate: gives the tools.
        wheel: whose rim it is.
        layer: to be drilled.
        rim_mm: along and across the rim, shape (h, 2).
        channel: whose holes they are called.
        keys: row and index of the others.
    """
    places = table_places(plate, layer, wheel, rim_mm)
    count, diameter_mm = len(rim_mm), layer.hole_diameter_mm
    tool = nearest_tool(plate.tools, diameter_mm).number
    located = count - len(keys)
    none = [-1] * located
    return PatternHoles(
        kind=frozen_ints([int(HoleKind.DOWEL)] * located + [int(HoleKind.PIN)] * len(keys)),
        tool=frozen_ints([tool] * count),
        diameter_mm=frozen_floats([diameter_mm] * count),
        channel=frozen_ints(none + [channel] * len(keys)),
        row=frozen_ints(none + [row for row, _ in keys]),
        index=frozen_ints(none + [index for _, index in keys]),
        fixing=frozen_ints([-1] * count),
        x_mm=frozen_floats(places[:, 0]),
        y_mm=frozen_floats(places[:, 1]),
        along_mm=frozen_floats(rim_mm[:, 0]),
        across_mm=frozen_floats(rim_mm[:, 1]),
    )
