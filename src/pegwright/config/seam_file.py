"""The seam file: TOML to one measured error a seam. The format is told in docs/hearing-a-song.md."""

from __future__ import annotations

from pathlib import Path

from pegwright.config.checks import Number, Whole
from pegwright.config.fields import Table, TooManyFaultsError, parse_toml, read_bytes
from pegwright.errors import ConfigError
from pegwright.wheel import Wheel


def load_seams(path: Path, wheel: Wheel) -> tuple[float, ...]:
    """The seam errors of a file, in mm, one for each plate of the wheel: that of the seam after it.

    Raises:
        UsageError: the file cannot be read.
        ConfigError: it has faults; all of them.
    """
    data = read_bytes(path, "name a seam file")
    return parse_seams(data, str(path), wheel)


def parse_seams(data: bytes, where: str, wheel: Wheel) -> tuple[float, ...]:
    """The seam errors of a file's bytes; see `load_seams`. Seams that the file does not name have none."""
    top, faults = parse_toml(data, where)
    errors_mm = [0.0] * wheel.plate_count
    told: set[int] = set()
    most_mm = int(wheel.step_mm * 50) / 100
    try:
        table = Table(top, "", faults)
        for seam in table.tables("seam", wheel.plate_count, least=1):
            plate = seam.value("after_plate", Whole(1, wheel.plate_count, "the plate before the seam"), 0)
            error_mm = seam.value("error_mm", Number(-most_mm, most_mm, "in mm: half a step"), 0.0)
            seam.close()
            if plate in told:
                seam.fault("after_plate", f"the seam after plate {plate} is there already", "take one out")
            if plate:
                told.add(plate)
                errors_mm[plate - 1] = error_mm
        table.close()
    except TooManyFaultsError:
        raise ConfigError(faults.found, where=where) from None
    if faults.found:
        raise ConfigError(faults.found, where=where)
    return tuple(errors_mm)
