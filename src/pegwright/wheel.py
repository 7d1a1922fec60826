"""The programming wheel: plates, rows of holes, channels, pin types, limits and geometry.

A `Wheel` is a checked value: `config.py` makes one from a TOML file and reports every fault.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from pegwright.frozen import frozen
from pegwright.units import LengthUnit, fraction_text, listed, printed


class Kind(StrEnum):
    """How a channel sounds: `strike` once for a pin, `hold` for as long as pins last."""

    STRIKE = "strike"
    HOLD = "hold"


class Collar(StrEnum):
    """What of a pin with an offset is off its hole's middle: its collar too, or only the edge that trips."""

    MOVES = "moves"
    STAYS = "stays"


@frozen()
class Row:
    """One line of holes inside a channel.

    Args:
        name: such as `on`, `half`, `triplet`.
        phases: rising places of its holes within a period, in steps, from 0 to below the period.
        period_steps: after how many steps the places repeat; divides the steps of a plate.
        lateral_mm: its distance across the rim from the middle of the channel.
    """

    name: str
    phases: tuple[Fraction, ...]
    period_steps: int = 1
    lateral_mm: float = 0.0

    def hole_count(self, steps_per_plate: int) -> int:
        """Holes a plate would have in this row if none were lost."""
        return steps_per_plate // self.period_steps * len(self.phases)

    def positions_steps(self, steps_per_plate: int) -> tuple[Fraction, ...]:
        """Where its holes lie on a plate, in steps from the plate's first step."""
        return tuple(self.position_steps(index) for index in range(self.hole_count(steps_per_plate)))

    def position_steps(self, index: int) -> Fraction:
        """Place of hole `index` (0-based) of this row, in steps from the plate's first step."""
        period, phase = divmod(index, len(self.phases))
        return period * self.period_steps + self.phases[phase]


@frozen()
class Channel:
    """One sound and the holes that trip it.

    Args:
        name: unique on the wheel.
        pitches: MIDI pitches that it sounds; empty for percussion.
        drum_keys: General MIDI percussion keys (35..81 in the standard) that it sounds.
        restrike_ms: the minimum time between two strikes; on a holding channel from one note's end to the next.
        lead_ms: time from trip to sound, as it was measured or as long as the fall lasts.
        kind: strike or hold.
        rows: names of the rows it has, in wheel order.
        hold_mm: how much rim passes from where a pin trips a holding channel to where it lets go; else 0.
        reader_mm: how far along the rim its reader stands after the common line of the readers; before it is below 0.
        advance_steps: by how many whole or half steps all of its pins are set early.
        fall_mm: how far a fall goes that gives the lead; 0 where the lead was measured.
        fall_start_mm_per_s: how fast that fall begins.
    """

    name: str
    pitches: tuple[int, ...]
    drum_keys: tuple[int, ...]
    restrike_ms: float
    lead_ms: float
    kind: Kind
    rows: tuple[str, ...]
    hold_mm: float = 0.0
    reader_mm: float = 0.0
    advance_steps: Fraction = Fraction(0)
    fall_mm: float = 0.0
    fall_start_mm_per_s: float = 0.0


@lru_cache(maxsize=4096)  # maps of thousands of pins name few places
def step_name(row: Row, index: int) -> str:
    """Where on its plate a hole is, in steps that count from 1: `1`, `27.25`, `4 2/3`.

    Every text, sheet, call and file gives the place of a hole so.
    """
    return fraction_text(printed(row.position_steps(index)))


def place_name(plate: int, row: Row, index: int) -> str:
    """A hole in a sentence: `plate 3 step 27.25 row half`; the numbers given count from 0.

    Args:
        plate: of the hole.
        row: of the hole.
        index: its number in the row on the plate.
    """
    return f"plate {printed(plate)} step {step_name(row, index)} row {row.name}"


def sets_words(sets: Sequence[int]) -> str:
    """On which sets of plates, counted from 0, something is: ` on set 2 of plates`; empty for none."""
    if not sets:
        return ""
    numbers = listed([str(printed(number)) for number in sets])
    return f" on set{'s' if len(sets) > 1 else ''} {numbers} of plates"


