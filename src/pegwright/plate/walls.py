"""How much of a sheet is left between holes, to its edges and round the heads of fixings, where that is least.

A bent sheet is longer at its outer face and shorter at its inner one, and its holes are wider or narrower there, so
that every wall is taken on the flat sheet, on the outer and on the inner face, and the least of the three counts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats
from pegwright.grid import LENGTH_SLACK_MM
from pegwright.making import Fixing, HoleKind, Layer, Pattern, PlateFile
from pegwright.plate.bend import KIRSCH, flat_ratio, inner_strain, outer_strain
from pegwright.plate.pattern import rim_edges_mm
from pegwright.units import printed
from pegwright.wheel import Wheel, step_name

FLAT, OUTER, INNER = "flat", "outer face", "inner face"
_NEIGHBOURS = 7  # nearest holes among which the one with the least wall is looked for


class Wall(NamedTuple):
    """What is left between two things, where it is least.

    Args:
        kind: what it is between, in words.
        first, second: the two.
        wall_mm: what is left; below 0 where they run into each other.
        bound_mm: the minimum.
        face: on which it is so.
        layer: name of the layer.
        below_count: pairs of the kind that are below the bound.
    """

    kind: str
    first: str
    second: str
    wall_mm: float
    bound_mm: float
    face: str
    layer: str
    below_count: int

    @property
    def is_kept(self) -> bool:
        """Whether the bound is met."""
        return self.wall_mm >= self.bound_mm - LENGTH_SLACK_MM


class _FaceOf(NamedTuple):
    """A face: its name, length along it over length along the rim, and how much wider its holes are along it."""

    name: str
    along: float
    wider: float


def faces(layer: Layer, rim_radius_mm: float) -> tuple[_FaceOf, ...]:
    """The flat sheet and both faces of a bent layer, with the widening that leaves the least wall on each."""
    return (
        _FaceOf(FLAT, flat_ratio(layer, rim_radius_mm), 1.0),
        _FaceOf(OUTER, layer.radius_mm / rim_radius_mm, 1 + KIRSCH * outer_strain(layer)),
        _FaceOf(INNER, layer.inner_radius_mm / rim_radius_mm, 1 - inner_strain(layer)),
    )


class PatternWalls:
    """The walls of one pattern.

    Args:
        plate: the plate file.
        wheel: whose plate it is.
        pattern: of one layer.
    """

    def __init__(self, plate: PlateFile, wheel: Wheel, pattern: Pattern) -> None:
        self.plate, self.wheel, self.pattern, self.layer = plate, wheel, pattern, pattern.layer
        self.faces = faces(self.layer, wheel.geometry.radius_mm)
        self.edge_bound_mm = wheel.geometry.min_wall_mm
        own_mm = plate.sheet.hole_wall_mm
        self.hole_bound_mm = self.edge_bound_mm if own_mm is None else own_mm
        holes = pattern.holes
        self._pins = np.flatnonzero(holes.kind == HoleKind.PIN)
        self._rim_mm = np.stack([holes.along_mm[self._pins], holes.across_mm[self._pins]], axis=1)
        self._bodies = list(_fixing_bodies(plate, self.layer))

    def all(self) -> Iterator[Wall]:
        """The least wall of every kind that the pattern has."""
        if len(self._pins) > 1:
            yield from self._between_pins()
        if len(self._pins):
            yield from self._pins_to_edges()
        for number, body in enumerate(self._bodies):
            yield from self._fixing(body, self._bodies[number + 1 :])

    def _between_pins(self) -> Iterator[Wall]:
        from scipy.spatial import cKDTree  # noqa: PLC0415  # where plates are made alone

        count = min(_NEIGHBOURS, len(self._pins))
        second: Ints = np.array(cKDTree(self._rim_mm).query(self._rim_mm, k=count)[1], dtype=np.int64).ravel()
        first = np.repeat(np.arange(len(self._pins)), count)
        first, second = first[first != second], second[first != second]
        apart_mm = self._rim_mm[second] - self._rim_mm[first]
        radius_mm = np.full(len(first), self.layer.hole_diameter_mm / 2)
        wall_mm, face = self._least(apart_mm, radius_mm, radius_mm)
        at = int(np.argmin(wall_mm.round(6)))
        below = wall_mm < self.hole_bound_mm - LENGTH_SLACK_MM
        pairs = {(min(pair), max(pair)) for pair in zip(first[below].tolist(), second[below].tolist(), strict=True)}
        names = (self._pin_name(int(first[at])), self._pin_name(int(second[at])))
        yield self._wall("pin hole to pin hole", names, float(wall_mm[at]), self.hole_bound_mm, face[at], len(pairs))

    def _pins_to_edges(self) -> Iterator[Wall]:
        for edge, axis, sign, place_mm in _edges(self.plate, self.wheel):
            beyond_mm = sign * (self._rim_mm[:, axis] - place_mm)
            wall_mm, face = self._to_edge(beyond_mm, self.layer.hole_diameter_mm / 2, axis)
            at = int(np.argmin(wall_mm.round(6)))
            below = int(np.count_nonzero(wall_mm < self.edge_bound_mm - LENGTH_SLACK_MM))
            names = (self._pin_name(at), edge)
            yield self._wall("pin hole to edge", names, float(wall_mm[at]), self.edge_bound_mm, face[at], below)

    def _fixing(self, body: _Body, later: Sequence[_Body]) -> Iterator[Wall]:
        """Walls of one fixing hole: to the edges, to pin holes, to later fixing holes, of its head to pins."""
        for edge, axis, sign, place_mm in _edges(self.plate, self.wheel):
            beyond_mm = sign * (body.middle_mm[axis] - place_mm) - (0.0 if axis else body.half_mm)
            wall_mm, face = self._to_edge(np.array([beyond_mm]), body.diameter_mm / 2, axis)
            yield self._one("fixing hole to edge", (body.name, edge), float(wall_mm[0]), self.edge_bound_mm, face[0])
        if len(self._pins):
            best = self._nearest(body, self._rim_mm, self.layer.hole_diameter_mm / 2)
            names = (body.name, self._pin_name(best[2]))
            yield self._one("fixing hole to pin hole", names, best[0], self.hole_bound_mm, best[1])
        for other in later:
            best = self._nearest(body, other.middle_mm[None], other.diameter_mm / 2, other.half_mm)
            yield self._one("fixing hole to fixing hole", (body.name, other.name), best[0], self.hole_bound_mm, best[1])
        if self.layer == self.plate.layers[0] and len(self._pins):
            yield self._head_to_pins(body)

    def _nearest(
        self, body: _Body, others_mm: Floats, radius_mm: float, half_mm: float = 0.0
    ) -> tuple[float, str, int]:
        """The least wall of a fixing hole to others.

        Args:
            body: the fixing hole.
            others_mm: shape (n, 2), the middles of the others on the rim.
            radius_mm: of the others.
            half_mm: how far the ends of the others are from their middles along the plate.

        Returns:
            its length, the face, and the number of the other.
        """
        apart_mm = _from_slot(others_mm - body.middle_mm, body.half_mm + half_mm)
        own_mm, other_mm = (np.full(len(others_mm), each) for each in (body.diameter_mm / 2, radius_mm))
        wall_mm, face = self._least(apart_mm, own_mm, other_mm)
        at = int(np.argmin(wall_mm.round(6)))
        return float(wall_mm[at]), face[at], at

    def _head_to_pins(self, body: _Body) -> Wall:
        """From a fixing's head to the nearest pin's collar on the rim, on this plate or across a seam."""
        geometry = self.wheel.geometry
        collar_mm = max(abs(pin_type.collar_mm) for pin_type in self.wheel.pin_types)
        plate_mm = self.wheel.plate_mm
        wide_mm = (max(body.head_mm, body.diameter_mm) + geometry.pin_diameter_mm) / 2
        best = (math.inf, 0, "")
        for shift_mm, where in ((0.0, ""), (-plate_mm, " of the plate before"), (plate_mm, " of the plate after")):
            apart_mm = _from_slot(self._rim_mm + np.array([shift_mm, 0.0]) - body.middle_mm, body.half_mm + collar_mm)
            clear_mm = np.hypot(apart_mm[:, 0], apart_mm[:, 1]) - wide_mm
            at = int(np.argmin(clear_mm.round(6)))
            if clear_mm[at] < best[0]:
                best = (float(clear_mm[at]), at, where)
        names = (f"head of {body.name}" if body.head_mm else body.name, f"a pin in {self._pin_name(best[1])}{best[2]}")
        return self._one("fixing to pin", names, best[0], geometry.pin_clearance_mm, OUTER)

    def _least(self, apart_mm: Floats, radius_mm: Floats, other_mm: Floats) -> tuple[Floats, list[str]]:
        """The least wall over all faces of pairs of holes, and on which face it is.

        Args:
            apart_mm: shape (n, 2), from one middle to the other, on the rim.
            radius_mm: shape (n,), of the first hole as it is drilled.
            other_mm: of the second.
        """
        walls = []
        for face in self.faces:
            along_mm, across_mm = face.along * apart_mm[:, 0], apart_mm[:, 1]
            length_mm = np.hypot(along_mm, across_mm)
            with np.errstate(invalid="ignore", divide="ignore"):
                cosine, sine = along_mm / length_mm, across_mm / length_mm
                reach = face.wider / np.hypot(cosine, face.wider * sine)  # of an ellipse, in that direction
            reach = np.where(length_mm > 0, reach, 1.0)
            walls.append(length_mm - reach * (radius_mm + other_mm))
        return self._of_faces(walls)

    def _to_edge(self, beyond_mm: Floats, radius_mm: float, axis: int) -> tuple[Floats, list[str]]:
        """The least wall to an edge, along the plate if `axis` is 0, of holes with their middles `beyond_mm` inside."""
        if axis:
            return self._of_faces([beyond_mm - radius_mm] * len(self.faces))
        return self._of_faces([face.along * beyond_mm - face.wider * radius_mm for face in self.faces])

    def _of_faces(self, walls: Sequence[Floats]) -> tuple[Floats, list[str]]:
        stacked = np.stack(walls)
        least: Ints = np.argmin(stacked.round(9), axis=0)
        return stacked.min(axis=0), [self.faces[number].name for number in least.tolist()]

    def _pin_name(self, number: int) -> str:
        holes, at = self.pattern.holes, int(self._pins[number])
        row = self.wheel.rows[holes.row[at]]
        channel = int(holes.channel[at])
        place = f"step {step_name(row, int(holes.index[at]))} row {row.name}"
        return f"channel {printed(channel)} {self.wheel.channels[channel].name} {place}"

    def _one(self, kind: str, names: tuple[str, str], wall_mm: float, bound_mm: float, face: str) -> Wall:
        return self._wall(kind, names, wall_mm, bound_mm, face, int(wall_mm < bound_mm - LENGTH_SLACK_MM))

    def _wall(
        self, kind: str, names: tuple[str, str], wall_mm: float, bound_mm: float, face: str, below_count: int
    ) -> Wall:
        return Wall(kind, *names, wall_mm, bound_mm, face, self.layer.name, below_count)


class _Body(NamedTuple):
    """A fixing hole: its middle on the rim, and how far the middles of a slot's rounded ends are from it."""

    name: str
    middle_mm: Floats
    half_mm: float
    diameter_mm: float
    head_mm: float


