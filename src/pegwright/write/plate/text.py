"""A plate as it is to be made, as a page of plain text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

import numpy as np

from pegwright.facts import speed_at
from pegwright.making import Face, Layer, Pattern
from pegwright.plate.pattern import live_counts, served_words
from pegwright.plate.plan import K_ERROR, LayerFacts, PlatePlan
from pegwright.units import LengthUnit, length_text, plural
from pegwright.write.cautions import MAKE_LINE
from pegwright.write.tables import HANG, LINE_CELLS, Line, TextTable, one_line, paragraphs

_LABEL_CELLS = 9
_NAME_CELLS = 30
_FACE_UP = {
    Face.OUTER: (
        "Lay the sheet with its outer face up: the one that carries the pins. Step 1 is at the left and the"
        " first channel at the top, as on pin sheets."
    ),
    Face.INNER: (
        "Lay the sheet with its inner face up: the face that will be towards the shaft. Step 1 is at the left and the"
        " first channel at the bottom: the mirror image of the pin sheets."
    ),
}


def plate_text(plan: PlatePlan, quarters_per_minute: float, width: int = LINE_CELLS) -> str:
    """What has to be known of a plate before it is cut.

    Args:
        plan: the plate.
        quarters_per_minute: the tempo for times.
        width: cells of a line.
    """
    wheel = plan.wheel
    title = f"Plates of {one_line(wheel.name, LINE_CELLS)}"
    plates = f"{plural(wheel.plate_count, 'plate')} a turn, {plural(wheel.plate_sets, 'set')}"
    blocks: list[Sequence[Line]] = [[title, plates]]
    blocks += [_layer(plan, facts, quarters_per_minute) for facts in plan.layers]
    blocks += [_face(plan), _tools(plan), _walls(plan), _patterns(plan), _findings(plan), [MAKE_LINE]]
    return paragraphs(blocks, width)


def _line(label: str, text: str) -> str:
    return f"{label:{_LABEL_CELLS}}  {HANG}{text}"


def _layer(plan: PlatePlan, facts: LayerFacts, quarters_per_minute: float) -> list[Line]:
    layer = facts.layer
    pins = "" if layer.pin_holes else ", no pin holes"
    text = partial(length_text, unit=plan.wheel.unit)
    sheet = f"{text(layer.thickness_mm)}, outer face at radius {text(layer.radius_mm)}{pins}"
    material = f": {one_line(layer.material.name, _NAME_CELLS)}" if layer.material.name != layer.name else ""
    heading = _line("Layer", f"{one_line(layer.name, _NAME_CELLS)}{material}, {sheet}")
    ratio = f"{facts.ratio:.7f} flat to rim, {_k_words(layer, plan.wheel.unit)}{_heat_words(plan, facts)}"
    lines = [heading, *_flat(plan, facts), _line("Ratio", ratio), *_bent(facts, plan.wheel.unit)]
    if layer.scale is None:
        wrong_ms = facts.wrong_k_mm * speed_at(plan.wheel, quarters_per_minute).ms_per_mm
        wrong = f"each {K_ERROR:g} puts the last holes {text(facts.wrong_k_mm, decimals=3)} off, {wrong_ms:.1f} ms at"
        lines.append(_line("Wrong k", f"{wrong} {quarters_per_minute:g} quarter notes a minute"))
    return [*lines, _line("Springs", _spring_words(facts, plan.wheel.unit))]


def _flat(plan: PlatePlan, facts: LayerFacts) -> list[Line]:
    text, fine = (partial(length_text, unit=plan.wheel.unit, decimals=decimals) for decimals in (3, 4))
    cut = f"cut {text(facts.flat_sheet_mm)} long and {text(facts.width_mm)} wide; on the rim"
    plates = f"from plate to plate {text(facts.rim_plate_mm)} on the rim is {text(facts.flat_plate_mm)} flat"
    step = f"a step of {fine(plan.wheel.step_mm)} is {fine(facts.flat_step_mm)}"
    return [_line("Flat", f"{cut} {text(facts.rim_sheet_mm)} long"), _line("", f"{plates}, {step}")]


def _bent(facts: LayerFacts, unit: LengthUnit) -> list[Line]:
    text = partial(length_text, unit=unit)
    lines: list[Line] = [_line("Strain", f"{100 * facts.strain:.3f} % at the outer face")]
    if facts.layer.pin_holes:
        hole = f"a pin hole of {text(facts.layer.hole_diameter_mm)} widens along the rim at the outer face by"
        wider, narrower = _range_words(facts.widening_mm, unit), _range_words(facts.narrowing_mm, unit)
        inner = "as much" if narrower == wider else narrower
        lines.append(_line("Holes", f"{hole} {wider}; its inner end narrows by {inner}"))
    arc = f"chord {text(facts.chord_mm, decimals=2)} and sag {text(facts.sag_mm, decimals=2)}"
    return [*lines, _line("Mounted", f"{arc} from step 1 to the next plate's")]


def _range_words(range_mm: tuple[float, float, float], unit: LengthUnit) -> str:
    lowest, roark, highest = (length_text(each, unit, 3) for each in range_mm)
    return f"{lowest.partition(' ')[0]} to {highest} ({roark} by the factor of a bent plate)"


def _k_words(layer: Layer, unit: LengthUnit) -> str:
    if layer.scale is not None:
        return f"the scale {layer.scale:g} as it was measured"
    neutral = f"neutral radius {length_text(layer.neutral_radius_mm, unit, 3)}"
    if layer.k_uncertainty is None:
        return f"k = {layer.k:.3g}, {neutral}"
    return f"k = {layer.k:.3f} measured with a standard uncertainty of {layer.k_uncertainty:.3f}, {neutral}"


def _heat_words(plan: PlatePlan, facts: LayerFacts) -> str:
    sheet = plan.plate.sheet
    if sheet.machined_c == sheet.reference_c:
        return ""
    longer_mm = facts.flat_sheet_mm * (1 - 1 / facts.heat)
    words = f"{'longer' if longer_mm >= 0 else 'shorter'} by {length_text(abs(longer_mm), plan.wheel.unit, 3)}"
    return f"; drilled at {sheet.machined_c:g} °C for lengths at {sheet.reference_c:g} °C, a sheet {words}"


def _spring_words(facts: LayerFacts, unit: LengthUnit) -> str:
    beyond, off = length_text(facts.beyond_mm, unit, 1), length_text(facts.stand_off_mm, unit, 2)
    held = f"its ends stay flat beyond the last fixing: {beyond}, {off} off the rim"
    if facts.springback_mm is not None and math.isfinite(facts.springback_mm):
        return f"let go, it relaxes to an inner radius of {length_text(facts.springback_mm, unit, 0)}; {held}"
    return f"a sheet bent elastically springs flat and is held by its fixings alone; {held}"


def _face(plan: PlatePlan) -> list[Line]:
    sign = "The engraved arrow points to step 1"
    if not plan.plate.sheet.marks:
        sign = "Nothing is engraved: the fixing holes alone show which face is up, so compare them with the drawing"
    turns = "the way the plate turns: step 1 comes first"
    return [_line("Face up", f"{_FACE_UP[plan.plate.sheet.face]} {sign}, {turns}.")]


def _tools(plan: PlatePlan) -> list[Line]:
    """Tools with the holes that each drills, of one plate of every pattern."""
    rows = []
    for tool in plan.plate.tools:
        counts = [int(np.count_nonzero(pattern.holes.tool == tool.number)) for pattern in plan.patterns]
        diameters = sorted(
            {
                each
                for pattern in plan.patterns
                for each in pattern.holes.diameter_mm[pattern.holes.tool == tool.number].tolist()
            }
        )
        holes = ", ".join(_figure(plan, each) for each in diameters)
        rows.append((str(tool.number), _figure(plan, tool.diameter_mm), holes, *(f"{count:,}" for count in counts)))
    unit = plan.wheel.unit
    header = ["Tool", f"drill {unit}", f"holes {unit}", *(pattern.title for pattern in plan.patterns)]
    return [
        "Holes by tool",
        TextTable(header, rows, left=(0, 2), below=(range(3, len(header)),) if len(header) > 6 else ()),
    ]


def _figure(plan: PlatePlan, length_mm: float, decimals: int | None = None) -> str:
    """A length without its unit, which stands in the head of the column."""
    return length_text(length_mm, plan.wheel.unit, decimals).partition(" ")[0]


def _walls(plan: PlatePlan) -> list[Line]:
    rows = []
    for pattern, walls in zip(plan.patterns, plan.walls, strict=True):
        for wall in walls:
            mark = "" if wall.is_kept else "below"
            between = f"{one_line(wall.first, 60)}; {one_line(wall.second, 60)}"
            title = pattern.title if len(plan.patterns) > 1 else ""
            rows.append(
                (
                    wall.kind,
                    title,
                    _figure(plan, wall.wall_mm, 2),
                    _figure(plan, wall.bound_mm),
                    mark,
                    wall.face,
                    between,
                )
            )
    unit = plan.wheel.unit
    header = [
        "Wall",
        "pattern" if len(plan.patterns) > 1 else "",
        f"left {unit}",
        f"minimum {unit}",
        "",
        "where",
        "",
    ]
    return ["What is left of the sheet at its weakest places", TextTable(header, rows, left=(0, 1, 4, 5, 6), over=True)]


def _patterns(plan: PlatePlan) -> list[Line]:
    """Which plate takes which files."""
    lines: list[Line] = []
    for pattern in plan.patterns:
        pins, fixings = live_counts(pattern)
        count = f"{plural(pins, 'pin hole')} and {plural(fixings, 'fixing hole')}"
        lines.append(_line("Files", f"{_served(pattern, plan)}: {files_words(plan, pattern)}, {count}"))
    return lines


def _served(pattern: Pattern, plan: PlatePlan) -> str:
    """The plates that take a pattern, and their layer where there are several."""
    every = len(pattern.plates) == plan.wheel.plate_count
    who = "every plate" if every and not pattern.sets else served_words(pattern)
    layer = f", {one_line(pattern.layer.name, _NAME_CELLS)}" if len(plan.plate.layers) > 1 else ""
    return f"{who}{layer}{'' if pattern.sets else ' of every set'}"


def files_words(plan: PlatePlan, pattern: Pattern) -> str:
    """Where the files of a pattern are."""
    return f"folder {pattern.name}" if len(plan.patterns) > 1 else "the files of this folder"


def _findings(plan: PlatePlan) -> list[Line]:
    return [
        _line(
            "Look out",
            f"{finding.where}: {finding.message}{f' ({finding.hint})' if finding.hint else ''}".removeprefix(": "),
        )
        for finding in plan.findings
    ]