@frozen()
class LostHole:
    """A declared loss; None means every one.

    Args:
        row: row name.
        index: hole within the row on a plate, 0-based.
        plate: plate index, 0-based, or None.
        channel: channel name, or None.
        plate_set: set of plates, 0-based, or None.
    """

    row: str
    index: int
    plate: int | None = None
    channel: str | None = None
    plate_set: int | None = None


@frozen()
class PinType:
    """A kind of pin.

    Args:
        name: unique on the wheel.
        stock: how many the maker owns.
        offset_mm: how far along the rim it trips from its hole's centre; later is positive.
        bridge_mm: how much longer than a plain pin it holds a holding channel; above 0 for a bridge pin alone.
        collar: whether its collar, its widest part above the rim, is off the hole's middle as well.
    """

    name: str
    stock: int
    offset_mm: float = 0.0
    bridge_mm: float = 0.0
    collar: Collar = Collar.MOVES

    @property
    def collar_mm(self) -> float:
        """How far along the rim the middle of its collar is from its hole's; of a bridge, that of its beginning."""
        return self.offset_mm if self.collar is Collar.MOVES else 0.0


@frozen()
class StrikeLimit:
    """No more than `strikes` strikes of `channels` within `window_ms` (drive load, supply)."""

    name: str
    channels: tuple[str, ...]
    strikes: int
    window_ms: float


_SEAM_LENGTHS = ("radius_mm", "hole_diameter_mm", "min_wall_mm", "lead_edge_mm", "trail_edge_mm")
_PIN_LENGTHS = ("radius_mm", "pin_diameter_mm", "pin_clearance_mm", "channel_pitch_mm")
_HOLE_LENGTHS = ("radius_mm", "hole_diameter_mm")


@frozen()
class Geometry:
    """Lengths that decide which holes exist and which pins touch, on the pinned surface of the rim.

    Those that are not known have a value that bars nothing; what depends on them is not checked.

    Args:
        radius_mm: of the rim's outer face.
        thickness_mm: of the plate's sheet.
        hole_diameter_mm, pin_diameter_mm: of a hole; of a pin at its widest above the rim.
        min_wall_mm: minimum of sheet between a hole's edge and the plate's cut edge.
        pin_clearance_mm: minimum gap between two pins.
        channel_pitch_mm: across the rim, middle to middle of neighbouring channels.
        lead_edge_mm: from a plate's leading cut edge to its first step.
        trail_edge_mm: from a plate's trailing cut edge to the next plate's first step; what it
            exceeds `lead_edge_mm` by is the gap at the seam.
        seams: whether plates end at cut edges; a drum of one piece has none.
        unknown: names of the lengths that are not known, in the order above.
    """

    radius_mm: float
    thickness_mm: float
    hole_diameter_mm: float
    pin_diameter_mm: float
    min_wall_mm: float
    pin_clearance_mm: float
    channel_pitch_mm: float
    lead_edge_mm: float
    trail_edge_mm: float
    seams: bool = True
    unknown: tuple[str, ...] = ()

    @property
    def radius_known(self) -> bool:
        """Whether there is a scale by which lengths along the rim are steps."""
        return "radius_mm" not in self.unknown

    @property
    def edges_known(self) -> bool:
        """Whether there are cut edges, and all lengths that decide which holes they take."""
        return self.seams and not self._lacks(_SEAM_LENGTHS)

    @property
    def pins_known(self) -> bool:
        """Whether all lengths are known that decide which pins touch."""
        return not self._lacks(_PIN_LENGTHS)

    @property
    def holes_known(self) -> bool:
        """Whether the lengths are known that decide which holes run into each other."""
        return not self._lacks(_HOLE_LENGTHS)

    @property
    def unchecked(self) -> tuple[str, ...]:
        """Names of the unknown lengths for want of which seams or pins are not checked, in the order of the fields."""
        needed = {*_PIN_LENGTHS, *_HOLE_LENGTHS, *(_SEAM_LENGTHS if self.seams else ())}
        return tuple(name for name in self.unknown if name in needed)

    def _lacks(self, names: tuple[str, ...]) -> bool:
        return any(name in self.unknown for name in names)

    @property
    def circumference_mm(self) -> float:
        """Once round the rim."""
        return 2 * math.pi * self.radius_mm

    @property
    def apart_mm(self) -> float:
        """Minimum from the middle of a collar to that of another; 0 where it is not known."""
        return self.pin_diameter_mm + self.pin_clearance_mm if self.pins_known else 0.0

    @property
    def edge_needed_mm(self) -> float:
        """Minimum from a hole's middle to a cut edge."""
        return self.hole_diameter_mm / 2 + self.min_wall_mm


