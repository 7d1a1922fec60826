"""Measured plates placed on the rim: what to do at each seam, and what it comes to in mm."""

from __future__ import annotations

from dataclasses import replace

from pegwright.frozen import frozen
from pegwright.making import Held, Holding, PlateFile
from pegwright.plate.measured import PER_MM, Measured, seam_problem
from pegwright.plate.seams import MAX_SHIMS_PER_SEAM, SeamPlan, SeamProblem, plan_seams
from pegwright.wheel import Wheel

MIN_TRIM = 5  # hundredths of a mm: common practice, no source, for what is worth cutting off an edge


@frozen()
class Seam:
    """The seam after a plate.

    Args:
        after: 0-based place of the plate before it.
        error_mm: how much longer the way across it is than the inside pitch asks for.
        gap_mm: between the cut edges, with shims in it.
        shims_mm: that go into it, thickest first.
        trim_mm: to be cut off at its two edges together; 0 where nothing is.
        closes: whether it is the last before the datum plate, which is not packed.
    """

    after: int
    error_mm: float
    gap_mm: float
    shims_mm: tuple[float, ...]
    trim_mm: float
    closes: bool


@frozen()
class PlacedPlate:
    """A plate on the rim.

    Args:
        place: 0-based.
        displacement_mm: of its middle, later being positive; the greatest early and late ones are alike.
        shift_mm: by which it is moved from where it was measured; 0 for butted plates.
    """

    place: int
    displacement_mm: float
    shift_mm: float


@frozen()
class PlacedPlates:
    """The plates of a set on the rim.

    Args:
        measured: what was measured.
        held: how they are held.
        wheel: that they are on.
        seams: by place; errors and gaps are those of plates that touch where `closed` is false.
        plates: by place; empty where `closed` is false.
        total_mm: the sum of all interval errors, which no placing changes.
        closed: whether the plates go on the rim without being trimmed.
        row: by whose holes they were measured.
    """

    measured: Measured
    held: Held
    wheel: Wheel
    seams: tuple[Seam, ...]
    plates: tuple[PlacedPlate, ...]
    total_mm: float
    closed: bool
    row: int

    @property
    def over_mm(self) -> float:
        """By how much the plates are longer than the rim; 0 where they are not."""
        return max(0.0, -sum(seam.gap_mm for seam in self.seams)) if not self.closed else 0.0


def place_plates(measured: Measured, row: int, plate: PlateFile, wheel: Wheel) -> PlacedPlates:
    """Place measured plates in the best way.

    Args:
        measured: the plates, or the gaps between them.
        row: by whose holes they were measured.
        plate: the plate file, which says how they are held.
        wheel: that it names.

    Raises:
        ValueError: the plate file does not say how they are held.
    """
    problem = seam_problem(measured, row, plate, wheel)
    if plate.held is None:
        raise ValueError("a plate file without [held]")
    plan = plan_seams(problem)
    seams, plates = _seams(problem, plan, plate.held), _plates(plan, plate.held) if plan else ()
    return PlacedPlates(measured, plate.held, wheel, seams, plates, problem.total / PER_MM, plan is not None, row)


def shims_missing_mm(problem: SeamProblem) -> float:
    """How much thickness is wanting however the shims are shared out, each seam's nearest being taken; else 0."""
    seams = problem.plate_count - 1
    even = problem.total // problem.plate_count
    needed = sum(max(0, even - touching) for touching in problem.touching[:-1])
    owned = sorted(
        (kind.thickness for kind in problem.shims for _ in range(min(kind.count, MAX_SHIMS_PER_SEAM * seams))),
        reverse=True,
    )
    most = sum(owned[: MAX_SHIMS_PER_SEAM * seams])
    return max(0.0, needed - most - min(owned, default=0) / 2 * seams) / PER_MM


def _seams(problem: SeamProblem, plan: SeamPlan | None, held: Held) -> tuple[Seam, ...]:
    count = problem.plate_count
    even = problem.total // count  # what each interval error is where all are alike
    seams = []
    for seam, touching in enumerate(problem.touching):
        error = plan.errors[seam] if plan else touching
        trim = max(0, touching - even)
        if plan is not None and (held.how is Holding.DOWELLED or error > touching or trim < MIN_TRIM):
            trim = 0
        seams.append(
            Seam(
                after=(held.datum + seam) % count,
                error_mm=error / PER_MM,
                gap_mm=(error - touching) / PER_MM,
                shims_mm=tuple(each / PER_MM for each in plan.shims[seam]) if plan else (),
                trim_mm=trim / PER_MM,
                closes=seam == count - 1,
            )
        )
    if plan is None:  # the gap of the closing seam is what the others leave of the turn
        left = problem.total - sum(problem.touching)
        seams[-1] = replace(seams[-1], error_mm=(problem.touching[-1] + left) / PER_MM, gap_mm=left / PER_MM)
    return tuple(sorted(seams, key=lambda each: each.after))


def _plates(plan: SeamPlan, held: Held) -> tuple[PlacedPlate, ...]:
    doubled = plan.displacements_doubled
    middle = (max(doubled) + min(doubled)) / 2
    plates = [
        PlacedPlate((held.datum + number) % len(doubled), (each - middle) / 2 / PER_MM, shift / PER_MM)
        for number, (each, shift) in enumerate(zip(doubled, plan.shifts, strict=True))
    ]
    return tuple(sorted(plates, key=lambda each: each.place))
