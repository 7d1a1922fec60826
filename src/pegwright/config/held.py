"""How the plates of a plate file are held along the rim: `[held]` with the shims that are owned."""

from __future__ import annotations

from pegwright.config.checks import NAME, decimal, one_of, whole
from pegwright.config.fields import Table
from pegwright.config.lengths import has_length, length, read_length
from pegwright.making import Climate, Held, Holding, Material, Shim
from pegwright.plate.material import expansion_of
from pegwright.wheel import Wheel

MAX_SHIM_KINDS = 12
MAX_CLIMATES = 8
HUNDREDTH_MM = 0.01  # seams are planned in whole hundredths

_HOW = one_of(tuple(Holding), "way of holding plates")
_CLEARANCE = length(0, 2)
_CELSIUS = decimal(-50, 150, "in degrees Celsius")
_HUMIDITY = decimal(0, 100, "in per cent of relative humidity")
_EXPANSION = decimal(0, 0.001, "a kelvin, such as 11.4e-6")
_THICKNESS = length(HUNDREDTH_MM, 10)


def read_held(top: Table, wheel: Wheel) -> Held | None:
    """How plates are held; None where the file does not say.

    Args:
        top: of the plate file.
        wheel: whose plates they are.
    """
    if not top.has("held"):
        return None
    table = top.table("held")
    how = Holding(table.value("how", _HOW, Holding.DOWELLED))
    datum = table.value("datum_plate", whole(1, wheel.plate_count, "the plate that stays where it is"), 1, default=1)
    butted = how is Holding.BUTTED
    if butted and has_length(table, "clearance_mm"):
        table.fault("clearance_mm", "is for dowelled plates, and these are butted", "leave it out")
    clearance_mm = 0.0 if butted else read_length(table, "clearance_mm", _CLEARANCE, 0.0)
    shims = _read_shims(table)
    if shims and not butted:
        table.fault("shim", "is for butted plates, and these are dowelled", "take the shims out")
    rim, climates = _read_rim(table), _read_climates(table)
    if climates and rim is None and table.faults.none_in(table.at("rim_material")):
        table.fault("rim_material", "is missing, and [[held.climate]] is given", "say what the rim is of")
    humidity_percent = table.value("reference_humidity_percent", _HUMIDITY, 50.0, default=50.0)
    table.close()
    return Held(how, datum - 1, clearance_mm, shims, rim, humidity_percent, climates)


def _read_rim(table: Table) -> Material | None:
    """What the rim is of, with the maker's own expansion, or that of a table."""
    own = table.value("rim_expansion_per_k", _EXPANSION, 0.0) if table.has("rim_expansion_per_k") else None
    if not table.has("rim_material"):
        return None
    name = table.value("rim_material", NAME, "rim")
    published = expansion_of(name)
    if own is None and published is None and table.faults.none_in(table.at("rim_material")):
        table.fault("rim_expansion_per_k", f"is missing, and {name} is in no table of ours", "give the maker's value")
    return Material(name, published.usual if own is None and published else own)


def _read_climates(table: Table) -> tuple[Climate, ...]:
    climates = []
    for each in table.tables("climate", MAX_CLIMATES):
        celsius = each.value("celsius", _CELSIUS, 20.0)
        humidity_percent = each.value("humidity_percent", _HUMIDITY, 50.0, default=50.0)
        climates.append(Climate(each.value("name", NAME, "climate"), celsius, humidity_percent))
        each.close()
    return tuple(climates)


def _read_shims(table: Table) -> tuple[Shim, ...]:
    shims: dict[int, Shim] = {}
    for each in table.tables("shim", MAX_SHIM_KINDS):
        thickness_mm = read_length(each, "thickness_mm", _THICKNESS, 1.0)
        shim = Shim(thickness_mm, each.value("count", whole(1, 10_000, "that are owned"), 1))
        each.close()
        hundredths = round(thickness_mm / HUNDREDTH_MM)
        if hundredths in shims and each.faults.none_in(each.path):
            message = f"{thickness_mm:g} mm is a duplicate to the hundredth of a mm"
            each.fault("thickness_mm", message, "give all shims of one thickness in one table")
        shims[hundredths] = shim
    return tuple(shims[key] for key in sorted(shims, reverse=True))
