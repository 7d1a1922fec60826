"""Lengths in TOML files: keys that end in `_mm`, or in `_in` for inches. Inside they are always in mm."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from pegwright.config.checks import Check, decimal, matched, refuse_quoted
from pegwright.config.fields import Table
from pegwright.frozen import frozen
from pegwright.units import MM_PER_IN, LengthUnit
from pegwright.wheel import Wheel

_DIGITS = 9  # decimals of a mm to which inches are rounded, so that 2.54 mm and 0.1 in are one length


@frozen()
class LengthCheck:
    """The check of a length in each unit, each giving mm."""

    mm: Check[float]
    inches: Check[float]


def length(minimum_mm: float, maximum_mm: float, what: str = "", above: bool = False) -> LengthCheck:
    """A length from `minimum_mm` to `maximum_mm`; arguments as for `decimal`, `what` after the unit."""
    end = what and f": {what}"
    bounds = (minimum_mm / MM_PER_IN, maximum_mm / MM_PER_IN)
    inches = decimal(*bounds, f"in inches{end}, or a fraction in quotes", above)

    def read(value: object) -> float:
        return round(inches.read(_inches(value)) * MM_PER_IN, _DIGITS)

    return LengthCheck(decimal(minimum_mm, maximum_mm, f"in mm{end}", above), Check(inches.wanted, read))


def _inches(value: object) -> object:
    """A fraction such as `"3/32"` or `"1 1/2"` as a number; anything else as it is."""
    if not isinstance(value, str):
        return value
    refuse_quoted(value)
    match = matched(
        r"\s*(-?)\s*(?:([0-9]{1,5})[ -])?\s*([0-9]{1,5})\s*/\s*0*([1-9][0-9]{0,4})\s*", value, "is not a number"
    )
    size = int(match[2] or 0) + Fraction(int(match[3]), int(match[4]))
    return float(-size if match[1] else size)


def in_inches(key_mm: str) -> str:
    """The key of a length in inches, from that in mm."""
    return f"{key_mm.removesuffix('_mm')}_in"


def has_length(table: Table, key_mm: str) -> bool:
    """Whether a table has a length, in either unit; makes both keys known ones."""
    return any([table.has(key_mm), table.has(in_inches(key_mm))])


def read_length(
    table: Table, key_mm: str, check: LengthCheck, instead_mm: float, default_mm: float | None = None
) -> float:
    """The checked value of a length in mm, from its key in either unit.

    Args:
        table: that holds it.
        key_mm: its key in mm.
        check: of its value.
        instead_mm: stands in for a faulty value.
        default_mm: the value if both keys are left out; None if one is required.
    """
    key_in = in_inches(key_mm)
    if not table.has(key_in):
        return table.value(key_mm, check.mm, instead_mm, default=default_mm)
    if table.has(key_mm):
        table.fault(key_in, f"is given together with {key_mm}", "keep one of the two")
    return table.value(key_in, check.inches, instead_mm)


def unit_of(values: Mapping[str, object]) -> LengthUnit:
    """What lengths of a wheel are printed in: the unit of its radius; without one, inches if any length is in them.

    Args:
        values: of the whole file, as TOML gave them.
    """
    geometry = values.get("geometry")
    if isinstance(geometry, dict) and "radius_mm" in geometry:
        return LengthUnit.MM
    tables = [table for value in values.values() for table in (value if isinstance(value, list) else [value])]
    keys = {key for table in tables if isinstance(table, dict) for key in table}
    return LengthUnit.IN if any(key.endswith("_in") for key in keys) else LengthUnit.MM


def length_key(wheel: Wheel, key_mm: str) -> str:
    """The key of a length in the unit of a wheel, for messages."""
    return in_inches(key_mm) if wheel.unit is LengthUnit.IN else key_mm
