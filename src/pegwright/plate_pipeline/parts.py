"""What `pegwright plate` makes: the plates themselves, a gauge or a bend strip, each as text, data and files."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.making import Pattern, PlateFile
from pegwright.plate.plan import PlatePlan, plan_plate
from pegwright.plate.trial import gauges, strips, with_ladder_tools
from pegwright.wheel import Wheel
from pegwright.write.plate.json import plate_json
from pegwright.write.plate.text import plate_text
from pegwright.write.plate.trial import gauge_text, gauge_uses, strip_text

if TYPE_CHECKING:
    from pegwright.plate_pipeline.request import ShopRequest


@frozen()
class PlatePart:
    """Something to be made.

    Args:
        text: what has to be known of it, at a width.
        json: the same as data.
        files: every file of it, by name, as the request for drilling files has it.
        next_words: what to do with the files, without a full stop.
    """

    text: Callable[[int], str]
    json: Callable[[], bytes]
    files: Callable[[ShopRequest], dict[str, bytes]]
    next_words: str


def plates(plate: PlateFile, wheel: Wheel, quarters_per_minute: float) -> PlatePart:
    """The plates of a wheel.

    Args:
        plate: the plate file.
        wheel: that it names.
        quarters_per_minute: the tempo for times.
    """
    plan = plan_plate(plate, wheel)
    return PlatePart(
        partial(plate_text, plan, quarters_per_minute),
        partial(plate_json, plan, quarters_per_minute),
        partial(_plate_files, plan, quarters_per_minute),
        "read plate.txt, and try the gauge and the bend strip on a spare piece before a plate is cut",
    )


def gauge(plate: PlateFile, wheel: Wheel) -> PlatePart:
    """The gauge for the plates of a wheel."""
    tooled = with_ladder_tools(plate)
    patterns = gauges(tooled, wheel)
    words = "drill it from an offcut of the sheet, and measure what gauge.txt lists"
    use = tuple(f"{what}: {how}." for what, how in gauge_uses(wheel).items())
    text = partial(gauge_text, tooled, wheel, patterns)
    return PlatePart(text, _no_json, partial(_trial_files, tooled, wheel, patterns, {"gauge.txt": text}, use), words)


def strip(plate: PlateFile, wheel: Wheel, length_mm: float) -> PlatePart:
    """A bend strip for the plates of a wheel.

    Args:
        plate: the plate file.
        wheel: that it names.
        length_mm: about so long.
    """
    patterns = strips(plate, wheel, length_mm)
    words = "drill it, bend it round the rim, and enter what strip.txt lists in the plate file"
    use = ("Bend it round the rim with straps up to both ends, measure, and enter what strip.txt lists.",)
    text = partial(strip_text, plate, wheel, patterns)
    return PlatePart(text, _no_json, partial(_trial_files, plate, wheel, patterns, {"strip.txt": text}, use), words)


def _trial_files(
    plate: PlateFile,
    wheel: Wheel,
    patterns: Sequence[Pattern],
    texts: Mapping[str, Callable[[], str]],
    use: tuple[str, ...],
    request: ShopRequest,
) -> dict[str, bytes]:
    """The files of a trial part.

    Args:
        plate: with its tools.
        wheel: that it is for.
        patterns: of its layers.
        texts: the text of each file.
        use: how it is used, for the set-up sheet.
        request: for drilling files.
    """
    from pegwright.plate_pipeline.files import patterns_files  # noqa: PLC0415  # drawing, for files alone

    written = {name: text().encode() for name, text in texts.items()}
    return {**written, **patterns_files(plate, wheel, patterns, replace(request, use=use))}


def _plate_files(plan: PlatePlan, quarters_per_minute: float, request: ShopRequest) -> dict[str, bytes]:
    from pegwright.plate_pipeline.files import plate_files  # noqa: PLC0415  # as above

    return plate_files(plan, quarters_per_minute, request)


def _no_json() -> bytes:
    raise UsageError("--json goes with the plates themselves", hint="the holes of a part are in its holes.csv: add -o")
