"""The seam file: TOML to one measured error a seam. The format is described in docs/hearing-a-song.md."""

from __future__ import annotations

from pathlib import Path

from pegwright.config.checks import whole
from pegwright.config.fields import read_bytes, toml_table
from pegwright.config.file_kinds import FileKind
from pegwright.config.lengths import length, read_length
from pegwright.config.plate_order import read_order, read_set
from pegwright.errors import UsageError
from pegwright.facts import require_lengths
from pegwright.frozen import frozen
from pegwright.wheel import Wheel


@frozen()
class SeamFile:
    """What a seam file says.

    Args:
        errors_mm: one for each plate of the wheel, that of the seam after it.
        set_number: of the set of plates that was measured, from 1; None if not given.
        order: number of the plate at each place, from 1; empty if not given.
    """

    errors_mm: tuple[float, ...]
    set_number: int | None = None
    order: tuple[int, ...] = ()


def load_seams(path: Path, wheel: Wheel) -> SeamFile:
    """The seam errors of a file, with the plates that they hold for.

    Raises:
        UsageError: the file cannot be read.
        ConfigError: it has faults; all of them.
    """
    data = read_bytes(path, "name a seam file")
    return parse_seams(data, str(path), wheel)


def parse_seams(data: bytes, where: str, wheel: Wheel) -> SeamFile:
    """The seam errors of a file's bytes; 0 for seams that the file does not name.

    Args:
        data: TOML in UTF-8.
        where: the file's name, for faults.
        wheel: whose seams they are.

    Raises:
        ConfigError: the file has faults; all of them.
    """
    errors_mm: dict[int, float] = {}  # by the printed number of the plate before the seam; 0 where that is faulty
    if not wheel.geometry.seams:
        raise UsageError("the drum of this wheel has no seams", where=where, hint="leave the seam file out")
    require_lengths(wheel, ("radius_mm",), "a seam's error is a time only if the radius is known")
    max_mm = int(wheel.step_mm * 50) / 100
    with toml_table(data, where, FileKind.SEAMS) as table:
        set_number = read_set(table, wheel) if table.has("set") else None
        order = read_order(table, wheel)
        for seam in table.tables("seam", wheel.plate_count, minimum=1):
            plate = seam.value("after_plate", whole(1, wheel.plate_count, "the plate before the seam"), 0)
            error_mm = read_length(seam, "error_mm", length(-max_mm, max_mm, "half a step"), 0.0)
            seam.close()
            if plate and plate in errors_mm:
                seam.fault("after_plate", f"the seam after plate {plate} is given twice", "take one out")
            errors_mm[plate] = error_mm
        table.close()
    errors = (errors_mm.get(plate, 0.0) for plate in range(1, wheel.plate_count + 1))
    return SeamFile(tuple(errors), set_number, order)
