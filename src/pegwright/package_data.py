"""Data that ships with the package: the only module below the outer rooms that reads a file, and none but its own."""

from __future__ import annotations

import json
from functools import lru_cache
from pkgutil import get_data

_FONTS = {False: "DejaVuSansCondensed.ttf", True: "DejaVuSansCondensed-Bold.ttf"}
RHYTHM_COUNTS = "played/prior.json"  # its place in the package
FONT_WIDTHS = "fonts/widths.json"
COMMON_FONTS = {False: "fonts/common.ttf", True: "fonts/common-bold.ttf"}


def font_bytes(bold: bool) -> bytes:
    """The TrueType file of one weight of the sheets' font."""
    return data_bytes(f"fonts/{_FONTS[bold]}")


def common_font_bytes(bold: bool) -> bytes:
    """The same font with the characters alone that nearly all texts need; `tests/font_widths.py` makes it."""
    return data_bytes(COMMON_FONTS[bold])


@lru_cache(maxsize=2)
def font_widths(bold: bool) -> dict[str, float]:
    """Advance width of every character that a weight of the sheets' font has, as a share of the size.

    `tests/font_widths.py` makes the file from the fonts, so that nothing has to read a whole font for its widths.
    """
    document = json.loads(data_bytes(FONT_WIDTHS))
    units = document["units"]
    return {
        chr(first + number): advance / units
        for first, advances in document["bold" if bold else "plain"]
        for number, advance in enumerate(advances)
    }


def rhythm_counts_text() -> str:
    """How common rhythms are, as JSON text; `tests/benchmarks/learn_performed.py` makes it."""
    return data_bytes(RHYTHM_COUNTS).decode()


def data_bytes(name: str) -> bytes:
    """A file of the package.

    Args:
        name: its place in the package.
    """
    data = get_data("pegwright", name)
    if data is None:
        raise FileNotFoundError(name)  # no loader of Python's own
    return data