def _from_slot(apart_mm: Floats, half_mm: float) -> Floats:
    """From the nearest point of a line along the plate, `half_mm` to either side, to places; shape (n, 2) both."""
    nearer_mm = apart_mm.copy()
    nearer_mm[:, 0] -= np.clip(apart_mm[:, 0], -half_mm, half_mm)
    return nearer_mm


def fixing_name(fixing: Fixing, number: int) -> str:
    """A fixing hole in a sentence: `fixing 2, a dowel hole`; the number given counts from 0."""
    noun = fixing.kind.word if fixing.kind is HoleKind.SLOT else f"{fixing.kind.word} hole"
    return f"fixing {printed(number)}, a {noun}"


def _fixing_bodies(plate: PlateFile, layer: Layer) -> Iterator[_Body]:
    for number, fixing in enumerate(plate.fixings):
        if not fixing.layers or layer.name in fixing.layers:
            half_mm = (fixing.slot_mm - fixing.diameter_mm) / 2 if fixing.kind is HoleKind.SLOT else 0.0
            middle_mm = frozen_floats([fixing.along_mm, fixing.across_mm])
            yield _Body(fixing_name(fixing, number), middle_mm, half_mm, fixing.diameter_mm, fixing.head_mm)


def _edges(plate: PlateFile, wheel: Wheel) -> tuple[tuple[str, int, int, float], ...]:
    """The edges of a plate: name, axis (0 along, 1 across), sign of the way inwards, place on the rim."""
    lead_mm, trail_mm, left_mm, right_mm = rim_edges_mm(plate, wheel)
    return (
        ("the leading edge", 0, 1, lead_mm),
        ("the trailing edge", 0, -1, trail_mm),
        ("the side edge beyond the first channel", 1, 1, left_mm),
        ("the side edge beyond the last channel", 1, -1, right_mm),
    )
