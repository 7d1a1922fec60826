"""Data that ships with the package: the only module below the outer rooms that reads a file, and none but its own."""

from __future__ import annotations

from importlib.resources import files

_FONTS = {False: "DejaVuSansCondensed.ttf", True: "DejaVuSansCondensed-Bold.ttf"}
RHYTHM_COUNTS = "played/prior.json"  # its place in the package


def font_bytes(bold: bool) -> bytes:
    """The TrueType file of one weight of the sheets' font."""
    return (files("pegwright") / "fonts" / _FONTS[bold]).read_bytes()


def rhythm_counts_text() -> str:
    """How common rhythms are, as JSON text; `tests/benchmarks/learn_performed.py` makes it."""
    return (files("pegwright") / RHYTHM_COUNTS).read_text(encoding="utf-8")