@frozen()
class Wheel:
    """A whole wheel; see the parts above.

    Args:
        name: for headings.
        plate_count: plates round the rim, which together are one set.
        steps_per_plate: whole steps on each.
        step_quarters: what a step is worth, in quarter notes; a sixteenth is 1/4.
        plate_sets: sets of plates owned.
        rows, channels, pin_types: at least one of each.
        lost: declared losses; losses by geometry are computed in `grid.py`.
        strike_limits: coupled limits; may be empty.
        reach_quarters: how far a note may be moved to find a hole, in quarter notes.
        geometry: see there.
        sha256: hash of the wheel file's bytes, in hex.
        repinned_within_song: whether a song may take several sets of plates; else only one turn of it is pinned.
        slowest_turn_s, fastest_turn_s: the longest and the shortest time a turn can take, or None if not known.
        unit: what its lengths are printed in.
        plate_set: the set of plates whose holes count, 0-based; None counts the holes that every set has, so that pins
            fit any of them.

    >>> from pegwright import bundled_wheel, load_wheel
    >>> wheel = load_wheel(bundled_wheel())
    >>> wheel.plate_count, wheel.turn_steps, len(wheel.channels)
    (6, 192, 24)
    >>> wheel.channels[0].name, wheel.channels[0].pitches
    ('chime G4', (67,))
    """

    name: str
    plate_count: int
    steps_per_plate: int
    step_quarters: Fraction
    plate_sets: int
    rows: tuple[Row, ...]
    channels: tuple[Channel, ...]
    pin_types: tuple[PinType, ...]
    lost: tuple[LostHole, ...]
    strike_limits: tuple[StrikeLimit, ...]
    reach_quarters: Fraction
    geometry: Geometry
    sha256: str
    repinned_within_song: bool = True
    slowest_turn_s: float | None = None
    fastest_turn_s: float | None = None
    unit: LengthUnit = LengthUnit.MM
    plate_set: int | None = None

    def __hash__(self) -> int:
        return int.from_bytes(self.sha256.encode())  # tables are kept by wheel; to hash all its channels takes longer

    def of_set(self, plate_set: int | None) -> Wheel:
        """The same wheel with the holes of a set of plates, 0-based; None takes those that every set has."""
        return self if plate_set == self.plate_set else replace(self, plate_set=plate_set)

    @property
    def sets_differ(self) -> bool:
        """Whether holes are declared lost on some sets of plates alone."""
        return any(lost.plate_set is not None for lost in self.lost)

    @property
    def lost_here(self) -> tuple[LostHole, ...]:
        """The declared losses that count: those of all sets and of its own, or of any set where none is chosen."""
        own = self.plate_set
        return tuple(each for each in self.lost if own is None or each.plate_set in (None, own))

    @property
    def turn_steps(self) -> int:
        """Steps in a turn."""
        return self.plate_count * self.steps_per_plate

    @property
    def turn_quarters(self) -> Fraction:
        """A turn in quarter notes."""
        return self.turn_steps * self.step_quarters

    @property
    def step_mm(self) -> float:
        """A step along the rim."""
        return self.geometry.circumference_mm / self.turn_steps

    @property
    def plate_mm(self) -> float:
        """From a plate's first step to the next plate's, along the rim."""
        return self.steps_per_plate * self.step_mm

    def limited(self, limit: StrikeLimit) -> tuple[int, ...]:
        """Which of the channels a limit counts, rising."""
        return tuple(number for number, channel in enumerate(self.channels) if channel.name in limit.channels)

    def sets_without(self, channel: int, row: int, index: int, plate: int) -> tuple[int, ...]:
        """The sets of plates, rising, that alone lack a hole as declared; empty where all do, or none does.

        Args:
            channel: index into `channels`.
            row: index into `rows`.
            index: of the hole in its row and plate.
            plate: that has it.
        """
        here = {
            lost.plate_set
            for lost in self.lost
            if (lost.row, lost.index) == (self.rows[row].name, index)
            and lost.plate in (None, plate)
            and lost.channel in (None, self.channels[channel].name)
        }
        numbers = sorted(number for number in here if number is not None)
        return () if None in here else tuple(numbers)
