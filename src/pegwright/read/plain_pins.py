"""A fast check that the pins of a map are as the schema has them, for maps of thousands of pins.

The schema's own validator takes a second for 5,000 pins. Where every pin is plainly sound, it is given the map
without them; where one is not, it is given all of it, and says what is wrong.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

_MAX_NUMBER = 1_000_000  # as `number` in the schema
_STEP = re.compile(r"[1-9][0-9]{0,5}(?:[.][0-9]{1,2}|(?: [1-9][0-9]{0,5}/[1-9][0-9]{0,5}))?")
_NUMBERS = ("channel", "row", "hole", "pin_type")
_TEXTS = ("channel_name", "row_name", "pin_type_name")
_PITCHES = (("pitch_midi", "pitch"), ("written_pitch_midi", "written_pitch", "channel_pitch_midi", "channel_pitch"))
_LENGTHS = ("along_mm", "across_mm")
_NO_TEXT, _NO_NUMBER = (str, type(None)), (int, float, type(None))


def without_plain_pins(document: dict[str, Any], version: int) -> dict[str, Any]:
    """The document for the validator: without its pins where all of them are plainly as the schema has them.

    Args:
        document: of a pin map.
        version: that it states.
    """
    plates = document.get("plates")
    if not isinstance(plates, list) or not all(
        isinstance(plate, dict) and isinstance(plate.get("pins"), list) for plate in plates
    ):
        return document
    pitches = _PITCHES[version > 2]
    if not all(_are_plain(plate["pins"], pitches) for plate in plates):
        return document
    return {**document, "plates": [{**plate, "pins": []} for plate in plates]}


def _are_plain(pins: Iterable[Any], pitches: tuple[str, ...]) -> bool:
    steps: set[str] = set()
    for pin in pins:
        if type(pin) is not dict:
            return False
        try:
            numbers = [pin[key] for key in _NUMBERS]
            note, step = pin["note"], pin["step"]
            if note is not None:
                numbers.append(note)
            plain = (
                all(type(number) is int and 1 <= number <= _MAX_NUMBER for number in numbers)
                and all(type(pin[key]) is str for key in _TEXTS)
                and all(type(pin[key]) in {int, float} for key in _LENGTHS)
                and type(pin["source"]) in _NO_TEXT
                and type(pin["deviation_ms"]) in _NO_NUMBER
                and all(_is_pitch(pin[key], key) for key in pitches)
                and type(step) is str
            )
        except KeyError:
            return False
        if not plain:
            return False
        steps.add(step)
    return all(_STEP.fullmatch(step) for step in steps)


def _is_pitch(value: object, key: str) -> bool:
    if value is None:
        return True
    if not key.endswith("_midi"):
        return type(value) is str
    return type(value) is int and (key == "channel_pitch_midi" or 0 <= value <= 127)
