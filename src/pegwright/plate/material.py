"""What is published on the materials of sheets: thermal expansion, and how far plywood bends."""

from __future__ import annotations

from pegwright.frozen import frozen
from pegwright.units import MM_PER_IN


@frozen()
class Expansion:
    """Linear thermal expansion of a material, a kelvin.

    Args:
        least, usual, greatest: `usual` is what lengths are computed with unless a maker's own value is given.
    """

    least: float
    usual: float
    greatest: float


# Source: HDPE as reproduced in plastics data sheets, which differ 2:1, so that a maker's own value beats the table;
# mild steel and aluminium likewise; plywood in its plane 4.5 (a maker's sheet) to 6.1 (3.4e-6 a degree Fahrenheit, a
# panel trade body). The usual value is the middle, for HDPE a value of the upper half to be on the safe side.
EXPANSION = {
    "hdpe": Expansion(100e-6, 180e-6, 200e-6),
    "steel": Expansion(10.8e-6, 11.4e-6, 12e-6),
    "aluminium": Expansion(22e-6, 23e-6, 24e-6),
    "plywood": Expansion(4.5e-6, 5.3e-6, 6.1e-6),
}

_NEAR = 0.8  # likeness of names from which one is taken for the other misspelt; "ldpe" and "hdpe" have 0.75


@frozen()
class PlywoodBend:
    """A published minimum bend radius of dry plywood.

    Args:
        thickness_mm: of the sheet.
        across_mm, along_mm: greater and smaller radius, by the direction of the outer grain.
        source: who published it.
    """

    thickness_mm: float
    across_mm: float
    along_mm: float
    source: str


_FAA = "FAA AC 43.13-1B"
# Source: FAA AC 43.13-1B, the table of minimum bend radii of plywood, as reproduced at engineersedge.com (5-ply 0.250
# in: 31.0 and 20.0 in; 0.315 in: 43.0 and 28.0 in); the panel association's 1/4 in: 2 ft and 5 ft, as quoted by
# concreteconstruction.net.
PLYWOOD_BENDS = (
    PlywoodBend(0.250 * MM_PER_IN, 31.0 * MM_PER_IN, 20.0 * MM_PER_IN, _FAA),
    PlywoodBend(0.315 * MM_PER_IN, 43.0 * MM_PER_IN, 28.0 * MM_PER_IN, _FAA),
    PlywoodBend(0.250 * MM_PER_IN, 60.0 * MM_PER_IN, 24.0 * MM_PER_IN, "the panel association"),
)


# Source: a panel trade body, as quoted (its page was not seen): 0.0002 of length and width for 10 % relative humidity.
PLYWOOD_SWELLING_PER_PERCENT = 0.0002 / 10


def swelling_per_percent(name: str) -> float:
    """The share by which a material grows for each per cent of relative humidity; 0 for all but plywood."""
    return PLYWOOD_SWELLING_PER_PERCENT if name.strip().lower() == "plywood" else 0.0


def expansion_of(name: str) -> Expansion | None:
    """The published expansion of a material; None where it is none of the table's."""
    return EXPANSION.get(name.strip().lower())


def near_material(name: str) -> str:
    """The material of the table whose name is nearly that of one that is not in it; else empty."""
    from difflib import get_close_matches  # noqa: PLC0415  # as little as needed is loaded

    own = name.strip().lower()
    return "" if own in EXPANSION else next(iter(get_close_matches(own, EXPANSION, n=1, cutoff=_NEAR)), "")


def plywood_radius_mm(thickness_mm: float) -> tuple[float, float]:
    """The greater and the smaller minimum bend radius of dry plywood, by the direction of its outer grain.

    Between the two thicknesses of the FAA's table straight, below and above them in proportion to the thickness.
    """
    thin, thick = (bend for bend in PLYWOOD_BENDS if bend.source == _FAA)
    share = (thickness_mm - thin.thickness_mm) / (thick.thickness_mm - thin.thickness_mm)
    if 0 <= share <= 1:
        across_mm = thin.across_mm + share * (thick.across_mm - thin.across_mm)
        return across_mm, thin.along_mm + share * (thick.along_mm - thin.along_mm)
    nearest = thin if share < 0 else thick
    ratio = thickness_mm / nearest.thickness_mm
    return nearest.across_mm * ratio, nearest.along_mm * ratio
