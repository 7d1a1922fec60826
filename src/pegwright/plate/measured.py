"""Plates as they were measured on a wheel, and the problem of placing them, in whole hundredths of a mm.

The arc error a of a plate is by how much the way from its first hole to its last is longer than the pitch asks for. A
plate on its dowels at share q of that way has its first hole q a early and its last (1 - q) a late. All plates and the
ways across all seams together are the turn, so that the interval errors add up to less the sum of all arc errors.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from pegwright.frozen import frozen
from pegwright.grid import Loss, along_plate_mm, hole_grid
from pegwright.making import Holding, HoleKind, PlateFile
from pegwright.plate.seams import SeamProblem, ShimKind
from pegwright.wheel import Wheel

PER_MM = 100  # the parts of a mm in which seams are planned


@frozen()
class MeasuredPlate:
    """One plate, in mm along the rim.

    Args:
        arc_mm: from its first hole to its last.
        lead_mm: from its leading cut edge to its first hole.
        trail_mm: from its last hole to its trailing cut edge.
    """

    arc_mm: float
    lead_mm: float
    trail_mm: float


@frozen()
class Measured:
    """What was measured of the plates of a set, by their places on the rim.

    Args:
        set_number: of the set, from 1.
        order: number of the plate that stands at each place, from 1.
        plates: of each place; as the wheel file says where gaps were measured.
        gaps_mm: between the cut edges of each plate and the next as they are mounted; empty where plates were measured.
    """

    set_number: int
    order: tuple[int, ...]
    plates: tuple[MeasuredPlate, ...]
    gaps_mm: tuple[float, ...] = ()


def row_ends_mm(wheel: Wheel, row: int) -> tuple[float, float] | None:
    """Where the first and the last hole of a row lie along every plate that has not lost them; None without a hole."""
    index = np.concatenate(
        [line.index[(line.row == row) & (line.loss == Loss.NONE)] for line in hole_grid(wheel).lines]
    )
    if not len(index):
        return None
    return along_plate_mm(wheel, row, int(index.min())), along_plate_mm(wheel, row, int(index.max()))


def nominal_plate(wheel: Wheel, row: int) -> MeasuredPlate:
    """A plate as the wheel file has it, by a row that has holes."""
    ends = row_ends_mm(wheel, row)
    if ends is None:
        raise ValueError("a row without holes")
    first_mm, last_mm = ends
    trail_mm = wheel.plate_mm - wheel.geometry.trail_edge_mm - last_mm
    return MeasuredPlate(last_mm - first_mm, wheel.geometry.lead_edge_mm + first_mm, trail_mm)


def seam_problem(measured: Measured, row: int, plate: PlateFile, wheel: Wheel) -> SeamProblem:
    """The problem of placing the plates, from the datum plate on.

    Args:
        measured: the plates, or the gaps.
        row: by whose holes they were measured.
        plate: the plate file, which says how they are held.
        wheel: that it names.

    Raises:
        ValueError: the plate file does not say how they are held.
    """
    held = plate.held
    if held is None:
        raise ValueError("a plate file without [held]")
    nominal = nominal_plate(wheel, row)
    across_mm = wheel.plate_mm - nominal.arc_mm
    touching = [
        _parts(before.trail_mm + after.lead_mm - across_mm)
        for before, after in pairwise((*measured.plates, measured.plates[0]))
    ]
    if measured.gaps_mm:
        at_rest = [error + _parts(gap_mm) for error, gap_mm in zip(touching, measured.gaps_mm, strict=True)]
        arcs = _shared_out(-sum(at_rest), len(at_rest))
    else:
        arcs = [_parts(each.arc_mm - nominal.arc_mm) for each in measured.plates]
        early = [round(_dowel_share(plate, wheel, row) * error) for error in arcs]
        at_rest = [early[n] - arcs[n] - early[(n + 1) % len(arcs)] for n in range(len(arcs))]
    from_datum = [[*each[held.datum :], *each[: held.datum]] for each in (arcs, touching, at_rest)]
    dowelled = held.how is Holding.DOWELLED
    return SeamProblem(
        arc_errors=tuple(from_datum[0]),
        touching=tuple(from_datum[1]),
        at_rest=tuple(from_datum[2]) if dowelled else (),
        clearance=int(held.clearance_mm * PER_MM + 1e-9),
        shims=tuple(ShimKind(_parts(shim.thickness_mm), shim.count) for shim in held.shims),
    )


def _parts(length_mm: float) -> int:
    return round(length_mm * PER_MM)


def _shared_out(total: int, count: int) -> list[int]:
    """Whole numbers as equal as they can be that add up to `total`."""
    return [total * (n + 1) // count - total * n // count for n in range(count)]


def _dowel_share(plate: PlateFile, wheel: Wheel, row: int) -> float:
    """Where the first dowel is, as a share of the way from the first hole to the last; the middle without one."""
    dowels = [each.along_mm for each in plate.fixings if each.kind is HoleKind.DOWEL]
    ends = row_ends_mm(wheel, row)
    if not dowels or ends is None or ends[0] == ends[1]:
        return 0.5
    return (dowels[0] - ends[0]) / (ends[1] - ends[0])
