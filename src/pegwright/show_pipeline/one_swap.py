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
from pegwright.read.pinmap import is_pin_map
from pegwright.show.swap import empty_map, exchangeable, swap
from pegwright.show.work import Works
from pegwright.show_pipeline.songs import fit_at, pin_types, ready_song
from pegwright.song import FittedSong
from pegwright.song_pipeline.fitting import wheel_for
from pegwright.song_pipeline.table_maps import map_file
from pegwright.swapping import Swap
from pegwright.tell.counts import count_words
from pegwright.units import fraction_text, plural, printed
from pegwright.wheel import Wheel

if TYPE_CHECKING:
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
        wanted = map_file(new.score, wheel)
        wheel = wheel.of_set(wanted.pins.plate_set if old.plate_set is None else old.plate_set)
        moves = swap(old, wanted.pins, wheel, fixed)
        return OneSwap(wheel, old, wanted.pins, moves, None, 1, (*findings, *wanted.findings))
    if old.plate_set is not None and new.request.plate_set is None:  # the new pins go into the same plates
        new = replace(new, request=replace(new.request, plate_set=old.plate_set))
    wheel = wheel_for(new.request, wheel)
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
    file = map_file(path, wheel)
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
    from pegwright.song_pipeline.files import (  # noqa: PLC0415  # drawing is loaded for files alone
        pin_maps,
        print_name,
        printed_files,
        report_files,
    )
    from pegwright.song_pipeline.printed import FromPlates, swap_document  # noqa: PLC0415
    from pegwright.write.pdf import document_pdf  # noqa: PLC0415
    from pegwright.write.swap.data import swap_csv, swap_json  # noqa: PLC0415

    wheel, old, new, moves = planned.wheel, planned.old, planned.new, planned.swap
    require_all_lengths(wheel)
    files = {"swap.json": swap_json(wheel, moves, old, new), "swap.csv": swap_csv(wheel, moves)}
    if planned.fitted:
        start = FromPlates(old if old.pin_count else None, (moves,))
        of_song = printed_files(planned.fitted, paper, spares_percent, style, start)
        return of_song | files | report_files(planned.fitted) | pin_maps(planned.fitted)
    document = swap_document(wheel, moves, (old, new), paper, style)
    return {print_name(paper): document_pdf(document)} | files
