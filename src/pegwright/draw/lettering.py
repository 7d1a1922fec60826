"""Lettering: the characters of the sheets' font and their widths, read from the font itself."""

from __future__ import annotations

import math
import unicodedata
from bisect import bisect_right
from functools import lru_cache
from itertools import accumulate

from pegwright.drawing import Anchor, Text
from pegwright.package_data import font_widths

FONT_NAME = "DejaVu Sans Condensed"
MISSING = "□"  # stands for a character that the font lacks
ELLIPSIS = "…"
CAP_HEIGHT = 0.729  # height of a capital as a share of the size; Source: the font's own H, 1493 / 2048


def shown(text: str) -> str:
    """`text` as one line that the font can show; a second pass changes nothing.

    White space becomes a space, invisible format characters (among them those that change the
    reading direction) are removed, and any other character that the font lacks becomes a box.
    """
    if text.isascii() and text.isprintable():
        return text
    kept = []
    for character in text:
        if character.isspace():
            kept.append(" ")
        elif character in _showable():
            kept.append(character)
        elif unicodedata.category(character) != "Cf":
            kept.append(MISSING)
    return "".join(kept)


def width_mm(text: str, size_mm: float, bold: bool = False) -> float:
    """Width of a line of text in mm, as `shown` returns it.

    Args:
        text: one line.
        size_mm: of the letters.
        bold: whether it is bold.
    """
    return _width_of_size(text, bold) * size_mm


@lru_cache(maxsize=8192)  # sheets print the same step numbers on every page
def _width_of_size(text: str, bold: bool) -> float:
    """Width of a line of text as a share of the size of its letters."""
    widths = font_widths(bold)
    return sum(widths[character] for character in shown(text))


def fitted(text: str, size_mm: float, room_mm: float, bold: bool = False) -> str:
    """`text` as shown, shortened with an ellipsis where it is too wide; empty if nothing fits.

    Args:
        text: one line.
        size_mm: of the letters.
        room_mm: the maximum width.
        bold: whether it is bold.
    """
    line = shown(text)
    if width_mm(line, size_mm, bold) <= room_mm:
        return line
    widths = font_widths(bold)
    ends = list(accumulate(widths[character] for character in line))
    fitting = bisect_right(ends, room_mm / size_mm - widths[ELLIPSIS])
    return line[:fitting].rstrip() + ELLIPSIS if fitting else ""


def fitting_mm(text: str, size_mm: float, room_mm: float, bold: bool, least_mm: float) -> float:
    """The size at which `text` fits, if that is between `least_mm` and `size_mm`; else the nearer of the two.

    Args:
        text: one line.
        size_mm: of the letters where there is room for them.
        room_mm: the maximum width.
        bold: whether it is bold.
        least_mm: minimum size; above `size_mm` the letters get no smaller.
    """
    wide_mm = width_mm(text, size_mm, bold)
    if not text or wide_mm <= room_mm:
        return size_mm
    fits_mm = math.floor(100 * size_mm * max(0.0, room_mm) / wide_mm) / 100
    return min(size_mm, max(least_mm, fits_mm))


def wrapped(text: str, size_mm: float, room_mm: float) -> list[str]:
    """`text` in as few lines as it takes, broken between words; no line for an empty text.

    Args:
        text: one line.
        size_mm: of the letters.
        room_mm: the maximum width, which a single word may exceed.
    """
    lines: list[str] = []
    for word in shown(text).split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_mm(longer, size_mm) <= room_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def text_span_mm(text: Text) -> tuple[float, float]:
    """Where a text begins and ends along its own baseline, from its point, in mm."""
    width = width_mm(text.text, text.size_mm, text.bold)
    begin = {Anchor.START: 0.0, Anchor.MIDDLE: -width / 2, Anchor.END: -width}[text.anchor]
    return begin, begin + width


@lru_cache(maxsize=1)
def _showable() -> frozenset[str]:
    """The characters that both weights have, except control, format and private ones."""
    return frozenset(
        character
        for character in font_widths(False).keys() & font_widths(True).keys()
        if unicodedata.category(character)[0] != "C"
    )
