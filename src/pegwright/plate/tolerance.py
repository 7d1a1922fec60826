"""Half-widths of tolerances to standard uncertainties, and how far a pin leans in its hole.

Source: JCGM 100:2008 (GUM), 4.3.7 (clauses from memory): a value that is as likely anywhere within a half-width a has
the standard uncertainty a / sqrt 3. JCGM 101:2008, 6.4.6: one that swings to and fro within it, as a sine does,
a / sqrt 2. A normal distribution is taken to have a at three standard uncertainties, a / 3, within which 99.73 % lie.
"""

from __future__ import annotations

import math

from pegwright.making import Layer, Source, Spread

DIVISORS = {Spread.RECTANGULAR: math.sqrt(3), Spread.NORMAL: 3.0, Spread.ARCSINE: math.sqrt(2)}
IN_WORDS = {
    Source.HOLE: "hole place",
    Source.LENGTH: "plate length",
    Source.REGISTER: "register",
    Source.SEAM: "seam",
    Source.RUN_OUT: "run-out",
    Source.K: "k",
    Source.HEAT: "heat",
    Source.PIN_LEAN: "pin lean",
    Source.READER: "reader",
    Source.SPEED: "speed",
}


def pin_lean_mm(clearance_mm: float, height_mm: float, thickness_mm: float) -> float:
    """How far the tip of a pin leans to one side.

    It touches opposite edges of its hole at both faces, so that it leans by the clearance over the thickness, about the
    middle of the sheet.

    Args:
        clearance_mm: hole diameter less pin diameter.
        height_mm: of the tip above the outer face.
        thickness_mm: of the sheet.

    Source: similar triangles, c / 2 (1 + 2 h / t).
    """
    return clearance_mm / 2 * (1 + 2 * height_mm / thickness_mm)


def pin_sheet_mm(layers: tuple[Layer, ...]) -> float:
    """How deep a pin stands in a plate: from the outermost face of the layers with pin holes to their innermost."""
    held = [layer for layer in layers if layer.pin_holes]
    return max(layer.radius_mm for layer in held) - min(layer.inner_radius_mm for layer in held)
