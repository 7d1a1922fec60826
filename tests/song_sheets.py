"""The pin sheets of one set of plates of a song, without the document that they are printed in."""

from __future__ import annotations

from pegwright.draw.paper import Paper
from pegwright.draw.pin_sheet import pin_sheets
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.drawing import Page
from pegwright.song import FittedSong
from pegwright.song_pipeline.printed import printed_song


def song_sheets(song: FittedSong, pinning: int, paper: Paper, style: SheetStyle = PLAIN) -> tuple[Page, ...]:
    """The pin sheets of one pinning of a song.

    Args:
        song: on its wheel.
        pinning: which of its sets of plates, 0-based.
        paper: for what is printed.
        style: of the sheets.
    """
    each = printed_song(song, style).sets[pinning]
    return pin_sheets(song.wheel, each.pins, each.bars, paper, each.notes)
