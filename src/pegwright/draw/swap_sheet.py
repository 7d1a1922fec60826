"""The swap sheet: the printed page that turns one song's plate into another's."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.draw.bars import BarMark
from pegwright.draw.counts import CountLine, counts
from pegwright.draw.furniture import MARGIN_MM
from pegwright.draw.legend import legend, pin_entries, plate_entries, swap_entries
from pegwright.draw.marks import change_mark, pin_mark, pull_mark, stay_mark
from pegwright.draw.paper import Paper
from pegwright.draw.plate_grid import bar_lines, bar_ruler, frame, holes
from pegwright.draw.plate_page import (
    LEGEND_Y_MM,
    NO_NOTES,
    SheetNotes,
    code,
    code_room_mm,
    marks_in,
    page_foot,
    page_words,
    refuse_unmarkable,
    song_facts,
    step_table,
    types_words,
    views,
)
from pegwright.draw.sheet_fit import HoleColumns, Surround, closest_pins, sheet_layout
from pegwright.draw.sheet_layout import View, scale_text
from pegwright.draw.swap_heading import UPRIGHT_MORE_MM, moved_counts, swap_heading, swap_title
from pegwright.drawing import Page, Shape, Use
from pegwright.placement import PinMap
from pegwright.swapping import Swap
from pegwright.wheel import Wheel


def swap_sheets(
    wheel: Wheel,
    swap: Swap,
    old: PinMap | None,
    new: PinMap,
    bars: Sequence[BarMark],
    paper: Paper,
    notes: SheetNotes = NO_NOTES,
) -> tuple[Page, ...]:
    """The swap sheets of a swap: one page a plate, or several where one would be too small to read.

    Args:
        wheel: its plates and holes.
        swap: what moves; `new` is what stays and what is set.
        old: the pin map that the plates carry; None where they are empty.
        new: the one they are to carry.
        bars: where the new song's bars fall on the turn; may be empty.
        paper: turned so that marks are larger.
        notes: what else to print; its code names the new map.

    Raises:
        UsageError: the wheel has more rows or pin types than there are marks.
    """
    refuse_unmarkable(wheel)
    surround = swap_surround(wheel, swap, notes)
    layout = sheet_layout(wheel, paper, closest_pins(wheel, swap.pull, swap.set_pins, swap.stay), surround)
    return tuple(_page(view, swap, old, new, bars, notes, surround) for view in views(wheel, layout))


def swap_surround(wheel: Wheel, swap: Swap, notes: SheetNotes = NO_NOTES) -> Surround:
    """The surround of the plate on a swap sheet; its legend has only marks that occur in the swap.

    Args:
        wheel: for names.
        swap: what moves.
        notes: hold the code.
    """
    every = (swap.pull, swap.set_pins, swap.stay)
    rows = np.concatenate([moves.row for moves in every]).tolist()
    changes = bool(_hole_keys(swap.pull) & _hole_keys(swap.set_pins))
    entries = (
        *swap_entries(min(rows, default=0), changes),
        *pin_entries(wheel, rows, swap.set_pins.pin_type.tolist(), "in row"),
        *plate_entries(wheel),
    )
    return Surround(entries, count_lines=4, keep_mm=code_room_mm(notes), upright_mm=UPRIGHT_MORE_MM)


def _page(
    view: View,
    swap: Swap,
    old: PinMap | None,
    new: PinMap,
    bars: Sequence[BarMark],
    notes: SheetNotes,
    surround: Surround,
) -> Page:
    layout = view.layout
    items = (
        Use(frame(view.wheel, layout, view.part), 0.0, 0.0),
        *bar_lines(view, bars),
        Use(holes(view), 0.0, 0.0),
        *_marks(view, swap),
        *bar_ruler(view, bars),
        *counts(view, _count_lines(view, swap)),
        *_heading(view, swap, old, new, notes, surround),
        *page_foot(view, notes),
    )
    return Page(
        layout.width_mm, layout.height_mm, items, f"{swap_title(old, new)}, {page_words(view, 'place').lower()}"
    )


def _marks(view: View, swap: Swap) -> tuple[Shape, ...]:
    """Marks of pins that stay, over them those of pins that are pulled, over these those of pins that are set."""
    size_mm = view.layout.mark_mm
    pulled, set_here = _hole_keys(swap.pull), _hole_keys(swap.set_pins)
    shapes: list[Shape] = []
    for _, row, x_mm, y_mm in marks_in(view, swap.stay):
        shapes += stay_mark(row, x_mm, y_mm, size_mm)
    for pin, row, x_mm, y_mm in marks_in(view, swap.pull):
        if _hole_key(swap.pull, pin) not in set_here:
            shapes += pull_mark(row, x_mm, y_mm, size_mm)
    for pin, row, x_mm, y_mm in marks_in(view, swap.set_pins):
        mark = change_mark if _hole_key(swap.set_pins, pin) in pulled else pin_mark
        shapes += mark(row, int(swap.set_pins.pin_type[pin]), x_mm, y_mm, size_mm)
    return tuple(shapes)


def _count_lines(view: View, swap: Swap) -> list[CountLine]:
    """Pins that were on the plate, minus those pulled, plus those set: those on it now."""
    pull, set_pins, stay = (
        step_table(view.wheel, moves, view.plate) for moves in (swap.pull, swap.set_pins, swap.stay)
    )
    return [
        CountLine("was", "was", stay + pull, bold=False),
        CountLine("− pull", "− pull", pull, zeros=False),
        CountLine("+ set", "+ set", set_pins, zeros=False),
        CountLine("= now", "= now", stay + set_pins),
    ]


def _heading(
    view: View, swap: Swap, old: PinMap | None, new: PinMap, notes: SheetNotes, surround: Surround
) -> tuple[Shape | Use, ...]:
    wheel, width, keep_mm, upright = view.wheel, view.layout.width_mm, surround.keep_mm, view.layout.upright
    facts = [*song_facts(wheel, new, notes), f"scale {scale_text(view.layout.scale)}"]
    pull, set_pins, stay = moved_counts(swap, view.plate)
    set_here = swap.set_pins.pin_type[swap.set_pins.plate == view.plate]
    types = types_words(wheel, set_here, len(np.unique(swap.set_pins.pin_type)))
    moves = f"pull {pull:,} · set {set_pins:,}{types} · {stay:,} stay"
    legend_y_mm = MARGIN_MM + LEGEND_Y_MM + (surround.upright_mm if upright else 0.0)
    subject = page_words(view, "place", notes)
    return (
        *swap_heading(width, swap, view.plate, (old, new), subject, facts, moves, keep_mm, upright),
        *legend(surround.legend, MARGIN_MM, legend_y_mm, width - 2 * MARGIN_MM - keep_mm),
        *code(width, notes),
    )


def _hole_keys(moves: HoleColumns) -> set[tuple[int, ...]]:
    return {_hole_key(moves, pin) for pin in range(len(moves.plate))}


def _hole_key(moves: HoleColumns, pin: int) -> tuple[int, ...]:
    return tuple(int(column[pin]) for column in (moves.plate, moves.channel, moves.row, moves.index))
