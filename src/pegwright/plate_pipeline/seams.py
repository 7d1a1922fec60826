"""Puts the stages of `pegwright seam` in order: measured plates, their best places, how audible what is left is."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from pegwright.config.measured_file import load_measured
from pegwright.config.plate_file import load_plate
from pegwright.errors import UsageError
from pegwright.facts import speed_at
from pegwright.making import Holding
from pegwright.placement import PinMap
from pegwright.plate.climate import Growth, growths
from pegwright.plate.measured import seam_problem
from pegwright.plate.placing import PlacedPlates, place_plates, shims_missing_mm
from pegwright.tell.audible import LONGEST_IOI_MS
from pegwright.units import printed


def placed_plates(plate_path: Path, measured_path: Path) -> tuple[PlacedPlates, tuple[Growth, ...]]:
    """The plates of a file of measured plates, placed in the best way, and how they grow in heat and damp.

    Raises:
        UsageError: a file cannot be read, the plate file does not say how plates are held, or the shims are too few.
        ConfigError: a file has faults; all of them.
    """
    plate, wheel = load_plate(plate_path)
    if plate.held is None:
        hint = 'add [held] with how = "dowelled" or "butted" (docs/seams-and-tolerances.md)'
        raise UsageError("does not say how plates are held along the rim", where=str(plate_path), hint=hint)
    measured, row = load_measured(measured_path, plate, wheel)
    wheel = wheel.of_set(measured.set_number - 1)
    problem = seam_problem(measured, row, plate, wheel)
    missing_mm = shims_missing_mm(problem) if plate.held.how is Holding.BUTTED else 0.0
    if missing_mm > 0:
        owned_mm = sum(shim.count * shim.thickness_mm for shim in plate.held.shims)
        message = f"shims too few: those of [held] are {owned_mm:.2f} mm in all, {missing_mm:.2f} mm less than"
        message += " the seams need, at most three in each"
        raise UsageError(message, where=str(plate_path), hint="add a [[held.shim]], thicker ones or more")
    layer = next((each for each in plate.layers if each.pin_holes), plate.layers[0])
    plate_mm = wheel.plate_mm - wheel.geometry.trail_edge_mm + wheel.geometry.lead_edge_mm
    grown = growths(plate.held, layer, plate_mm, plate.sheet.reference_c)
    return place_plates(measured, row, plate, wheel), grown


def step_intervals_ms(placed: PlacedPlates, tempos: Sequence[float]) -> tuple[tuple[float, ...], ...]:
    """The time between the notes on both sides of each seam where no song is given, a step, at each tempo."""
    return tuple((speed_at(placed.wheel, tempo).step_ms,) * len(placed.seams) for tempo in tempos)


def song_intervals_ms(
    placed: PlacedPlates, maps: Sequence[PinMap], tempos: Sequence[float]
) -> tuple[tuple[float, ...], ...]:
    """The least time between the notes on both sides of each seam in any turn of a song, at each tempo.

    Args:
        placed: the plates.
        maps: of the song's turns.
        tempos: in quarter notes a minute.
    """
    wheel = placed.wheel
    turn = float(wheel.turn_steps)
    least = [turn] * wheel.plate_count
    for pins in maps:
        holes = zip(pins.row.tolist(), pins.index.tolist(), strict=True)
        steps = np.array([float(wheel.rows[row].position_steps(index)) for row, index in holes])
        places = pins.plate * wheel.steps_per_plate + steps
        for after in range(wheel.plate_count):
            edge = (after + 1) * wheel.steps_per_plate
            beyond, before = (places - edge) % turn, (edge - places) % turn
            if len(places):
                before = np.where(before == 0, turn, before)
                least[after] = min(least[after], float(beyond.min() + before.min()))
    return tuple(
        tuple(min(LONGEST_IOI_MS, steps * speed_at(wheel, tempo).step_ms) for steps in least) for tempo in tempos
    )


def seam_file(placed: PlacedPlates) -> bytes:
    """The seam file of the plan, for `pegwright hear --seams`.

    Raises:
        UsageError: there is no plan, or an error is more than a seam file may have.
    """
    if not placed.closed:
        raise UsageError("the plates do not close the turn, so there is no seam file", hint="trim them first")
    bound_mm = int(placed.wheel.step_mm * 50) / 100
    for seam in placed.seams:
        if abs(seam.error_mm) > bound_mm:
            what = f"the error of the seam after plate {printed(seam.after)}, {seam.error_mm:+.2f} mm"
            raise UsageError(
                f"{what}, is more than half a step, {bound_mm:.2f} mm",
                hint="pack, shift or trim those plates, measure again, or leave out -o",
            )
    measured = placed.measured
    lines = [
        "# Seam errors of plates as they were placed by `pegwright seam`, for `pegwright hear --seams`.",
        f"set = {measured.set_number}",
        f"order = [{', '.join(map(str, measured.order))}]",
    ]
    for seam in placed.seams:
        lines += ["", "[[seam]]", f"after_plate = {printed(seam.after)}", f"error_mm = {seam.error_mm:.2f}"]
    return ("\n".join(lines) + "\n").encode()
