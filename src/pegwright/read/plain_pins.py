"""A fast check that the pins of a map are as the schema has them, for maps of thousands of pins.

The schema's own validator takes a second for 5,000 pins. Where every pin is plainly sound, it is given the map
without them; where one is not, it is given all of it, and says what is wrong.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from operator import itemgetter
from typing import Any

_MAX_NUMBER = 1_000_000  # as `number` in the schema
_STEP = re.compile(r"[1-9][0-9]{0,5}(?:[.][0-9]{1,2}|(?: [1-9][0-9]{0,5}/[1-9][0-9]{0,5}))?")
_NUMBERS = itemgetter("channel", "row", "hole", "pin_type")
_TEXTS = itemgetter("channel_name", "row_name", "pin_type_name", "step")
_LENGTHS = itemgetter("along_mm", "across_mm")
_PITCHES = (
    (itemgetter("pitch_midi", "pitch"),),
    (itemgetter("written_pitch_midi", "written_pitch"), itemgetter("channel_pitch_midi", "channel_pitch")),
)
_INT, _TEXT, _NONE = {int}, {str}, type(None)
_LENGTH_TYPES, _DEVIATION_TYPES, _SOURCE_TYPES = {int, float}, {int, float, _NONE}, {str, _NONE}


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


def _are_plain(pins: Iterable[Any], pitches: tuple[itemgetter[Any], ...]) -> bool:
    steps: set[str] = set()
    for pin in pins:
        try:
            if not (type(pin) is dict and _is_plain(pin) and all(_is_pitch(*pitch(pin)) for pitch in pitches)):
                return False
            steps.add(pin["step"])
        except KeyError:
            return False
    return all(_STEP.fullmatch(step) for step in steps)


def _is_plain(pin: dict[str, Any]) -> bool:
    """Whether a pin has values of the right types, and numbers within their bounds."""
    numbers, note = _NUMBERS(pin), pin["note"]
    if note is not None:
        numbers += (note,)
    return (
        set(map(type, numbers)) == _INT
        and min(numbers) >= 1
        and max(numbers) <= _MAX_NUMBER
        and set(map(type, _TEXTS(pin))) == _TEXT
        and set(map(type, _LENGTHS(pin))) <= _LENGTH_TYPES
        and type(pin["source"]) in _SOURCE_TYPES
        and type(pin["deviation_ms"]) in _DEVIATION_TYPES
    )


def _is_pitch(midi: object, name: object) -> bool:
    """Whether a pitch is one, or not known; those beyond MIDI are left to the validator."""
    if midi is None:
        return name is None or type(name) is str
    return type(midi) is int and 0 <= midi <= 127 and (name is None or type(name) is str)
