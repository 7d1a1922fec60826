"""Makes `fonts/widths.json` from the fonts of the sheets: the width of every character, in runs of codes.

Run: python tests/font_widths.py
"""

from __future__ import annotations

import json
from io import BytesIO
from itertools import groupby
from pathlib import Path

from fontTools.ttLib import TTFont

from pegwright.package_data import FONT_WIDTHS, font_bytes

PLACE = Path(__file__).parents[1] / "src" / "pegwright" / FONT_WIDTHS


def widths(bold: bool) -> tuple[int, dict[int, int]]:
    """Units to the size, and the advance width of every character code, as fontTools reads them."""
    font = TTFont(BytesIO(font_bytes(bold)), lazy=True)
    return font["head"].unitsPerEm, {code: font["hmtx"][glyph][0] for code, glyph in font.getBestCmap().items()}


def document() -> str:
    """The file: for each weight, runs of a first code and the widths from it on."""
    runs: dict[str, list[tuple[int, list[int]]]] = {}
    for name, bold in (("plain", False), ("bold", True)):
        units, advances = widths(bold)
        run_of = groupby(enumerate(sorted(advances)), key=lambda each: each[1] - each[0])
        codes = [[code for _, code in run] for _, run in run_of]
        runs[name] = [(run[0], [advances[code] for code in run]) for run in codes]
    return json.dumps({"units": units, **runs}, separators=(",", ":")) + "\n"


if __name__ == "__main__":
    PLACE.write_text(document(), encoding="utf-8")
