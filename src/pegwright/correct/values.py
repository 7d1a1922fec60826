"""A pin map that is worked on: its pins with the notes that they sound, and the edits that were made to it."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from functools import lru_cache
from typing import NamedTuple, TypeAlias

from pegwright.columns import Ints, frozen_ints
from pegwright.findings import Finding
from pegwright.frozen import frozen
from pegwright.json_value import Json
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.wheel import Wheel

NOTE_KEYS = (
    *("note", "source", "written_pitch_midi", "written_pitch", "channel_pitch_midi", "channel_pitch"),
    "deviation_ms",
)
Cells: TypeAlias = tuple[Json, ...]
NO_NOTE: Cells = (None,) * len(NOTE_KEYS)
NO_HASH = "0" * 64


class Hole(NamedTuple):
    """A hole; every number counts from 0.

    Args:
        channel: index into `Wheel.channels`.
        plate: plate.
        row: index into `Wheel.rows`.
        number: of the hole in its row and plate.
    """

    channel: int
    plate: int
    row: int
    number: int


class HandPin(NamedTuple):
    """A pin of a map.

    Args:
        hole: that it is in.
        pin_type: index into `Wheel.pin_types`.
        cells: what is known of its note, as `NOTE_KEYS`.
    """

    hole: Hole
    pin_type: int
    cells: Cells = NO_NOTE

    @property
    def begins(self) -> int:
        """1 where it begins its note, 0 where it only holds it on, -1 where its note is not known."""
        if self.cells[0] is None:
            return -1
        return int(self.cells[-1] is not None)


class Verb(StrEnum):
    """What an edit does."""

    REMOVE = "remove"
    SET = "set"
    MOVE = "move"


@frozen()
class Edit:
    """One change of one pin.

    Args:
        letter: the set of plates, empty for the only one.
        verb: what is done.
        hole: of the pin as it is, or as it will be for `set`.
        pin_type: of that pin; None where an edit does not say.
        to: where `move` takes it.
        to_type: the pin type that it has there; None for the same.
    """

    letter: str
    verb: Verb
    hole: Hole
    pin_type: int | None = None
    to: Hole | None = None
    to_type: int | None = None

    @property
    def holes(self) -> tuple[Hole, ...]:
        """The holes that it concerns."""
        return (self.hole,) if self.to is None else (self.hole, self.to)


@frozen()
class ListedEdit:
    """An edit as a map lists it.

    Args:
        words: as it can be typed.
        cells: the note of the pin that it removed, so that setting the pin again gives it back.
    """

    words: str
    cells: Cells = NO_NOTE


@frozen(eq=False)
class WorkingMap:
    """The map of one set of plates.

    Args:
        where: its file, for messages.
        letter: of the set of plates; empty in a song of one turn.
        document: what its file says beside the pins and the edits.
        pins: by channel, plate, place and row.
        us_per_quarter: the tempo; 0 where it is not known.
        edits: made since the fit, in order.
        parent_sha256: hash of the map that the last of them were made to; empty without edits.
        fitted_sha256: hash of the map of the fit; empty without edits.
        findings: rules that were broken on request.
        wheel_findings: what changed about the wheel since the map was written that concerns no pin.
    """

    where: str
    letter: str
    document: Mapping[str, Json]
    pins: tuple[HandPin, ...]
    us_per_quarter: int
    edits: tuple[ListedEdit, ...] = ()
    parent_sha256: str = ""
    fitted_sha256: str = ""
    findings: tuple[str, ...] = ()
    wheel_findings: tuple[Finding, ...] = ()

    @property
    def sha256(self) -> str:
        """The hash of its pins."""
        return _sha256(self)

    @property
    def title(self) -> str:
        """Of the song."""
        score = self.document.get("score")
        return str(score["title"]) if isinstance(score, Mapping) else self.where

    @property
    def notes_removed(self) -> frozenset[int]:
        """Numbers of notes whose pin was removed by hand and that no pin sounds now."""
        numbers = (edit.cells[0] for edit in self.edits)
        there = {pin.cells[0] for pin in self.pins}
        return frozenset(number for number in numbers if isinstance(number, int) and number not in there)

    @property
    def begins(self) -> Ints:
        """Shape (p,), see `HandPin.begins`."""
        return frozen_ints([pin.begins for pin in self.pins])

    def columns(self) -> PinMap:
        """The pins as a pin map, in the same order; its notes are numbered from 0."""
        holes = [pin.hole for pin in self.pins]
        channel, plate, row, index = (frozen_ints([hole[number] for hole in holes]) for number in range(4))
        notes = [int(cell) - 1 if isinstance(cell := pin.cells[0], int) else -1 for pin in self.pins]
        hashes = (self._stated("score", "sha256") or NO_HASH, self._stated("wheel", "sha256") or NO_HASH)
        return PinMap(
            title=self.title,
            wheel_name=self._stated("wheel", "name"),
            channel=channel,
            plate=plate,
            row=row,
            index=index,
            pin_type=frozen_ints([pin.pin_type for pin in self.pins]),
            note=frozen_ints(notes),
            us_per_quarter=self.us_per_quarter,
            score_sha256=hashes[0],
            wheel_sha256=hashes[1],
            plate_set=self.plate_set,
        )

    @property
    def plate_set(self) -> int | None:
        """The set of plates that it was fitted to, 0-based; None for every set."""
        fit = self.document.get("fit")
        number = fit.get("plate_set") if isinstance(fit, Mapping) else None
        return number - 1 if isinstance(number, int) else None

    def _stated(self, thing: str, key: str) -> str:
        value = self.document.get(thing)
        return str(value.get(key, "")) if isinstance(value, Mapping) else ""


@lru_cache(maxsize=16)  # maps before and after an edit, which several texts name by their hash
def _sha256(working: WorkingMap) -> str:
    return pin_map_sha256(working.columns())


def ordered(pins: list[HandPin], wheel: Wheel) -> tuple[HandPin, ...]:
    """Pins by channel, plate, place and row; numbers may exceed those of the wheel."""
    places = [row.positions_steps(wheel.steps_per_plate) for row in wheel.rows]
    exact = {
        (row, index): float(steps) for row, of_row in enumerate(places) for index, steps in enumerate(of_row)
    }  # floats are compared faster than fractions, and no two different places are so near

    def place(pin: HandPin) -> tuple[float, ...]:
        channel, plate, row, index = pin.hole
        return channel, plate, exact.get((row, index), float(wheel.steps_per_plate)), row, index, pin.pin_type

    return tuple(sorted(pins, key=place))
