"""What leads and the placement do to notes meant together, in the fit report as text."""

from __future__ import annotations

from pegwright.tell.audible import FLAM_RISK_MS
from pegwright.tell.leads import SongApart
from pegwright.units import plural
from pegwright.wheel import Wheel
from pegwright.write.tables import Line, TextTable, channel_line, one_line

LISTED = 5  # pairs of channels before "and N more"
NAME_CELLS = 20
PLACE_CELLS = 60
_INDENT = "  "


def apart_lines(wheel: Wheel, apart: SongApart) -> list[Line]:
    """The channels that sound apart where they are meant together, the worst first; nothing where there are none.

    Args:
        wheel: with the channels.
        apart: of the song.
    """
    if not apart.pairs:
        return []
    rows = [
        (
            f"{pair.apart_ms:.1f} ms",
            f"{_name(wheel, pair.later)} after {_name(wheel, pair.first)}",
            plural(pair.moments, "time"),
            f"{pair.leads_ms:+.1f}",
            f"{pair.placed_ms:+.1f}" if pair.placed_ms else "0",
            one_line(pair.where.in_words, PLACE_CELLS),
        )
        for pair in apart.pairs[:LISTED]
    ]
    header = ["", "", "", "leads ms", "placement ms", "farthest at"]
    more = len(apart.pairs) - LISTED
    return [
        f"Meant together, {FLAM_RISK_MS:g} ms apart or more in sound: {plural(len(apart.pairs), 'pair')} of channels",
        f"{_INDENT}from about {FLAM_RISK_MS:g} ms on the order of two sounds is heard: a guide, not a pass mark;"
        " pegwright leads says what takes leads away",
        TextTable(header, rows, left=(1, 5), indent=_INDENT),
        *([f"{_INDENT}and {more:,} more"] if more > 0 else []),
    ]


def _name(wheel: Wheel, channel: int) -> str:
    return channel_line(wheel.channels[channel].name, channel, NAME_CELLS)
