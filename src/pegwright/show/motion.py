"""How long it takes to pull and to set a pin by a standard of motion times, for users who have not measured it.

Source: MTM-1 (H. B. Maynard, G. J. Stegemerten, J. L. Schwab, Methods-Time Measurement, 1948; from memory).
Reach, grasp and move as in public copies of the data card; position, release, pressure and disengage from
memory and unconfirmed. The times are those of a trained hand at a normal pace. They include no time for finding
the hole, and no rest.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

TMU_S: Final = 0.036  # a time measurement unit is a hundred-thousandth of an hour

REACH_TO_JUMBLED: Final = 12.9  # R10C: 10 inches, to a box of pins
REACH_TO_PIN: Final = 11.5  # R10B: 10 inches, to a pin in its hole
GRASP_JUMBLED: Final = 9.1  # G4B: one of many, 6 to 25 mm
GRASP: Final = 2.0  # G1A
MOVE_TO_HOLE: Final = 13.5  # M10C: 10 inches, to an exact place
MOVE_TO_BOX: Final = 12.2  # M10B: 10 inches, to a place near enough
POSITION_LOOSE: Final = 5.6  # P1SE
POSITION_CLOSE: Final = 16.2  # P2SE
PRESS: Final = 10.6  # APA
EYE_FOCUS: Final = 7.3
DISENGAGE: Final = 7.5  # D2E: a close fit, slight recoil
RELEASE: Final = 2.0  # RL1


class PinFit(StrEnum):
    """How tightly pins sit in their holes."""

    LOOSE = "loose"  # drops in
    CLOSE = "close"  # goes in with a light push
    PRESSED = "pressed"  # looked for and pressed home


def set_tmu(fit: PinFit) -> float:
    """Time measurement units to take a pin from a box and set it in a hole that has been found."""
    position = POSITION_LOOSE if fit == PinFit.LOOSE else POSITION_CLOSE
    press = PRESS + EYE_FOCUS if fit == PinFit.PRESSED else 0.0
    return REACH_TO_JUMBLED + GRASP_JUMBLED + MOVE_TO_HOLE + position + press + RELEASE


def pull_tmu() -> float:
    """Time measurement units to pull a pin that has been found and to drop it into a box."""
    return REACH_TO_PIN + GRASP + DISENGAGE + MOVE_TO_BOX + RELEASE
