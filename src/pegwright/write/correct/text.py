"""Checks, corrections and pins of a map as plain text."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.correct.checked import Checked, Correction
from pegwright.correct.find import BEFORE, HERE, TimedPin
from pegwright.correct.names import edit_words, inverse, step_words, with_letter
from pegwright.correct.values import Edit, WorkingMap
from pegwright.units import plural, printed
from pegwright.wheel import Wheel
from pegwright.write.tables import LINE_CELLS, Line, TextTable, one_line, paragraphs

TITLE_CELLS = 60
NAME_CELLS = 20
_INDENT = "  "


def checked_text(checked: Checked, wheel: Wheel, width: int = LINE_CELLS) -> str:
    """What a check found.

    Args:
        checked: the maps and their faults.
        wheel: of the maps.
        width: cells of a line.
    """
    maps = checked.maps
    sets = f" on {plural(len(maps), 'set')} of plates" if len(maps) > 1 else ""
    head: list[Line] = [f"{_title(maps)}: {plural(checked.pin_count, 'pin')}{sets}."]
    head += [
        with_letter(working.letter, f"{plural(len(working.edits), 'edit')} made by hand since the fit.")
        for working in maps
        if working.edits and not checked.edits
    ]
    blocks: list[Sequence[Line]] = [head, *_wheel_blocks(maps)]
    if checked.edits:
        words = "The CSV files differ from the map. As edits, which `pegwright edit` makes:"
        blocks.append([words, *_edit_lines(checked.edits, wheel)])
    if checked.untimed:
        blocks.append(["No tempo is known, so re-strike and limits were not checked: give it with --tempo."])
    if checked.faults:
        count = plural(len(checked.faults), "fault")
        blocks.append([f"{count}:", *(f"{_INDENT}{fault.line}" for fault in checked.faults)])
    else:
        blocks.append(["No rule is broken: every pin is in a hole of its own, and none is too near another."])
    return paragraphs(blocks, width)


def kept_lines(faults: Sequence[str]) -> list[str]:
    """What `edit --force` left in a map, for who makes it and who prints its sheets."""
    return [f"{plural(len(faults), 'fault')} kept in the map:", *(f"{_INDENT}{fault}" for fault in faults)]


def correction_text(correction: Correction, wheel: Wheel, width: int = LINE_CELLS) -> str:
    """What edits changed, and how to undo them.

    Args:
        correction: the maps before and after.
        wheel: of the maps.
        width: cells of a line.
    """
    edits = correction.edits
    blocks: list[Sequence[Line]] = [[f"{plural(len(edits), 'edit')}:", *_edit_lines(edits, wheel)]]
    if correction.kept:
        blocks.append(kept_lines([fault.line for fault in correction.kept]))
    hashes = []
    for before, after in zip(correction.before, correction.after, strict=True):
        if before.pins != after.pins:
            pins = f"{plural(len(before.pins), 'pin')} before, {len(after.pins):,} after"
            back = "; the map of the fit again" if not after.edits else ""
            words = f"{pins}; hash {before.sha256[:12]} before, {after.sha256[:12]} after{back}."
            hashes.append(with_letter(after.letter, words))
    blocks.append(hashes)
    blocks.append([f"To undo {'it' if len(edits) == 1 else 'them'}:", *_edit_lines(inverse(edits), wheel)])
    return paragraphs(blocks, width)


def pins_text(pins: Sequence[TimedPin], maps: Sequence[WorkingMap], wheel: Wheel, width: int = LINE_CELLS) -> str:
    """Pins that were looked for.

    Args:
        pins: by set of plates, then time.
        maps: in which they were looked for.
        wheel: of the maps.
        width: cells of a line.
    """
    here = sum(each.when == HERE for each in pins)
    head = [f"{_title(maps)}: {plural(here, 'pin')}{' here' if here < len(pins) else ''}."]
    if not here and pins:
        head = [f"{_title(maps)}: no pin sounds there. The nearest before and after:"]
    several = len({working.letter for working in maps}) > 1
    timed = all(working.us_per_quarter for working in maps)
    before = ["", *(["set"] if several else []), *(["time"] if timed else [])]
    header = [*before, "plate", "channel", "place", "pin", "note", "source"]
    rows = [_row(each, wheel, several, timed) for each in pins]
    plate = len(before)
    left = {0, int(several), *range(plate + 1, plate + 6)}
    table = TextTable(header, rows, left=left, below=((plate + 5,), (plate + 3,)))
    return paragraphs([head, *_wheel_blocks(maps), *([[table]] if rows else [])], width)


def _wheel_blocks(maps: Sequence[WorkingMap]) -> list[list[Line]]:
    """What changed about the wheel since maps were written that concerns no pin, one block if there is something."""
    lines: list[Line] = [finding.sentence for working in maps for finding in working.wheel_findings]
    return [lines] if lines else []


def _row(each: TimedPin, wheel: Wheel, several: bool, timed: bool) -> list[str]:
    """The cells of a pin.

    Args:
        each: the pin.
        wheel: that it is in.
        several: whether the song has several sets of plates.
        timed: whether the tempo is known.
    """
    pin = each.pin
    note, late = pin.cells[3], pin.cells[-1]
    moved = f" {late:+.0f} ms" if isinstance(late, int | float) and round(late) else ""
    held = " (holds on)" if pin.begins == 0 else ""
    return [
        {HERE: "", BEFORE: "before"}.get(each.when, each.when),
        *([each.letter] if several else []),
        *([f"{each.sound_s:.3f} s"] if timed else []),
        str(printed(pin.hole.plate)),
        f"{printed(pin.hole.channel)} {one_line(wheel.channels[pin.hole.channel].name, NAME_CELLS)}",
        step_words(wheel, pin.hole),
        wheel.pin_types[pin.pin_type].name,
        f"{note or 'set by hand'}{held}{moved}",
        str(pin.cells[1] or "").partition(":")[2],  # all are of one file
    ]


def _edit_lines(edits: Sequence[Edit], wheel: Wheel) -> list[str]:
    return [f"{_INDENT}{with_letter(edit.letter, edit_words(wheel, edit))}" for edit in edits]


def _title(maps: Sequence[WorkingMap]) -> str:
    first = maps[0]
    title = first.title.removesuffix(f" ({first.letter})") if len(maps) > 1 else first.title
    return one_line(title, TITLE_CELLS)
