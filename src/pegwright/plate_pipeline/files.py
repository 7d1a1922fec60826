"""Every file of a plate as bytes, by name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pegwright.making import Pattern, PlateFile
from pegwright.plate.jig import JIG_USE, jigs
from pegwright.plate.plan import PlatePlan
from pegwright.plate_pipeline.drilling import drilling_files
from pegwright.plate_pipeline.request import ShopRequest
from pegwright.wheel import Wheel
from pegwright.write.plate.holes import holes_csv
from pegwright.write.plate.json import plate_json
from pegwright.write.plate.text import plate_text


def plate_files(plan: PlatePlan, quarters_per_minute: float, request: ShopRequest) -> dict[str, bytes]:
    """The files of a plate: those of each pattern in a folder of its own where there are several.

    Args:
        plan: the plate.
        quarters_per_minute: the tempo for times.
        request: for the drilling files.
    """
    return {
        "plate.txt": plate_text(plan, quarters_per_minute).encode(),
        "plate.json": plate_json(plan, quarters_per_minute),
        **patterns_files(plan.plate, plan.wheel, plan.patterns, request),
        **(_jig_files(plan, request) if request.jig else {}),
    }


def _jig_files(plan: PlatePlan, request: ShopRequest) -> dict[str, bytes]:
    """The files of every jig, each in a folder of its own."""
    return {
        f"{jig.name}/{name}": data
        for jig in jigs(plan.plate, plan.wheel, plan.patterns)
        for name, data in pattern_files(plan.plate, plan.wheel, jig, replace(request, use=JIG_USE)).items()
    }


def patterns_files(
    plate: PlateFile, wheel: Wheel, patterns: Sequence[Pattern], request: ShopRequest
) -> dict[str, bytes]:
    """The files by which patterns are drilled, each in a folder of its own where there are several.

    Args:
        plate: with tools and machine.
        wheel: for names.
        patterns: to be drilled.
        request: for the drilling files.
    """
    files: dict[str, bytes] = {}
    for pattern in patterns:
        folder = f"{pattern.name}/" if len(patterns) > 1 else ""
        files |= {f"{folder}{name}": data for name, data in pattern_files(plate, wheel, pattern, request).items()}
    return files


def pattern_files(plate: PlateFile, wheel: Wheel, pattern: Pattern, request: ShopRequest) -> dict[str, bytes]:
    """The files by which one pattern is drilled.

    Args:
        plate: with tools and machine.
        wheel: for names.
        pattern: to be drilled.
        request: for the drilling files.
    """
    return {"holes.csv": holes_csv(pattern, wheel), **drilling_files(plate, wheel.name, pattern, request)}
