"""What may be off in a plate file: `[tolerances]`, a table for each source, as docs/seams-and-tolerances.md has it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from pegwright.config.checks import decimal, one_of, whole
from pegwright.config.fields import Table
from pegwright.config.lengths import length, read_length
from pegwright.frozen import frozen
from pegwright.making import Held, Holding, Layer, Source, Spread, Tolerance
from pegwright.plate.tolerance import DIVISORS, pin_lean_mm, pin_sheet_mm

MAX_CYCLES = 1000

_SPREAD = one_of(tuple(Spread), "distribution")
_HALF_WIDTH = length(0, 10, "half of the way from the least to the greatest", above=True)
_TIR = length(0, 20, "total indicator reading", above=True)
_CLEARANCE = length(0, 10, "hole diameter less pin diameter", above=True)
_HEIGHT = length(0, 100, "of the pin's tip above the outer face", above=True)
_K = decimal(0, 1, "as a share of the thickness", above=True)
_KELVIN = decimal(0, 100, "in kelvin", above=True)
_PERCENT = decimal(0, 50, "in per cent of the speed", above=True)
_CYCLES = whole(1, MAX_CYCLES, "in a turn")


@frozen()
class _ToleranceReader:
    """What tolerances are read with: the layer with pin holes, all layers, and how plates are held."""

    layer: Layer
    layers: tuple[Layer, ...]
    held: Held | None

    def one(self, source: Source, table: Table) -> Tolerance:
        """The tolerance of a table."""
        readers: dict[Source, Callable[[Table], Tolerance]] = {
            Source.REGISTER: self._register,
            Source.RUN_OUT: _run_out,
            Source.K: self._k,
            Source.HEAT: self._heat,
            Source.PIN_LEAN: self._pin_lean,
            Source.SPEED: _speed,
        }
        read = readers.get(source)
        if read is not None:
            return read(table)
        return Tolerance(source, read_length(table, "half_width_mm", _HALF_WIDTH, 0.0), _spread(table))

    def _register(self, table: Table) -> Tolerance:
        held, default_mm = self.held, None
        if held is not None and held.how is Holding.BUTTED:
            default_mm = 0.0  # the table is to go, so nothing is missing in it
            table.faults.add(table.path, "is for dowelled plates, and these are butted", f"take out [{table.path}]")
        elif held is not None and held.clearance_mm > 0:
            default_mm = held.clearance_mm
        half_width_mm = read_length(table, "half_width_mm", _HALF_WIDTH, 0.0, default_mm)
        return Tolerance(Source.REGISTER, half_width_mm, _spread(table))

    def _k(self, table: Table) -> Tolerance:
        """Where the file has a strip, what it measured, unless a half-width is given."""
        uncertainty = self.layer.k_uncertainty
        if uncertainty and not table.has("half_width"):
            return Tolerance(Source.K, DIVISORS[Spread.NORMAL] * uncertainty, _spread(table, Spread.NORMAL))
        return Tolerance(Source.K, table.value("half_width", _K, 0.0), _spread(table))

    def _heat(self, table: Table) -> Tolerance:
        if self.held is None or self.held.rim is None:
            message = "needs what the rim is of: only the difference between plate and rim counts"
            table.faults.add(table.path, message, "give rim_material in [held]")
        elif self.layer.material.expansion_per_k is None:
            message = f"needs the expansion of the plate, and {self.layer.material.name} is in no table of ours"
            table.faults.add(table.path, message, "give expansion_per_k in [sheet] or [[layer]]")
        return Tolerance(Source.HEAT, table.value("half_width_kelvin", _KELVIN, 0.0), _spread(table))

    def _pin_lean(self, table: Table) -> Tolerance:
        clearance_mm = read_length(table, "clearance_mm", _CLEARANCE, 0.0)
        height_mm = read_length(table, "height_mm", _HEIGHT, 1.0)
        lean_mm = pin_lean_mm(clearance_mm, height_mm, pin_sheet_mm(self.layers))
        return Tolerance(Source.PIN_LEAN, lean_mm, _spread(table))


def read_tolerances(top: Table, layers: Sequence[Layer], held: Held | None) -> tuple[Tolerance, ...]:
    """The tolerances of a plate file, in the order of `Source`; none where it gives none.

    Args:
        top: of the file.
        layers: of the plate.
        held: how plates are held, if the file says so.
    """
    if not top.has("tolerances"):
        return ()
    table = top.table("tolerances")
    given = [source for source in Source if table.has(source)]
    pinned = next((each for each in layers if each.pin_holes), layers[0])
    reader = _ToleranceReader(pinned, tuple(layers), held)
    tolerances = []
    sound = top.faults.none_in("layer", "sheet") and _is_sound(held, top)
    for source in given:
        one = table.table(source)
        if sound:
            tolerances.append(reader.one(source, one))
            one.close()
    table.close()
    return tuple(tolerances)


def _is_sound(held: Held | None, top: Table) -> bool:
    """Whether what tolerances need of `[held]` was read, so that no fault of it is reported as one of theirs."""
    if held is None:
        return not top.misspelt("held")
    needed = ("how", "rim_material", "rim_expansion_per_k", *(["clearance_mm"] if held.how is Holding.DOWELLED else []))
    return top.faults.none_in(*(f"held.{key}" for key in needed))


def _spread(table: Table, default: Spread = Spread.RECTANGULAR) -> Spread:
    return Spread(table.value("distribution", _SPREAD, default, default=default))


def _run_out(table: Table) -> Tolerance:
    """Half of the total indicator reading is the greatest shift along the rim, which goes to and fro as a sine."""
    tir_mm = read_length(table, "tir_mm", _TIR, 0.0)
    return Tolerance(Source.RUN_OUT, tir_mm / 2, Spread.ARCSINE, 1)


def _speed(table: Table) -> Tolerance:
    percent = table.value("half_width_percent", _PERCENT, 0.0)
    cycles = table.value("cycles_per_turn", _CYCLES, 1, default=1)
    return Tolerance(Source.SPEED, percent / 100, Spread.ARCSINE, cycles)
