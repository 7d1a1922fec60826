"""One swap by itself: from what a set of plates carries now to another pin map, or to a song at its best start."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from pegwright.config.one_song import UNSAID, SetSong
from pegwright.errors import UsageError
from pegwright.facts import require_all_lengths
from pegwright.findings import Finding
from pegwright.frozen import frozen
from pegwright.placement import PinMap
from pegwright.read.pinmap import is_pin_map, read_map_file
from pegwright.show.swap import exchangeable, swap
from pegwright.show.work import Works
from pegwright.show_pipeline.plan import empty_map
from pegwright.show_pipeline.songs import fit_at, pin_types, ready_song
from pegwright.song import FittedSong, PinnedSong
from pegwright.swapping import Swap
from pegwright.tell.counts import count_words
from pegwright.units import fraction_text, plural, printed
from pegwright.wheel import Wheel

if TYPE_CHECKING:
    from pegwright.draw.bars import BarMark
    from pegwright.draw.paper import Paper
    from pegwright.draw.sheet_style import SheetStyle


@frozen(eq=False)
class OneSwap:
    """A swap and what it is for.

    Args:
        wheel: the wheel.
        old: what the plates carry.
        new: what they are to carry.
        swap: from `old` to `new`.
        fitted: the fit of the new song; None where a pin map was given.
        starts: at how many starts the song loses no more than at its best; this is the one of minimum work.
        findings: of reading the maps.
    """

    wheel: Wheel
    old: PinMap
    new: PinMap
    swap: Swap
    fitted: FittedSong | None
    starts: int
    findings: tuple[Finding, ...] = ()


def one_swap(old_path: Path | None, new: SetSong, wheel: Wheel, fixed: Sequence[int]) -> OneSwap:
    """Compute the swap from a pin map to another one or to a song.

    Args:
        old_path: the pin map that the plates carry; None for empty plates.
        new: the pin map or score file, and for a score how it is to be fitted.
        wheel: what both are for.
        fixed: places (0-based) whose plates stay.

    Raises:
        InputError: a file cannot be read, or a map is for another wheel.
        UsageError: the song takes more than a turn, or a plate does not exist.
    """
    old, findings = carried(old_path, wheel)
    if is_pin_map(new.score):
        if new.request != UNSAID:
            message = "a pin map is not fitted: options of the fit go with a score"
            raise UsageError(message, where=str(new.score), hint="leave them out, or give the score")
        wanted = read_map_file(new.score, wheel=wheel)
        moves = swap(old, wanted.pins, wheel, fixed)
        return OneSwap(wheel, old, wanted.pins, moves, None, 1, (*findings, *wanted.findings))
    allowed = exchangeable(wheel, fixed)
    song = ready_song(new, wheel, allowed)
    if len(song.pinnings) > 1:
        raise UsageError(
            f"it takes {plural(len(song.running), 'turn')} of the wheel with {len(song.pinnings)} different pinnings",
            where=new.score.name,
            hint="choose the bars of one turn with --bars, or plan all of them with `pegwright set`",
        )
    works = Works([pin_types(old, wheel)[None], song.pinnings[0]], allowed)
    fitted = fit_at(song, song.starts[int(works.between(0, 1)[0].argmin())])
    pins = fitted.turns[0].pins
    moves = swap(old, pins, wheel, fixed)
    return OneSwap(wheel, old, pins, moves, fitted, len(song.starts), findings)


def carried(path: Path | None, wheel: Wheel) -> tuple[PinMap, tuple[Finding, ...]]:
    """What plates carry, and findings of reading it.

    Args:
        path: of its pin map, or of the folder that has it; None for empty plates.
        wheel: the wheel.

    Raises:
        InputError: the map cannot be read, or is for another wheel.
    """
    if path is None:
        return empty_map(wheel), ()
    file = read_map_file(path, wheel=wheel)
    return file.pins, file.findings


def swap_facts(planned: OneSwap) -> list[str]:
    """What the heading of a call list says beside the counts."""
    fitted, changed = planned.fitted, [finding.sentence for finding in planned.findings]
    if fitted is None:
        return changed
    start = fraction_text(printed(fitted.options.start_steps))
    others = "the only start" if planned.starts == 1 else f"the start of minimum work of {planned.starts}"
    begins = f"The song begins on step {start}, {others} at which it loses least."
    return [begins, f"{count_words(fitted.count)}.", *changed]


def one_swap_files(planned: OneSwap, paper: Paper, spares_percent: float, style: SheetStyle) -> dict[str, bytes]:
    """The files of the swap, and those of the song where one was fitted: file name -> contents.

    Args:
        planned: the swap.
        paper: for what is printed.
        spares_percent: spares of each pin type, for the count of the song.
        style: of the sheets.
    """
    from pegwright.draw.pin_sheet import SheetNotes, bar_marks  # noqa: PLC0415  # drawing is loaded for files alone
    from pegwright.show_pipeline.files import swap_files  # noqa: PLC0415
    from pegwright.song_pipeline.files import label_files, place_words, song_files  # noqa: PLC0415
    from pegwright.song_pipeline.fitting import remedies_for  # noqa: PLC0415
    from pegwright.write.qr import map_qr  # noqa: PLC0415

    wheel, new, fitted = planned.wheel, planned.new, planned.fitted
    require_all_lengths(wheel)
    marks: Sequence[BarMark] = ()
    notes = SheetNotes(qr=map_qr(new), style=style)
    if fitted:
        marks = bar_marks(fitted.turns[0].score, wheel, fitted.turns[0].placement)
        notes = replace(notes, start_steps=fitted.options.start_steps, place=place_words(fitted, 0))
    files = swap_files(wheel, planned.swap, (planned.old, new), swap_facts(planned), paper, notes, marks)
    of_song = song_files(fitted, remedies_for(fitted), paper, spares_percent, style) if fitted else {}
    return {f"swap{ending}": data for ending, data in files.items()} | label_files(wheel, paper, style) | of_song


def files_from(old: PinMap, song: FittedSong | PinnedSong, paper: Paper, style: SheetStyle) -> dict[str, bytes]:
    """The files of the swap from what plates carry to each set of plates of a song: file name -> contents.

    Args:
        old: what the plates carry.
        song: fitted, or read from pin maps.
        paper: for what is printed.
        style: of the sheets.
    """
    from pegwright.draw.pin_sheet import SheetNotes, bar_marks  # noqa: PLC0415  # drawing is loaded for files alone
    from pegwright.show_pipeline.files import swap_files  # noqa: PLC0415
    from pegwright.song_pipeline.files import place_words  # noqa: PLC0415
    from pegwright.song_pipeline.map_files import pinned_bars, pinned_place  # noqa: PLC0415
    from pegwright.write.qr import map_qr  # noqa: PLC0415

    named: dict[str, bytes] = {}
    wheel = song.wheel
    pinned = song.pinned if isinstance(song, FittedSong) else song
    for pinning, turn in enumerate(pinned.pinnings):
        marks = pinned_bars(turn)
        place = pinned_place(pinned, pinning)
        if isinstance(song, FittedSong):
            marks = bar_marks(song.pinnings[pinning].score, wheel, song.pinnings[pinning].placement)
            place = place_words(song, pinning)
        notes = SheetNotes(start_steps=turn.start_steps, qr=map_qr(turn.pins), place=place, style=style)
        moves = swap(old, turn.pins, wheel)
        folder = f"{song.letter(pinning)}/" if song.several_turns else ""
        files = swap_files(wheel, moves, (old, turn.pins), (), paper, notes, marks)
        named |= {f"{folder}swap{ending}": data for ending, data in files.items()}
    return named
