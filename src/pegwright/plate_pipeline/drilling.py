"""The files by which a workshop drills one pattern: programs, drawings, set-up sheet and check template."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from pegwright.cautions import MAKE
from pegwright.draw.check_template import check_template
from pegwright.draw.plate_drawing import box_mm, plate_drawing, zero_words
from pegwright.draw.setup_sheet import Section, setup_pages
from pegwright.errors import InternalError
from pegwright.making import Fixing, HoleKind, Pattern, PlateFile
from pegwright.plate.order import DrillOrder
from pegwright.plate.path import ToolPath, path_time, tool_paths
from pegwright.plate.pattern import served_words
from pegwright.plate.tools import fixing_tool, hole_offsets_mm, ridge_mm, tool_word, web_mm
from pegwright.plate.verify import verify_programs
from pegwright.plate_pipeline.request import ShopRequest
from pegwright.units import listed, plural, printed
from pegwright.write.dxf import DxfVersion, dxf_bytes
from pegwright.write.gcode import Form, forms, path_words, program_text, time_words
from pegwright.write.pdf import pdf_bytes
from pegwright.write.svg import svg_text

SPARE_MM = 5.0  # of the example of a larger blank


def drilling_files(plate: PlateFile, name: str, pattern: Pattern, request: ShopRequest) -> dict[str, bytes]:
    """Every file by which a pattern is drilled but its list of holes: file name -> contents.

    Args:
        plate: with tools and machine.
        name: of the wheel.
        pattern: to be drilled.
        request: order and paper.

    Raises:
        InternalError: the independent check found a program that must not be run.
    """
    paths = tool_paths(pattern, plate.tools, plate.machine, request.order)
    programs = {form: _programs(plate, pattern, paths, form) for form in forms(plate.machine)}
    for texts in programs.values():
        sentences = verify_programs(pattern, plate, list(zip([path.tool.number for path in paths], texts, strict=True)))
        if sentences:
            message = f"a drilling program broke {plural(len(sentences), 'rule')}, the first: {sentences[0]}"
            raise InternalError(message, where=pattern.title, hint="nothing was written; please report this")
    paper = request.paper
    sections = tuple(_sections(plate, pattern, paths, request))
    title = f"{name}: {pattern.title}"
    return {
        **{
            program_name(pattern, (number, len(paths)), path, form): text.encode("ascii")
            for form, texts in programs.items()
            for number, (path, text) in enumerate(zip(paths, texts, strict=True))
        },
        **{f"{pattern.name}-{version.lower()}.dxf": dxf_bytes(pattern, version) for version in DxfVersion},
        f"{pattern.name}.svg": svg_text(plate_drawing(pattern, name)).encode(),
        f"{pattern.name}-set-up-{paper.name}.pdf": pdf_bytes(setup_pages(pattern, name, sections, paper), title),
        f"{pattern.name}-check-{paper.name}.pdf": pdf_bytes(check_template(pattern, name, paper), title),
    }


def program_name(pattern: Pattern, number: tuple[int, int], path: ToolPath, form: Form) -> str:
    """The name of a program's file; names sort in the order in which the programs are run.

    Args:
        pattern: that is drilled.
        number: of the program, 0-based, and how many there are.
        path: of its tool.
        form: of its holes.
    """
    place, count = number
    return f"{pattern.name}-{printed(place):0{len(str(count))}}-tool-{path.tool.number}-{form}.ngc"


def _programs(plate: PlateFile, pattern: Pattern, paths: Sequence[ToolPath], form: Form) -> list[str]:
    count = len(paths)
    return [
        program_text(pattern, plate, path, form, f"{printed(number)} of {count}") for number, path in enumerate(paths)
    ]


def _sections(plate: PlateFile, pattern: Pattern, paths: Sequence[ToolPath], request: ShopRequest) -> Iterator[Section]:
    """What a set-up sheet says beside its drawing.

    Args:
        plate: with tools and machine.
        pattern: to be drilled.
        paths: of the programs, in order.
        request: the order of the holes.
    """
    left, low, right, high = box_mm(pattern)
    machine, layer, steps = plate.machine, pattern.layer, _steps(plate, pattern, request)
    size = f"{right - left:.1f} x {high - low:.1f} mm"
    yield Section(
        "Sheet",
        (
            f"{layer.material.name}, {layer.thickness_mm:g} mm thick, at least {size}"
            f", {f'for {served_words(pattern)}; ' if pattern.plates else ''}drilled at {plate.sheet.machined_c:g} °C.",
            f"On a board of at least {machine.spoilboard_mm:g} mm, clamps clear of every hole and below"
            f" Z{machine.safe_z_mm:g}.",
        ),
    )
    yield Section(
        "Zero (the ring)",
        (
            f"{zero_words(pattern)}.",
            f"With the tool over the lower left corner of a blank of just that size, the machine must show X{left:.3f}"
            f" Y{low:.3f}; take from X what a larger blank has to spare at its left edge, and from Y what it has at its"
            f" lower edge: with {SPARE_MM:g} mm at both, X{left - SPARE_MM:.3f} Y{low - SPARE_MM:.3f}.",
        ),
    )
    yield Section("Caution", MAKE)
    yield Section("Programs, in this order", tuple(_program_lines(plate, pattern, paths)))
    yield Section("Work", tuple(f"{printed(number)}. {step}" for number, step in enumerate(steps)))
    if request.use:
        yield Section("Use", request.use)


def _program_lines(plate: PlateFile, pattern: Pattern, paths: Sequence[ToolPath]) -> Iterator[str]:
    ways = forms(plate.machine)
    for number, path in enumerate(paths):
        tool = path.tool
        names = " or ".join(program_name(pattern, (number, len(paths)), path, form) for form in ways)
        peck = f", pecks of {tool.peck_mm:g} mm" if tool.peck_mm > 0 else ""
        yield (
            f"{names}: tool {tool.number}, {tool_word(tool)} of {tool.diameter_mm:g} mm,"
            f" {tool.spindle_per_min:g} a minute, feed {tool.feed_mm_per_min:g} mm a minute{peck};"
            f" {path_words(pattern, path)}; {time_words(path_time(pattern, plate.machine, path))}."
        )
    times = [path_time(pattern, plate.machine, path) for path in paths]
    drilling, moving = sum(time.drilling_s for time in times) / 60, sum(time.moving_s for time in times) / 60
    yield f"All of them take at least {drilling + moving:.0f} min: drilling {drilling:.0f}, moving {moving:.0f}."
    if Form.CANNED in ways:
        yield "The canned form is for controllers with the cycles G81 and G83, the plain form for all; run one of them."


def _steps(plate: PlateFile, pattern: Pattern, request: ShopRequest) -> Iterator[str]:
    kinds = set(pattern.holes.kind.tolist())
    if pattern.plates:
        yield "Drill a row on a spare piece, put a pin in, and measure."
    yield "Clamp the sheet with the face up that is named above; set the zero; run each program once in the air."
    yield "Run the programs in order; change the tool and set Z0 between them, never X0 or Y0."
    way = "from the same side" if request.order is DrillOrder.ONE_WAY else "to and fro: backlash shows"
    yield f"Holes are drilled {'channel by channel, ' if pattern.plates else ''}{way}."
    if HoleKind.SLOT in kinds:
        yield from _slot_steps(plate, pattern)
    drilled = _drilled(plate, pattern)
    heads = sorted({(each.kind, each.diameter_mm, each.head_mm) for each in drilled if each.head_mm})
    if heads:
        sizes = [f"{kind.word} holes of {hole_mm:g} mm for heads of {head_mm:g} mm" for kind, hole_mm, head_mm in heads]
        yield f"Countersink on the outer face: {listed(sizes)}."
    yield "Compare with the check template before the sheet is unclamped; drill what is missing."
    named = "its rows" if request.use else "the plate's number"
    number = f", and write {named} on it" if pattern.plates else ""
    yield f"Cut the edge and deburr both faces{number}."


def _drilled(plate: PlateFile, pattern: Pattern) -> list[Fixing]:
    """The fixing holes of a pattern, a slot once."""
    return [plate.fixings[number] for number in sorted(set(pattern.holes.fixing.tolist()) - {-1})]


def _slot_steps(plate: PlateFile, pattern: Pattern) -> Iterator[str]:
    """What is left to do at the slots, once for slots that are alike."""
    slots = [each for each in _drilled(plate, pattern) if each.kind is HoleKind.SLOT]
    for size, alike in groupby(sorted(slots, key=_slot_size), key=_slot_size):
        fixing = next(iter(alike))
        tool, name = fixing_tool(plate.tools, fixing), f"every slot of {size[0]:g} x {size[1]:g} mm"
        count, web = len(hole_offsets_mm(fixing, tool)), web_mm(fixing, tool)
        if count == 1:
            continue
        if tool.slot_drill:
            ridge = ridge_mm(fixing, tool)
            yield f"File off the ridges of {ridge:.2f} mm that {count} overlapping holes leave at the sides of {name}."
        elif web > 0:
            yield f"Cut out the webs of {web:.1f} mm between the {count} holes of {name}, and file its sides straight."
        else:
            yield f"Drill one end of {name} alone, or both with a cutter that cuts on its face; file it to its length."


def _slot_size(fixing: Fixing) -> tuple[float, float]:
    return fixing.diameter_mm, fixing.slot_mm
