"""What differs between a map and a list of pins, as edits that make the one into the other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from pegwright.correct.values import Edit, HandPin, Hole, Verb, WorkingMap


def differences(working: WorkingMap, pins: Sequence[tuple[HandPin, str]], plates: set[int]) -> list[tuple[Edit, str]]:
    """The edits that make the pins of some plates into others, in an order in which they can be made.

    A pin of the same note, or in the same hole, is moved; any other is removed or set.

    Args:
        working: the map.
        pins: that are wanted on those plates, each with its place in a file; no two are in one hole.
        plates: that are compared, 0-based.

    Returns:
        each edit with the place in the file, or that of the map for a pin that is in no file.
    """
    old = {pin.hole: pin for pin in working.pins if pin.hole.plate in plates}
    new = {pin.hole: (pin, where) for pin, where in pins}
    gone = [pin for hole, pin in old.items() if hole not in new or new[hole][0].pin_type != pin.pin_type]
    come = [(pin, where) for hole, (pin, where) in new.items() if hole not in old or old[hole].pin_type != pin.pin_type]
    moves = _moves(gone, come)
    moved_from, moved_to = {one.hole for one, _, _ in moves}, {other.hole for _, other, _ in moves}
    letter = working.letter
    removed = [
        (Edit(letter, Verb.REMOVE, pin.hole, pin.pin_type), working.where) for pin in gone if pin.hole not in moved_from
    ]
    set_anew = [
        (Edit(letter, Verb.SET, pin.hole, pin.pin_type), where) for pin, where in come if pin.hole not in moved_to
    ]
    return [*removed, *_in_order(letter, moves), *set_anew]


def _moves(gone: list[HandPin], come: list[tuple[HandPin, str]]) -> list[tuple[HandPin, HandPin, str]]:
    """Pins that were moved: those of one note, then those in one hole."""
    notes = Counter(_note(pin) for pin in gone)
    wanted = Counter(_note(pin) for pin, _ in come)
    by_note = {_note(pin): pin for pin in gone if notes[_note(pin)] == 1}
    moves, used = [], set[Hole]()
    for pin, where in come:
        note = _note(pin)
        if note and wanted[note] == 1 and note in by_note:
            moves.append((by_note[note], pin, where))
            used |= {by_note[note].hole}
    moved_to = {pin.hole for _, pin, _ in moves}
    by_hole = {pin.hole: pin for pin in gone if pin.hole not in used}
    moves += [
        (by_hole[pin.hole], pin, where) for pin, where in come if pin.hole in by_hole and pin.hole not in moved_to
    ]
    return moves


def _note(pin: HandPin) -> int:
    """The number of its note, or 0 where that is not known."""
    note = pin.cells[0]
    return note if isinstance(note, int) else 0


def _in_order(letter: str, moves: list[tuple[HandPin, HandPin, str]]) -> list[tuple[Edit, str]]:
    """Moves each into a hole that is free by then; of pins that change places one is removed first and set last."""
    edits: list[tuple[Edit, str]] = []
    last: list[tuple[Edit, str]] = []
    pending = list(moves)
    while pending:
        taken = {one.hole for one, _, _ in pending}
        free = [move for move in pending if move[1].hole not in taken - {move[0].hole}]
        for one, other, where in free:
            edits.append((Edit(letter, Verb.MOVE, one.hole, one.pin_type, other.hole, other.pin_type), where))
        if not free:
            one, other, where = pending[0]
            edits.append((Edit(letter, Verb.REMOVE, one.hole, one.pin_type), where))
            last.append((Edit(letter, Verb.SET, other.hole, other.pin_type), where))
            free = [pending[0]]
        pending = [move for move in pending if move not in free]
    return [*edits, *last]
