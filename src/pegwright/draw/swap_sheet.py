"""The swap sheet: the printed page that turns one song's plate into another's."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pegwright.columns import distinct, tuples
from pegwright.draw.bars import BarMark
from pegwright.draw.counts import CountLine
from pegwright.draw.legend import PULL, SET, STAYS, plate_entries, swap_entries, type_entries
from pegwright.draw.marks import change_mark, pin_mark, pull_mark, stay_mark
from pegwright.draw.paper import Paper
from pegwright.draw.plate_page import (
    NO_NOTES,
    SheetNotes,
    edition_line,
    edition_words,
    most_in_a_step,
    plate_page,
    song_facts,
    subject_words,
    types_words,
    views,
)
from pegwright.draw.sheet_fit import Surround
from pegwright.draw.sheet_layout import View
from pegwright.draw.swap_heading import UPRIGHT_MORE_MM, moved_counts, swap_heading, swap_title
from pegwright.drawing import Page, Shape
from pegwright.placement import PinMap
from pegwright.swapping import Moves, Swap
from pegwright.wheel import Wheel

COUNT_WORDS = ("was", "− pull", "+ set", "= now")


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
    surround = swap_surround(wheel, swap, notes)
    pages = views(wheel, paper, surround, swap.pull, swap.set_pins, swap.stay)
    return tuple(_page(view, swap, (old, new), bars, notes, surround) for view in pages)


def swap_surround(wheel: Wheel, swap: Swap, notes: SheetNotes = NO_NOTES) -> Surround:
    """The surround of the plate on a swap sheet; its legend has only marks that occur in the swap.

    Args:
        wheel: for names.
        swap: what moves.
        notes: hold the code, the small print and the style.
    """
    every = (swap.pull, swap.set_pins, swap.stay)
    pull, set_rows, stay = (distinct(moves.row) for moves in every)
    changed = {row for _, _, row, _ in set(_holes(swap.pull)).intersection(_holes(swap.set_pins))}
    entries = (
        *swap_entries(wheel, {SET: set_rows, PULL: pull, STAYS: stay}, changed),
        *type_entries(wheel, min(set_rows, default=0), swap.set_pins.pin_type.tolist()),
        *plate_entries(wheel, notes.style),
    )
    most = sum(most_in_a_step(wheel, moves) for moves in every)
    return Surround(
        entries,
        count_words=COUNT_WORDS,
        figures=len(str(most)),
        keep_mm=notes.code_room_mm,
        upright_mm=UPRIGHT_MORE_MM,
        small_print=notes.small_print,
        style=notes.style,
    )


def _page(
    view: View,
    swap: Swap,
    maps: tuple[PinMap | None, PinMap],
    bars: Sequence[BarMark],
    notes: SheetNotes,
    surround: Surround,
) -> Page:
    width, upright = view.layout.width_mm, view.layout.upright
    pull, set_pins, stay = moved_counts(swap, view.plate)
    types = types_words(view.wheel, swap.set_pins, view.plate)
    moves = f"pull {pull:,} · set {set_pins:,}{types} · {stay:,} stay"
    subject, facts = subject_words(view, "place", notes), song_facts(view, notes)
    old, new = maps
    head = (
        *swap_heading(width, swap, view.plate, maps, subject, facts, moves, surround.keep_mm, upright),
        edition_line(view, surround, edition_words(new, notes, old)),
    )
    title = f"{swap_title(*maps)}, {view.words('place').lower()}"
    return plate_page(view, title, bars, _marks(view, swap), _count_lines(view, swap), head, surround, notes)


def _marks(view: View, swap: Swap) -> Iterator[Shape]:
    """Marks of pins that stay, over them those of pins that are pulled, over these those of pins that are set."""
    size_mm = view.layout.mark_mm
    pulled, set_here = _holes(swap.pull), _holes(swap.set_pins)
    changed = set(pulled) & set(set_here)
    for _, row, x_mm, y_mm in view.marks(swap.stay):
        yield from stay_mark(row, x_mm, y_mm, size_mm)
    for pin, row, x_mm, y_mm in view.marks(swap.pull):
        if pulled[pin] not in changed:
            yield from pull_mark(row, x_mm, y_mm, size_mm)
    for pin, row, x_mm, y_mm in view.marks(swap.set_pins):
        mark = change_mark if set_here[pin] in changed else pin_mark
        yield from mark(row, x_mm, y_mm, size_mm, int(swap.set_pins.pin_type[pin]))


def _count_lines(view: View, swap: Swap) -> list[CountLine]:
    """Pins that were on the plate, minus those pulled, plus those set: those on it now."""
    pull, set_pins, stay = (view.step_table(moves) for moves in (swap.pull, swap.set_pins, swap.stay))
    return [
        CountLine(COUNT_WORDS[0], COUNT_WORDS[0], stay + pull, bold=False),
        CountLine(COUNT_WORDS[1], COUNT_WORDS[1], pull, zeros=False),
        CountLine(COUNT_WORDS[2], COUNT_WORDS[2], set_pins, zeros=False),
        CountLine(COUNT_WORDS[3], COUNT_WORDS[3], stay + set_pins),
    ]


def _holes(moves: Moves) -> list[tuple[int, ...]]:
    """The hole of every pin that moves."""
    return tuples(moves.plate, moves.channel, moves.row, moves.index)
