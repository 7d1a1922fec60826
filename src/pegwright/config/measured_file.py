"""The file of measured plates: TOML to lengths along the rim, as docs/seams-and-tolerances.md describes it."""

from __future__ import annotations

from pathlib import Path

from pegwright.config.checks import one_of, whole
from pegwright.config.fields import Table, read_bytes, toml_table
from pegwright.config.file_kinds import FileKind
from pegwright.config.lengths import LengthCheck, length, read_length
from pegwright.config.plate_order import read_order, read_set
from pegwright.frozen import frozen
from pegwright.making import Layer, PlateFile
from pegwright.plate.bend import flat_ratio, measured_k
from pegwright.plate.measured import Measured, MeasuredPlate, nominal_plate, row_ends_mm
from pegwright.units import listed
from pegwright.wheel import Wheel

_ABOVE = length(0, 100_000, above=True)
_EDGE = length(0, 10_000)
_RADIUS = length(1, 100_000)


@frozen()
class _RimReader:
    """What every length of a file is read by.

    Args:
        wheel: whose plates they are.
        layer: of the plate that carries pins, outermost.
        scale: rim radius over the radius at which lengths were measured.
        nominal: a plate as the wheel file has it.
    """

    wheel: Wheel
    layer: Layer
    scale: float
    nominal: MeasuredPlate

    def at_rim(self, table: Table, key_mm: str, check: LengthCheck, nominal_mm: float | None = None) -> float:
        """A length of a table, brought to the rim.

        Args:
            table: that holds it.
            key_mm: its key.
            check: of its value as it was measured.
            nominal_mm: on the rim, if it can be left out.
        """
        default_mm = None if nominal_mm is None else nominal_mm / self.scale
        return self.scale * read_length(table, key_mm, check, 1.0, default_mm)

    def plate(self, table: Table) -> MeasuredPlate:
        """One plate; without its edges they are as the wheel file has them."""
        arc_mm = self.at_rim(table, "arc_mm", _ABOVE)
        if table.faults.none_in(table.path):
            self._check_arc(table, arc_mm)
        lead_mm = self.at_rim(table, "lead_mm", _EDGE, self.nominal.lead_mm)
        trail_mm = self.at_rim(table, "trail_mm", _EDGE, self.nominal.trail_mm)
        table.close()
        return MeasuredPlate(arc_mm, lead_mm, trail_mm)

    def _check_arc(self, table: Table, arc_mm: float) -> None:
        """Refuse a length that the flat plate cannot have been bent to."""
        wheel = self.wheel
        flat_mm = self.nominal.arc_mm * flat_ratio(self.layer, wheel.geometry.radius_mm)
        k = measured_k(self.layer, flat_mm, arc_mm * self.layer.radius_mm / wheel.geometry.radius_mm)
        if not 0 <= k <= 1:
            message = (
                f"{arc_mm:.2f} mm on the rim is what no k explains: {flat_mm:.2f} mm flat, with k = {k:.2f}, outside 0"
                " to 1"
            )
            table.fault(
                "arc_mm", message, "measure along the arc, not straight across, and give radius_mm, at which it was"
            )


def load_measured(path: Path, plate: PlateFile, wheel: Wheel) -> tuple[Measured, int]:
    """The plates of a file, and the row by whose holes they were measured.

    Args:
        path: of the file.
        plate: the plate file that they were made by.
        wheel: that it names.

    Raises:
        UsageError: the file cannot be read.
        ConfigError: it has faults; all of them.
    """
    return parse_measured(read_bytes(path, "name a file of measured plates"), str(path), plate, wheel)


def parse_measured(data: bytes, where: str, plate: PlateFile, wheel: Wheel) -> tuple[Measured, int]:
    """The plates of a file's bytes, and the row by whose holes they were measured.

    Args:
        data: TOML in UTF-8.
        where: the file's name, for faults.
        plate: the plate file that they were made by.
        wheel: that it names.

    Raises:
        ConfigError: the file has faults; all of them.
    """
    with toml_table(data, where, FileKind.MEASURED) as top:
        set_number = read_set(top, wheel)
        wheel = wheel.of_set(set_number - 1)
        names = [row.name for number, row in enumerate(wheel.rows) if row_ends_mm(wheel, number)]
        row_name = top.value("row", one_of(names, "row with holes"), names[0], default=names[0])
        row = [each.name for each in wheel.rows].index(row_name)
        rim_mm = wheel.geometry.radius_mm
        scale = rim_mm / read_length(top, "radius_mm", _RADIUS, rim_mm, rim_mm)
        layer = next((each for each in plate.layers if each.pin_holes), plate.layers[0])
        reader = _RimReader(wheel, layer, scale, nominal_plate(wheel, row))
        order = read_order(top, wheel) or tuple(range(1, wheel.plate_count + 1))
        if all([top.has("gap"), top.has("plate")]):
            top.fault("gap", "is given together with [[plate]]", "keep one of the two")
        gaps_mm: tuple[float, ...] = ()
        if top.has("gap"):
            gaps_mm = _read_gaps(top, reader)
            plates = (reader.nominal,) * wheel.plate_count
        else:
            plates = tuple(map(reader.plate, _numbered(top, "plate", "plate", wheel)))
        top.close()
        return Measured(set_number, order, plates, gaps_mm), row


def _read_gaps(top: Table, reader: _RimReader) -> tuple[float, ...]:
    gaps_mm = []
    for table in _numbered(top, "gap", "after_plate", reader.wheel):
        gaps_mm.append(reader.at_rim(table, "gap_mm", _EDGE))
        table.close()
    turn_mm = reader.wheel.geometry.circumference_mm
    if sum(gaps_mm) > turn_mm:
        message = f"gaps add up to {sum(gaps_mm):.2f} mm, more than the turn, {turn_mm:.2f} mm"
        top.fault("gap", message, "measure them again, in mm")
    return tuple(gaps_mm)


def _numbered(top: Table, key: str, number_key: str, wheel: Wheel) -> list[Table]:
    """The tables of a list, one for each plate of the wheel, by the plate that each names.

    Args:
        top: of the file.
        key: of the list.
        number_key: of the plate's number.
        wheel: whose plates they are.
    """
    tables: dict[int, Table] = {}
    for table in top.tables(key, wheel.plate_count, minimum=1):
        number = table.value(number_key, whole(1, wheel.plate_count, "by its place on the rim"), 0)
        if number and number in tables:
            table.fault(number_key, f"{number} is a duplicate", "give each plate once")
        tables[number] = table
    missing = [str(number) for number in range(1, wheel.plate_count + 1) if number not in tables]
    if missing and top.faults.none_in(key):
        what = "the seam after plate" if key == "gap" else "plate"
        top.fault(key, f"{what} {listed(missing)} is missing", f"add a [[{key}]] for every plate of the turn")
    return [tables[number] for number in sorted(tables)]
