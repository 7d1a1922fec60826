"""How much plates grow against the rim they are on, between the reference, the workshop and the hall.

Only the difference between plate and rim counts: a plate and a rim that grow alike leave every hole at its angle.
"""

from __future__ import annotations

from pegwright.frozen import frozen
from pegwright.making import Climate, Held, Layer, Material
from pegwright.plate.material import Expansion, expansion_of, swelling_per_percent


@frozen()
class Growth:
    """How much longer a plate becomes than the rim under it, in mm; below 0 it shrinks against it.

    Args:
        climate: in which it does.
        least_mm, usual_mm, greatest_mm: with the values of the tables, or three times with the makers' own.
    """

    climate: Climate
    least_mm: float
    usual_mm: float
    greatest_mm: float


def growths(held: Held, layer: Layer, plate_mm: float, reference_c: float) -> tuple[Growth, ...]:
    """The growth of a plate in every climate of a plate file.

    Args:
        held: gives the climates and what the rim is of.
        layer: of the plate.
        plate_mm: its length along the rim.
        reference_c: temperature at which lengths hold.

    Source: linear expansion, (a_plate - a_rim) L dT.
    """
    if held.rim is None:
        return ()
    plate, rim = _expansion(layer.material), _expansion(held.rim)
    swelling = swelling_per_percent(layer.material.name) - swelling_per_percent(held.rim.name)
    grown = []
    for climate in held.climates:
        kelvin = climate.celsius - reference_c
        damp_mm = swelling * plate_mm * (climate.humidity_percent - held.reference_humidity_percent)
        heats_mm = sorted(
            difference * plate_mm * kelvin for difference in (plate.least - rim.greatest, plate.greatest - rim.least)
        )
        usual_mm = (plate.usual - rim.usual) * plate_mm * kelvin
        grown.append(Growth(climate, heats_mm[0] + damp_mm, usual_mm + damp_mm, heats_mm[1] + damp_mm))
    return tuple(grown)


def _expansion(material: Material) -> Expansion:
    """The range of a table, or the maker's own value three times."""
    own, table = material.expansion_per_k, expansion_of(material.name)
    if table is not None and own in {None, table.usual}:
        return table
    return Expansion(own or 0.0, own or 0.0, own or 0.0)
