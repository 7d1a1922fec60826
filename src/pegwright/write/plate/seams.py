"""Measured plates placed on the rim, as a page of plain text."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.facts import speed_at
from pegwright.frozen import frozen
from pegwright.making import Holding
from pegwright.plate.climate import Growth
from pegwright.plate.placing import PlacedPlates, Seam
from pegwright.tell.audible import Audibility, move_audibility
from pegwright.units import LengthUnit, length_text, listed, plural, printed
from pegwright.write.cautions import MAKE_LINE
from pegwright.write.tables import LINE_CELLS, Line, TextTable, one_line, paragraphs

_LOCKED = "Measure and pack with the wheel at rest, the drive off and locked: seams and levers are pinch points."


@frozen()
class Tempos:
    """Tempos at which lengths are times.

    Args:
        quarters_per_minute: each tempo.
        intervals_ms: for each tempo, the time between the notes on both sides of each seam, by place.
        of: what these times are, such as `a step`.
    """

    quarters_per_minute: tuple[float, ...]
    intervals_ms: tuple[tuple[float, ...], ...]
    of: str


def seam_verdicts(placed: PlacedPlates, tempos: Tempos) -> list[list[tuple[float, Audibility]]]:
    """For each tempo and seam, its interval error in ms and how audible that is."""
    errors_mm = np.array([seam.error_mm for seam in placed.seams])
    verdicts = []
    for tempo, intervals_ms in zip(tempos.quarters_per_minute, tempos.intervals_ms, strict=True):
        errors_ms = errors_mm * speed_at(placed.wheel, tempo).ms_per_mm
        levels = move_audibility(errors_ms, np.array(intervals_ms))
        verdicts.append(
            [(ms, Audibility(level)) for ms, level in zip(errors_ms.tolist(), levels.tolist(), strict=True)]
        )
    return verdicts


def seams_text(placed: PlacedPlates, tempos: Tempos, grown: Sequence[Growth] = (), width: int = LINE_CELLS) -> str:
    """What to do at every seam, and what is left.

    Args:
        placed: the plates.
        tempos: at which errors are times.
        grown: how plates grow in heat and damp.
        width: cells of a line.
    """
    if not placed.closed:
        return paragraphs([_title(placed), _trimming(placed), [MAKE_LINE, _LOCKED]], width)
    blocks = [_title(placed), _seams(placed, tempos), _plates(placed, tempos), _in_all(placed, tempos)]
    return paragraphs([*blocks, _left_to_trim(placed), _growth(placed, grown, tempos), [_LOCKED]], width)


def _title(placed: PlacedPlates) -> list[Line]:
    held, measured = placed.held, placed.measured
    how = "on dowels" if held.how is Holding.DOWELLED else "edge to edge"
    order = listed([str(plate) for plate in measured.order])
    lines: list[Line] = [f"Seams of {one_line(placed.wheel.name, LINE_CELLS)}, set {measured.set_number}, {how}"]
    lines.append(f"Places 1 to {len(measured.order)} have plates {order}; plate {printed(held.datum)} stays as it is.")
    return lines


def _figure(length_mm: float, unit: LengthUnit, sign: str = "") -> str:
    """A length without its unit, which stands in the head of the column; no negative zero."""
    return length_text(length_mm + 0.0, unit, 2, sign).partition(" ")[0]


def _seams(placed: PlacedPlates, tempos: Tempos) -> list[Line]:
    unit, butted = placed.wheel.unit, placed.held.how is Holding.BUTTED
    verdicts = seam_verdicts(placed, tempos)
    header = ["Seam", f"gap {unit}", f"error {unit}"]
    for tempo in tempos.quarters_per_minute:
        header += [f"ms at {tempo:g}", ""]
    header += [f"shims {unit}"] if butted else []
    rows = []
    for number, seam in enumerate(placed.seams):
        row = [_seam_name(placed, seam), _figure(seam.gap_mm, unit), _figure(seam.error_mm, unit, "+")]
        for of_tempo in verdicts:
            error_ms, level = of_tempo[number]
            row += [f"{round(error_ms, 1) + 0.0:+.1f}", level.words]
        rows.append([*row, _shims(seam, unit)] if butted else row)
    left = [number for number, name in enumerate(header) if not name]
    table = TextTable(header, rows, left=(0, *left, *([len(header) - 1] if butted else [])))
    judged = (
        f"Judged by the interval error, how much longer the way across a seam is than the pitch, beside {tempos.of}."
    )
    return [table, judged]


def _seam_name(placed: PlacedPlates, seam: Seam) -> str:
    after = seam.after
    return f"{printed(after)} to {printed((after + 1) % len(placed.seams))}"


def _shims(seam: Seam, unit: LengthUnit) -> str:
    if seam.closes:
        return "left open: it closes the turn"
    return " + ".join(_figure(each, unit) for each in seam.shims_mm) or "none"


def _plates(placed: PlacedPlates, tempos: Tempos) -> list[Line]:
    unit, dowelled = placed.wheel.unit, placed.held.how is Holding.DOWELLED
    speeds = [speed_at(placed.wheel, tempo) for tempo in tempos.quarters_per_minute]
    header = ["Place", *([f"shift {unit}"] if dowelled else []), f"displaced {unit}"]
    header += [f"ms at {speed.quarters_per_minute:g}" for speed in speeds]
    rows = [
        [
            str(printed(plate.place)),
            *([_figure(plate.shift_mm, unit, "+")] if dowelled else []),
            _figure(plate.displacement_mm, unit, "+"),
            *(f"{round(plate.displacement_mm * speed.ms_per_mm, 1) + 0.0:+.1f}" for speed in speeds),
        ]
        for plate in placed.plates
    ]
    words = "Later is +. A plate's displacement has no verdict, for all later notes share it"
    return [TextTable(header, rows), f"{words}{'; shift each plate from where it was measured' if dowelled else ''}."]


def _in_all(placed: PlacedPlates, tempos: Tempos) -> list[Line]:
    unit = placed.wheel.unit
    worst = max(placed.seams, key=lambda seam: abs(seam.error_mm))
    lines: list[Line] = []
    for tempo, of_tempo in zip(tempos.quarters_per_minute, seam_verdicts(placed, tempos), strict=True):
        level = max(level for _, level in of_tempo)
        greatest_ms = max(abs(error_ms) for error_ms, _ in of_tempo)
        lines.append(f"In all at {tempo:g} quarter notes a minute: {level.words}, at most {greatest_ms:.1f} ms.")
    total = length_text(placed.total_mm, unit, 2, "+")
    least = length_text(abs(placed.total_mm) / len(placed.seams), unit, 3)
    lines.append(
        f"Greatest interval error {length_text(abs(worst.error_mm), unit, 2)}, at {_seam_name(placed, worst)}."
        f" All together they are {total} whatever is done, so the greatest cannot be below {least}."
    )
    if placed.held.how is Holding.BUTTED:
        shims = [each for seam in placed.seams for each in seam.shims_mm]
        thick = length_text(sum(shims), unit, 2)
        lines.append(f"{plural(len(shims), 'shim')}, {thick} in all." if shims else "No shims.")
    return lines


def _trimming(placed: PlacedPlates) -> list[Line]:
    """What to cut off where plates do not go on the rim."""
    unit = placed.wheel.unit
    over = length_text(placed.over_mm, unit, 2)
    why = f"The plates are {over} longer than the rim: they do not close the turn."
    if not placed.over_mm:
        why = "Plates run into each other, by more than their clearance lets them be shifted."
    rows = [[_seam_name(placed, seam), _figure(seam.trim_mm, unit)] for seam in placed.seams if seam.trim_mm]
    table = TextTable(["Seam", f"trim {unit}"], rows)
    return [why, table, "Trim this off the two edges of a seam together, then measure again."]


def _left_to_trim(placed: PlacedPlates) -> list[Line]:
    """Seams that are too wide without a shim, which only trimming makes right."""
    unit = placed.wheel.unit
    trims = [
        f"{length_text(seam.trim_mm, unit, 2)} at {_seam_name(placed, seam)}" for seam in placed.seams if seam.trim_mm
    ]
    if not trims:
        return []
    return [f"Wide without a shim: trim {listed(trims)}, off the two edges together, and measure again."]


def _growth(placed: PlacedPlates, grown: Sequence[Growth], tempos: Tempos) -> list[Line]:
    """How much plates grow against the rim, and whether a gap closes."""
    if not grown:
        return []
    unit, tempo = placed.wheel.unit, tempos.quarters_per_minute[0]
    ms_per_mm = speed_at(placed.wheel, tempo).ms_per_mm
    narrowest = min(placed.seams, key=lambda seam: seam.gap_mm - sum(seam.shims_mm))
    free_mm = max(0.0, round(narrowest.gap_mm - sum(narrowest.shims_mm), 2))
    rows = []
    for each in grown:
        lengths = [_figure(length, unit, "+") for length in (each.least_mm, each.usual_mm, each.greatest_mm)]
        ms = f"{round(each.usual_mm * ms_per_mm, 1) + 0.0:+.1f}"
        closes = [each.least_mm > free_mm, each.greatest_mm > free_mm]
        gap = "closes" if all(closes) else "may close" if any(closes) else "stays"
        name = f"{one_line(each.climate.name, 20)}, {each.climate.celsius:g} °C, {each.climate.humidity_percent:g} % RH"
        rows.append([name, *lengths, ms, gap])
    header = ["Plate against rim", f"least {unit}", f"usual {unit}", f"greatest {unit}", f"ms at {tempo:g}", "gap"]
    words = "A plate fixed in its middle moves at both ends by half. The narrowest gap,"
    words = f"{words} {_seam_name(placed, narrowest)}, is {length_text(free_mm, unit, 2)} beside its shims."
    return [TextTable(header, rows, left=(0, 5)), words]
