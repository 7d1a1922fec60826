"""Makes what is derived from the fonts of the sheets: `fonts/widths.json`, the width of every character in runs of
codes, and of each font a cut of the characters that nearly all texts need, which a PDF library reads in an eighth of
the time.

Run: python tests/font_widths.py
"""

from __future__ import annotations

import json
from io import BytesIO
from itertools import groupby
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

from pegwright.package_data import COMMON_FONTS, FONT_WIDTHS, font_bytes

PACKAGE = Path(__file__).parents[1] / "src" / "pegwright"
PLACE = PACKAGE / FONT_WIDTHS
# Source: Unicode, Blocks.txt: Latin to Latin Extended-B; Greek and Cyrillic; punctuation; arrows and mathematical
# operators; geometric shapes; miscellaneous symbols, the notes and accidentals among them.
COMMON_CODES = [
    code
    for first, past in ((0x20, 0x250), (0x370, 0x530), (0x2000, 0x2070), (0x2190, 0x2300), (0x25A0, 0x2670))
    for code in range(first, past)
]

POSTSCRIPT_NAME = 6  # Source: OpenType, the table "name"


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


def common_font(bold: bool) -> bytes:
    """The font with the common characters alone, its outlines and widths unchanged."""
    # A PDF file holds no tables of layout.
    options = Options(layout_features=[], notdef_outline=True, drop_tables=["FFTM", "GPOS", "GSUB", "GDEF"])
    font = TTFont(BytesIO(font_bytes(bold)), recalcBBoxes=False, recalcTimestamp=False)
    cutter = Subsetter(options)
    cutter.populate(unicodes=COMMON_CODES)
    cutter.subset(font)
    for record in font["name"].names:
        if record.nameID == POSTSCRIPT_NAME:  # PDF libraries tell fonts by it
            record.string = f"{record.toUnicode()}-Common"
    cut = BytesIO()
    font.save(cut)
    return cut.getvalue()


if __name__ == "__main__":
    PLACE.write_text(document(), encoding="utf-8")
    for weight, name in COMMON_FONTS.items():
        (PACKAGE / name).write_bytes(common_font(weight))
