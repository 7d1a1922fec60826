"""Checks and pins of a map as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from math import isnan

from pegwright.correct.checked import Checked
from pegwright.correct.find import TimedPin
from pegwright.correct.names import edit_words, with_letter
from pegwright.correct.values import NOTE_KEYS, HandPin
from pegwright.json_value import Json
from pegwright.units import printed
from pegwright.wheel import Wheel
from pegwright.write.json_text import json_file, rounded
from pegwright.write.pin_map.columns import HOLE_COLUMNS, hole_cells

CHECK_FORMAT, FIND_FORMAT = "pegwright pin check", "pegwright pins found"
VERSION = 1


def checked_json(checked: Checked, wheel: Wheel) -> bytes:
    """What a check found, for programs.

    Args:
        checked: the maps and their faults.
        wheel: of the maps.
    """
    document: dict[str, Json] = {
        "maps": [
            {"set": each.letter or None, "map_sha256": each.sha256, "pins": len(each.pins)} for each in checked.maps
        ],
        "edits": [with_letter(edit.letter, edit_words(wheel, edit)) for edit in checked.edits],
        "times_checked": not checked.untimed,
        "findings": [
            {"set": each.letter or None, "code": finding.code, "message": finding.message}
            for each in checked.maps
            for finding in each.wheel_findings
        ],
        "faults": [
            {
                "set": fault.letter or None,
                "rule": fault.rule,
                "message": fault.words,
                "pins": [_pin(pin, wheel) for pin in fault.pins],
            }
            for fault in checked.faults
        ],
    }
    return json_file(CHECK_FORMAT, VERSION, document)


def pins_json(pins: Sequence[TimedPin], wheel: Wheel) -> bytes:
    """Pins that were looked for, for programs.

    Args:
        pins: by set of plates, then time.
        wheel: of the map.
    """
    rows: list[Json] = [
        {
            "set": each.letter or None,
            "when": each.when,
            "sound_s": None if isnan(each.sound_s) else rounded(each.sound_s),
            **_pin(each.pin, wheel),
            **dict(zip(NOTE_KEYS, each.pin.cells, strict=True)),
        }
        for each in pins
    ]
    return json_file(FIND_FORMAT, VERSION, {"pins": rows})


def _pin(pin: HandPin, wheel: Wheel) -> dict[str, Json]:
    """A pin with its hole; by numbers alone where the wheel does not have them."""
    channel, plate, row, number = pin.hole
    known = channel < len(wheel.channels) and row < len(wheel.rows) and pin.pin_type < len(wheel.pin_types)
    if known:
        cells = dict(zip(HOLE_COLUMNS, hole_cells(wheel, channel, row, number, pin.pin_type), strict=True))
        return {"plate": printed(plate), **cells}
    numbers = {"channel": channel, "row": row, "hole": number, "pin_type": pin.pin_type}
    return {"plate": printed(plate), **{key: printed(value) for key, value in numbers.items()}}
