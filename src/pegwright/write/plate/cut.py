"""What cutting an edge of a plate back costs, or the trimming that a plan asks for, as text and as JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from pegwright.json_value import Json
from pegwright.plate.cutting import Cut, CutHole, Trim
from pegwright.plate.placing import PlacedPlates
from pegwright.units import LengthUnit, length_text, listed, plural, printed
from pegwright.wheel import Wheel
from pegwright.write.json_text import rounded
from pegwright.write.tables import HANG, LINE_CELLS, Line, one_line, paragraphs


def cut_text(wheel: Wheel, cut: Cut, song: str | None, width: int = LINE_CELLS) -> str:
    """The holes that each edge loses, and what fills the cut.

    Args:
        wheel: the wheel.
        cut: what it costs.
        song: the name of the file whose pins were counted; None for none.
        width: cells of a line.
    """
    lines: list[Line] = [f"Cutting an edge back by {_length(cut.cut_mm, wheel.unit)}:"]
    lines += [
        f"{name}  {HANG}{_holes(wheel, holes, song)}"
        for name, holes in (("leading edge", cut.leading), ("trailing edge", cut.trailing))
    ]
    if cut.shims_mm:
        shims = " + ".join(_length(each, wheel.unit) for each in cut.shims_mm)
        left = "" if abs(cut.left_mm) < 0.005 else f"; {_length(cut.left_mm, wheel.unit)} are left"
        lines.append(f"filled by  {HANG}{shims}{left}")
    else:
        lines.append(f"filled by  {HANG}none of the shims of [held]")
    return "\n" + paragraphs([lines], width)


def trims_text(placed: PlacedPlates, costs: Sequence[Trim], song: str | None, width: int = LINE_CELLS) -> str:
    """What the trimming of a plan costs.

    Args:
        placed: the plates.
        costs: for each seam that is to be trimmed.
        song: the name of the file whose pins were counted; None for none.
        width: cells of a line.
    """
    wheel = placed.wheel
    if not costs:
        return "\n" + paragraphs([["No seam has to be trimmed."]], width)
    lines: list[Line] = ["Trimming, all at one edge of a seam, by the edges as they were measured:"]
    for cost in costs:
        seam = f"{printed(cost.after)} to {printed((cost.after + 1) % wheel.plate_count)}"
        lines.append(f"seam {seam}, {_length(cost.cut_mm, wheel.unit)}")
        for plate, edge, holes in (
            (cost.before_plate, "trailing", cost.trailing),
            (cost.after_plate, "leading", cost.leading),
        ):
            lines.append(f"  {HANG}plate {plate}, {edge} edge: {_holes(wheel, holes, song, 'it loses', '')}")
    return "\n" + paragraphs([lines], width)


def _length(length_mm: float, unit: LengthUnit) -> str:
    return length_text(length_mm, unit, 2)


def _holes(
    wheel: Wheel,
    holes: Sequence[CutHole],
    song: str | None,
    who: str = "every plate that is cut loses",
    where: str = " in all plates",
) -> str:
    """The holes that an edge loses, and the pins in them.

    Args:
        wheel: for names.
        holes: that are lost.
        song: the name of the file whose pins were counted; None for none.
        who: loses them.
        where: pins were counted, after a space; empty for the plate that is cut alone.
    """
    if not holes:
        return "loses no hole" if who.startswith("every") else "no hole is lost"
    names = [
        f"hole {printed(hole.index)} of row {wheel.rows[hole.row].name} (step {hole.along_mm / wheel.step_mm + 1:.4g})"
        for hole in holes
    ]
    words = f"{who} {listed(names)}"
    if song is None:
        return words
    counted: Counter[str] = Counter()
    for hole in holes:
        counted.update(dict(hole.songs))
    pins = f"{plural(counted.total(), 'pin') if counted else 'no pins'} of {one_line(song, 40)}{where}"
    pins += f" {'stands' if counted.total() == 1 else 'stand'} there"
    by_song = ", ".join(f"{one_line(name, 40)} {count:,}" for name, count in counted.items())
    return f"{words}; {pins}: {by_song}" if counted and set(counted) != {song} else f"{words}; {pins}"


def cut_json(cut: Cut) -> Json:
    """The same for programs."""
    return {
        "cut_mm": rounded(cut.cut_mm),
        "leading": [_hole(hole) for hole in cut.leading],
        "trailing": [_hole(hole) for hole in cut.trailing],
        "shims_mm": list(map(rounded, cut.shims_mm)),
        "left_mm": rounded(cut.left_mm),
    }


def _hole(hole: CutHole) -> Json:
    return {
        "row": printed(hole.row),
        "hole": printed(hole.index),
        "along_mm": rounded(hole.along_mm),
        "pins": hole.pins,
        "songs": [{"song": name, "pins": pins} for name, pins in hole.songs],
    }


def trims_json(costs: Sequence[Trim]) -> Json:
    """What trimming costs, for programs."""
    return [
        {
            "after_place": printed(cost.after),
            "trim_mm": rounded(cost.cut_mm),
            "before_plate": cost.before_plate,
            "trailing": [_hole(hole) for hole in cost.trailing],
            "after_plate": cost.after_plate,
            "leading": [_hole(hole) for hole in cost.leading],
        }
        for cost in costs
    ]
