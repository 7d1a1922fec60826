"""Lettering in single strokes, which a graver or a laser follows: figures, capitals and a few marks.

A letter stands on a grid 4 wide and 6 high; a point is two figures, x and y, strokes are parted by commas.
"""

from __future__ import annotations

from typing import TypeAlias

from pegwright.making import Marks, MarkText

Stroke: TypeAlias = tuple[tuple[float, float], ...]
ADVANCE, WIDTH = 0.8, 0.55  # from a letter to the next, and width of a letter, as shares of its height
_GRID_HIGH, _GRID_WIDE = 6, 4
_UNKNOWN = "00 40 46 06 00"  # a box stands for a letter that there is none of
_START = {"start": 0.0, "middle": 0.5, "end": 1.0}
_LETTERS = {
    " ": "",
    "0": "10 30 41 45 36 16 05 01 10",
    "1": "04 26 20,10 30",
    "2": "05 16 36 45 43 00 40",
    "3": "05 16 36 45 44 33 23,33 42 41 30 10 01",
    "4": "30 36 02 42",
    "5": "46 06 03 33 42 41 30 10 01",
    "6": "45 36 16 05 01 10 30 41 42 33 13 02",
    "7": "06 46 10",
    "8": "13 04 05 16 36 45 44 33 13 02 01 10 30 41 42 33",
    "9": "01 10 30 41 45 36 16 05 04 13 33 44",
    "A": "00 26 40,12 32",
    "B": "00 06 36 45 44 33 03,33 42 41 30 00",
    "C": "45 36 16 05 01 10 30 41",
    "D": "00 06 26 44 42 20 00",
    "E": "46 06 00 40,03 33",
    "F": "46 06 00,03 33",
    "G": "45 36 16 05 01 10 30 41 43 23",
    "H": "00 06,40 46,03 43",
    "I": "10 30,20 26,16 36",
    "J": "01 10 30 41 46",
    "K": "00 06,46 02,13 40",
    "L": "06 00 40",
    "M": "00 06 23 46 40",
    "N": "00 06 40 46",
    "O": "10 30 41 45 36 16 05 01 10",
    "P": "00 06 36 45 44 33 03",
    "Q": "10 30 41 45 36 16 05 01 10,22 40",
    "R": "00 06 36 45 44 33 03,23 40",
    "S": "45 36 16 05 04 13 33 42 41 30 10 01",
    "T": "06 46,26 20",
    "U": "06 01 10 30 41 46",
    "V": "06 20 46",
    "W": "06 10 23 30 46",
    "X": "00 46,06 40",
    "Y": "06 23 46,23 20",
    "Z": "06 46 00 40",
    "-": "03 43",
    "+": "03 43,21 25",
    ".": "20 21",
    ",": "21 10",
    "/": "00 46",
    ":": "21 22,24 25",
    "=": "02 42,04 44",
}


def mark_strokes(marks: Marks) -> tuple[Stroke, ...]:
    """Everything that is engraved, as strokes in mm on the table: lines, then texts."""
    return (*marks.lines, *(stroke for text in marks.texts for stroke in text_strokes(text)))


def text_strokes(text: MarkText) -> tuple[Stroke, ...]:
    """A text as strokes in mm on the table; small letters are capitals."""
    letters = text.text.upper()
    high, advance = text.height_mm / _GRID_HIGH, ADVANCE * text.height_mm
    length_mm = advance * len(letters) - (ADVANCE - WIDTH) * text.height_mm if letters else 0.0
    left, low = text.x_mm - _START[text.anchor] * length_mm, text.y_mm - text.height_mm / 2
    wide = WIDTH * text.height_mm / _GRID_WIDE
    return tuple(
        tuple((left + place * advance + int(point[0]) * wide, low + int(point[1]) * high) for point in stroke.split())
        for place, letter in enumerate(letters)
        for stroke in _LETTERS.get(letter, _UNKNOWN).split(",")
        if stroke
    )
