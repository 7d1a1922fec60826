"""Whether the pins of a wheel can stand side by side.

Pins of one channel may touch where rows are near each other or collars are off their holes: the fit then uses one of
the two holes. Plain pins of one row, and pins of different channels, must never touch, and no two holes may run into
each other.
"""

from __future__ import annotations

from functools import partial

from pegwright.clearance import Near, NearestHoles
from pegwright.config.fields import Faults
from pegwright.config.lengths import length_key
from pegwright.grid import LENGTH_SLACK_MM
from pegwright.units import length_text, printed
from pegwright.wheel import Wheel


def check_pins_apart(wheel: Wheel, faults: Faults) -> None:
    """Note holes of a sound wheel that are too close, the nearest two of each kind, as far as its lengths are known."""
    rim, geometry, text = NearestHoles(wheel), wheel.geometry, partial(length_text, unit=wheel.unit)
    pins_mm = geometry.apart_mm
    pins = (
        f"pins of {text(geometry.pin_diameter_mm)} with {text(geometry.pin_clearance_mm)} clearance"
        f" need {text(pins_mm)}"
    )
    holes = f"holes of {text(geometry.hole_diameter_mm)} run into each other"
    lateral, pitch = length_key(wheel, "lateral_mm"), length_key(wheel, "channel_pitch_mm")

    def check(near: Near | None, needed_mm: float, why: str, path: str, hint: str, verb: str = "are") -> None:
        if near and near.apart_mm < needed_mm - LENGTH_SLACK_MM:
            faults.add(path, f"{_apart_words(wheel, near, verb)}; {why}", hint)

    if geometry.pins_known:
        hint = "give fewer phases, thinner pins or a larger wheel"
        for row, near in rim.in_rows():
            check(near, pins_mm, pins, f"row[{printed(row)}].phases", hint)
    if geometry.holes_known:
        hint = f"set the rows further apart with {lateral}"
        for row, near in rim.between_rows():
            check(near, geometry.hole_diameter_mm, holes, f"row[{printed(row)}].{lateral}", hint)
    if geometry.pins_known:
        hint = f"give a larger {pitch} or smaller {lateral}"
        verb = "can hold collars" if rim.nearer_mm else "are"
        check(rim.between_channels(), pins_mm, pins, f"geometry.{pitch}", hint, verb)


def _apart_words(wheel: Wheel, near: Near, verb: str = "are") -> str:
    """Which two holes they are, and how far apart."""
    (channel, *first), (other_channel, *second) = near.first, near.second
    holes = [f'hole {printed(index)} of row "{wheel.rows[row].name}"' for row, index in (first, second)]
    if channel != other_channel:
        names = (wheel.channels[channel].name, wheel.channels[other_channel].name)
        holes = [f'{hole} on "{name}"' for hole, name in zip(holes, names, strict=True)]
    return f"{holes[0]} and {holes[1]} {verb} {length_text(near.apart_mm, wheel.unit, 3)} apart"
