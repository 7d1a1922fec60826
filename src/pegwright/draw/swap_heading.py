"""The heading of swap sheets and call lists: which song becomes which, where the plate stood, what moves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.draw.furniture import LINE_MORE_MM, MARGIN_MM, centred, fitted_text, two_ends
from pegwright.draw.lettering import CAP_HEIGHT, fitted, shown, width_mm
from pegwright.drawing import Anchor, Pen, Shape, Text, rectangle
from pegwright.placement import PinMap
from pegwright.swapping import Swap
from pegwright.units import printed

EMPTY_PLATES = "empty plates"
ARROW = " → "
TITLE_MM, FACTS_MM = 6.4, 3.4
_SMALLER_TITLES_MM = (5.5, 4.7)  # tried before it is shortened
_STOOD_MM = 4.0
_BOX_MM, _BOX_PAD_MM = 6.4, 2.0  # height of the box about words that ask for another plate; beside them
_TITLE_Y_MM, _FACTS_Y_MM = 5.2, 11.0  # baselines, from the margin
_SECOND_LINE_MM, _MOVES_MORE_MM = 8.4, 9.4
UPRIGHT_MORE_MM = _MOVES_MORE_MM + LINE_MORE_MM
_BOX = Pen(stroke=None, fill=0.0)


def swap_title(old: PinMap | None, new: PinMap) -> str:
    """`The one song → the other`."""
    return (old.title if old else EMPTY_PLATES) + ARROW + new.title


def stood_words(swap: Swap, plate: int, bare: bool = False) -> str:
    """Where the plate stood before that is to stand at a place (0-based).

    Args:
        swap: gives the place.
        plate: the place, 0-based.
        bare: whether the plates carry nothing; of one that stays nothing is said then.
    """
    before = swap.came_from[plate]
    if bare and before == plate:
        return ""
    return "this plate stays in its place" if before == plate else f"this plate stood at place {printed(before)}"


def moved_counts(swap: Swap, plate: int) -> tuple[int, int, int]:
    """Pins to pull, to set and to leave alone on the plate at a place (0-based)."""
    pull, set_pins, stay = (
        int(np.count_nonzero(moves.plate == plate)) for moves in (swap.pull, swap.set_pins, swap.stay)
    )
    return pull, set_pins, stay


def swap_heading(
    width: float,
    swap: Swap,
    plate: int,
    titles: tuple[PinMap | None, PinMap],
    subject: str,
    facts: Sequence[str],
    moves: str,
    keep_mm: float,
    upright: bool,
) -> tuple[Shape, ...]:
    """Which song becomes which, which place this is and where its plate stood, what moves.

    On paper that lies across, songs and place share a line, and so do facts and moves; upright, each has
    a line of its own, which makes the heading `UPRIGHT_MORE_MM` taller.

    Args:
        width: of the page in mm.
        swap: gives the place where the plate stood.
        plate: the place, 0-based.
        titles: what the plates carry, what they are to carry.
        subject: what the page is.
        facts: shortened where they do not fit.
        moves: what moves on the plate.
        keep_mm: room to leave free at the right.
        upright: whether the paper is held upright.
    """
    left, right = MARGIN_MM, width - MARGIN_MM - keep_mm
    room_mm = right - left
    first_y, facts_y = MARGIN_MM + _TITLE_Y_MM, MARGIN_MM + _FACTS_Y_MM
    subject = fitted(subject, TITLE_MM, room_mm, bold=True)
    subject_mm = width_mm(subject, TITLE_MM, bold=True) + 4
    old, new = titles
    words, moved = stood_words(swap, plate, old is None), swap.came_from[plate] != plate
    if upright:
        second_y = first_y + _SECOND_LINE_MM
        stood, _ = stood_box(words, moved, left + subject_mm, second_y, room_mm - subject_mm, Anchor.START)
        return (
            songs(old, new, room_mm),
            Text(left, second_y, subject, TITLE_MM, bold=True),
            *stood,
            fitted_text(left, facts_y + _MOVES_MORE_MM, moves, FACTS_MM, room_mm),
            fitted_text(left, facts_y + UPRIGHT_MORE_MM, " · ".join(facts), FACTS_MM, room_mm),
        )
    stood, stood_mm = stood_box(words, moved, right - subject_mm, first_y, room_mm - subject_mm, Anchor.END)
    return (
        songs(old, new, room_mm - subject_mm - stood_mm - 4),
        *stood,
        Text(right, first_y, subject, TITLE_MM, Anchor.END, bold=True),
        *two_ends(facts_y, " · ".join(facts), moves, FACTS_MM, right),
    )


def stood_box(
    words: str, moved: bool, x_mm: float, y_mm: float, room_mm: float, anchor: Anchor
) -> tuple[tuple[Shape, ...], float]:
    """Where the plate stood, white on black if it comes from another place.

    Args:
        words: that say so; empty for none.
        moved: whether it comes from another place.
        x_mm: the end that `anchor` names: start or end.
        y_mm: the baseline of the title beside it.
        room_mm: shortened to this.
        anchor: start or end.

    Returns:
        shapes and their width in mm.
    """
    pad = _BOX_PAD_MM if moved else 0.0
    words = fitted(words, _STOOD_MM, room_mm - 2 * pad, bold=moved)
    if not words:
        return (), 0.0
    wide = width_mm(words, _STOOD_MM, bold=moved) + 2 * pad
    left = x_mm if anchor is Anchor.START else x_mm - wide
    middle = y_mm - CAP_HEIGHT * TITLE_MM / 2
    text = centred(left + pad, middle, words, _STOOD_MM, Anchor.START, bold=moved, grey=1.0 if moved else 0.0)
    if not moved:
        return (text,), wide
    top, bottom = middle - _BOX_MM / 2, middle + _BOX_MM / 2
    return (rectangle(left, top, left + wide, bottom, _BOX), text), wide


def songs(old: PinMap | None, new: PinMap, room_mm: float) -> Text:
    """Both titles in one line, smaller or, where that is not enough, each shortened to its share.

    Args:
        old: what the plates carry; None where they are empty.
        new: what they are to carry.
        room_mm: the maximum width.
    """
    line = shown(swap_title(old, new))
    for size_mm in (TITLE_MM, *_SMALLER_TITLES_MM):
        if width_mm(line, size_mm, bold=True) <= room_mm:
            break
    else:
        titles = (old.title if old else EMPTY_PLATES, new.title)
        half_mm = (room_mm - width_mm(ARROW, size_mm, bold=True)) / 2
        spare_mm = max(0.0, half_mm - min(width_mm(title, size_mm, bold=True) for title in titles))
        line = ARROW.join(fitted(title, size_mm, half_mm + spare_mm, bold=True) for title in titles)
    return fitted_text(MARGIN_MM, MARGIN_MM + _TITLE_Y_MM, line, size_mm, room_mm, bold=True)
