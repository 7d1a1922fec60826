"""Edits of an earlier map made to another fit of the song: those that still apply, and why the others do not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pegwright.correct.apply import Bench, Edited, map_of
from pegwright.correct.faults import MapFault, new_faults
from pegwright.correct.names import edit_words, with_letter
from pegwright.correct.values import Edit, WorkingMap
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.wheel import Wheel


@frozen(eq=False)
class Reapplied:
    """Maps after the edits that still apply.

    Args:
        edited: the maps, and those edits.
        refused: each of the others in words, with the reason.
    """

    edited: Edited
    refused: tuple[tuple[str, str], ...]


def reapply(maps: Sequence[WorkingMap], edits: Sequence[Edit], wheel: Wheel) -> Reapplied:
    """Make the edits that can be made without breaking a rule.

    Args:
        maps: of the fit.
        edits: in the order in which they were made.
        wheel: of the maps.
    """
    wanted = list(edits)
    refused: list[tuple[str, str]] = []
    while True:
        edited, impossible = _tried(maps, wanted, wheel)
        faults = new_faults(maps, edited.maps, wheel)
        if not faults:
            return Reapplied(edited, (*refused, *((_words(wheel, edit), why) for edit, why in impossible)))
        guilty = _guilty(maps, wanted, wheel, faults)
        refused += [(_words(wheel, wanted[number]), why) for number, why in guilty.items()]
        wanted = [edit for number, edit in enumerate(wanted) if number not in guilty]


def _guilty(
    maps: Sequence[WorkingMap], edits: Sequence[Edit], wheel: Wheel, faults: Sequence[MapFault]
) -> dict[int, str]:
    """Which edits break a rule, by number, and which: those of its pins, or else one without which fewer are broken.

    Args:
        maps: of the fit.
        edits: that were made.
        wheel: of the maps.
        faults: to which they led.
    """
    only = maps[0].letter if len(maps) == 1 else ""
    broken = {(fault.letter, pin.hole): fault.words for fault in reversed(faults) for pin in fault.pins}
    ends = ((number, (edit.letter or only, edit.holes[-1])) for number, edit in enumerate(edits))
    guilty = {number: broken[end] for number, end in ends if end in broken}
    if guilty:
        return guilty
    for number in range(len(edits)):
        without, _ = _tried(maps, [*edits[:number], *edits[number + 1 :]], wheel)
        if len(new_faults(maps, without.maps, wheel)) < len(faults):
            return {number: faults[0].words}
    return {len(edits) - 1: faults[0].words}


def _tried(maps: Sequence[WorkingMap], edits: Sequence[Edit], wheel: Wheel) -> tuple[Edited, list[tuple[Edit, str]]]:
    """The maps with the edits that can be made, and those that cannot."""
    benches = {working.letter: Bench(working, wheel) for working in maps}
    applied, impossible, used = [], [], set()
    for edit in edits:
        try:
            letter = map_of(maps, edit).letter
            applied.append(benches[letter].make(replace(edit, letter=letter)))
        except UsageError as error:
            impossible.append((edit, error.message))
        else:
            used.add(letter)
    after = (benches[working.letter].finish() if working.letter in used else working for working in maps)
    return Edited(tuple(after), tuple(applied)), impossible


def _words(wheel: Wheel, edit: Edit) -> str:
    return with_letter(edit.letter, edit_words(wheel, edit))
