"""Edits made to a map: what each does, whether it can be applied, and what the map lists of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from pegwright.correct.names import edit_words, hole_words, is_there, type_name
from pegwright.correct.values import NO_NOTE, Cells, Edit, HandPin, Hole, ListedEdit, Verb, WorkingMap, ordered
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.json_value import Json
from pegwright.percussion import drum_key_name
from pegwright.units import pitch_name
from pegwright.wheel import Wheel

_DECIMALS = 3  # of a deviation in ms, as maps have them


@frozen(eq=False)
class Edited:
    """Maps after some edits.

    Args:
        maps: all of the song's, also those that no edit concerns.
        edits: those that were made, which now say the type of every pin.
    """

    maps: tuple[WorkingMap, ...]
    edits: tuple[Edit, ...]


class Bench:
    """The pins of one map while edits are made to it.

    Args:
        working: the map.
        wheel: of the map.
    """

    def __init__(self, working: WorkingMap, wheel: Wheel) -> None:
        self._working, self._wheel = working, wheel
        self._pins = {pin.hole: pin for pin in working.pins}
        self._listed = list(working.edits)

    def make(self, edit: Edit) -> Edit:
        """Make an edit.

        Returns:
            the edit with the type of every pin.

        Raises:
            UsageError: there is no pin to take, or no free hole to put it in.
        """
        if edit.verb == Verb.SET:
            self._free(edit.hole, None)
            self._pins[edit.hole] = HandPin(edit.hole, edit.pin_type or 0, self._note_before(edit))
            return self._list(edit, NO_NOTE)
        pin = self._taken(edit)
        edit = replace(edit, pin_type=pin.pin_type)
        if edit.to is None:
            del self._pins[edit.hole]
            return self._list(edit, pin.cells)
        edit = replace(edit, to_type=pin.pin_type if edit.to_type is None else edit.to_type)
        if edit.to is None or edit.to_type is None or (edit.to, edit.to_type) == (edit.hole, pin.pin_type):
            raise UsageError("moves the pin to where it is", hint="give another step, row, channel, plate or pin type")
        self._free(edit.to, edit.hole)
        del self._pins[edit.hole]
        moved = HandPin(edit.to, edit.to_type, pin.cells)
        self._pins[edit.to] = moved._replace(cells=_moved_cells(self._wheel, self._working, pin, moved))
        return self._list(edit, NO_NOTE)

    def finish(self) -> WorkingMap:
        """The map with its edits listed; one whose pins are those of the fit again lists none."""
        before = self._working
        after = replace(before, pins=ordered(list(self._pins.values()), self._wheel))
        parent, now = before.sha256, after.sha256
        fitted = before.fitted_sha256 or parent
        if now == fitted:
            return replace(after, edits=(), parent_sha256="", fitted_sha256="", findings=())
        return replace(after, edits=tuple(self._listed), parent_sha256=parent, fitted_sha256=fitted, findings=())

    def _note_before(self, edit: Edit) -> Cells:
        """The note of the very pin that an edit sets again, where an earlier one removed it."""
        words = edit_words(self._wheel, replace(edit, verb=Verb.REMOVE))
        return next((listed.cells for listed in reversed(self._listed) if listed.words == words), NO_NOTE)

    def _list(self, edit: Edit, cells: Cells) -> Edit:
        self._listed.append(ListedEdit(edit_words(self._wheel, edit), cells))
        return edit

    def _taken(self, edit: Edit) -> HandPin:
        pin = self._pins.get(edit.hole)
        if pin is None:
            hint = "`pegwright find` lists the pins near a hole"
            raise UsageError(f"there is no pin in {hole_words(self._wheel, edit.hole)}", hint=hint)
        if edit.pin_type not in {None, pin.pin_type}:
            there, said = type_name(self._wheel, pin.pin_type), type_name(self._wheel, edit.pin_type or 0)
            raise UsageError(f"the pin there is {there}, not {said}", hint=f"say {there}, or leave the pin type out")
        return pin

    def _free(self, hole: Hole, but: Hole | None) -> None:
        """Refuse a hole that is not, or that has a pin; that of the pin itself, `but`, is free."""
        if not is_there(self._wheel, hole):
            hint = "it is lost at a seam or declared as lost; --force does not make it: correct the wheel file"
            raise UsageError(f"the wheel has no hole at {hole_words(self._wheel, hole)}", hint=hint)
        if hole != but and hole in self._pins:
            there = type_name(self._wheel, self._pins[hole].pin_type)
            message = f"there is a pin ({there}) in {hole_words(self._wheel, hole)} already"
            raise UsageError(message, hint="remove it first, or move it")


def _moved_cells(wheel: Wheel, working: WorkingMap, pin: HandPin, moved: HandPin) -> Cells:
    """The note of a pin that was moved, with how much later than written it sounds now."""
    if pin.cells[0] is None:
        return pin.cells
    cells = list(pin.cells)
    late_ms = cells[-1]
    if isinstance(late_ms, int | float) and working.us_per_quarter:
        half, turn = Fraction(wheel.turn_steps, 2), wheel.turn_steps
        steps = (_steps(wheel, moved.hole) - _steps(wheel, pin.hole) + half) % turn - half
        offsets_mm = wheel.pin_types[moved.pin_type].offset_mm - wheel.pin_types[pin.pin_type].offset_mm
        ms_per_step = float(wheel.step_quarters * working.us_per_quarter / 1000)
        cells[-1] = round(late_ms + (float(steps) + offsets_mm / wheel.step_mm) * ms_per_step, _DECIMALS) + 0.0
    if moved.hole.channel != pin.hole.channel:
        cells[4:6] = _channel_pitch(wheel, working, moved.hole.channel, pin.cells)
    return tuple(cells)


def _steps(wheel: Wheel, hole: Hole) -> Fraction:
    return hole.plate * wheel.steps_per_plate + wheel.rows[hole.row].position_steps(hole.number)


def _channel_pitch(wheel: Wheel, working: WorkingMap, number: int, cells: Cells) -> list[int | str | None]:
    """The pitch by which a channel sounds a note, and its name: its own in another octave, or else the nearest it has.

    Args:
        wheel: with the channel.
        working: for what was transposed.
        number: of the channel.
        cells: of the note.
    """
    channel, fit, written = wheel.channels[number], working.document.get("fit"), cells[2]
    if not isinstance(fit, Mapping) or not isinstance(written, int):
        return [None, None]
    if channel.pitches:
        semitones = fit["transpose_semitones"]
        wanted = written + (semitones if isinstance(semitones, int) else 0)
        octaves = [pitch for pitch in channel.pitches if (pitch - wanted) % 12 == 0]
        pitch = min(octaves or channel.pitches, key=lambda each: (abs(each - wanted), each))
        return [pitch, pitch_name(pitch)]
    if channel.drum_keys:
        instead = {each["key"]: each["instead"] for each in _objects(fit["drum_keys"])}
        key = instead.get(written, written)
        key = key if isinstance(key, int) and key in channel.drum_keys else channel.drum_keys[0]
        return [key, drum_key_name(key)]
    return [None, None]


def _objects(values: Json) -> list[Mapping[str, Json]]:
    """The objects of a list of them."""
    listed = values if isinstance(values, list | tuple) else []
    return [each for each in listed if isinstance(each, Mapping)]


def map_of(maps: Sequence[WorkingMap], edit: Edit) -> WorkingMap:
    """Which of the maps an edit is for.

    Raises:
        UsageError: there is none of its letter, or it has none and there are several.
    """
    letters = [working.letter for working in maps]
    if not edit.letter and len(maps) == 1:
        return maps[0]
    if edit.letter in letters:
        return maps[letters.index(edit.letter)]
    if not any(letters):
        raise UsageError(
            f"there is no set of plates {edit.letter}", hint="the song takes one turn: leave the letter out"
        )
    if not edit.letter:
        raise UsageError("does not say for which set of plates", hint=f"begin it with {letters[0]}: or {letters[-1]}:")
    raise UsageError(f"there is no set of plates {edit.letter}", hint=f"there are {', '.join(letters)}")


def edit_maps(maps: Sequence[WorkingMap], edits: Sequence[tuple[Edit, str]], wheel: Wheel) -> Edited:
    """Make edits, one after another.

    Args:
        maps: of the song, without two pins in one hole.
        edits: each with the place where it was given, for errors.
        wheel: of the maps.

    Raises:
        UsageError: one of them cannot be made.
    """
    benches = {working.letter: Bench(working, wheel) for working in maps}
    applied, used = [], set()
    for edit, where in edits:
        try:
            letter = map_of(maps, edit).letter
            applied.append(benches[letter].make(replace(edit, letter=letter)))
        except UsageError as error:
            raise UsageError(error.message, where=where, hint=error.hint) from None
        used.add(letter)
    after = (benches[working.letter].finish() if working.letter in used else working for working in maps)
    return Edited(tuple(after), tuple(applied))
