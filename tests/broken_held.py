"""Pins of holding channels each of which breaks one rule of the verifier."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from broken_placements import RIM, STEP_MM
from pegwright.ask.options import FitOptions
from pegwright.check.held import verify_held
from pegwright.check.verify import verify
from pegwright.columns import frozen_ints
from pegwright.fit.pins import pins_of
from pegwright.placement import PinMap, Placement
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Channel, Collar, Kind, LostHole, PinType, Wheel
from samples import channel, score, wheel

Held = tuple[Wheel, Placement, PinMap]
HORN = channel("horn", [60], kind=Kind.HOLD, hold_mm=STEP_MM, restrike_ms=60.0, rows=["on"])
BRIDGE = PinType("bridge", 40, bridge_mm=2 * STEP_MM)
HELD: list[tuple[str, str, Callable[[], Held]]] = []


def held(*notes: tuple[float, ...], channels: Sequence[Channel] = (HORN,), **changes: object) -> Held:
    """A sound placement of notes on a horn, from (onset, length[, pitch]), the first two in steps; C4 if left out."""
    on = wheel(channels, **{"geometry": RIM, **changes})
    song = score([(round(6 * onset), round(pitch)) for onset, _, pitch in ((*note, 60)[:3] for note in notes)])
    song = replace(song, duration_ticks=frozen_ints([round(6 * length) for _, length, *_ in notes]))
    placement, _ = fit_with_findings(song, on, FitOptions())
    assert verify(song, on, placement) == ()
    pins = pins_of(song, on, placement)
    assert verify_held(on, placement, pins) == ()
    return on, placement, pins


def chosen(pins: PinMap, which: Sequence[int]) -> PinMap:
    names = ("channel", "plate", "row", "index", "pin_type", "note")
    columns: dict[str, Any] = {name: frozen_ints(getattr(pins, name)[list(which)]) for name in names}
    return replace(pins, **columns)


def case_of_held(sentence: str, what: str) -> Callable[[Callable[[], Held]], Callable[[], Held]]:
    def listed(build: Callable[[], Held]) -> Callable[[], Held]:
        HELD.append((sentence, what, build))
        return build

    return listed


@case_of_held("notes {} are placed, {} are begun", "no first pin")
def _() -> Held:
    on, placement, pins = held((4, 4))
    return on, placement, chosen(pins, [1, 2, 3])


@case_of_held("notes {} are placed, {} are begun", "no pin at all")
def _() -> Held:
    on, placement, pins = held((4, 1))
    return on, placement, chosen(pins, [])


@case_of_held("note {} begins {}, too soon", "before the re-strike")
def _() -> Held:
    on, placement, pins = held((4, 1), (6, 1))
    return replace(on, channels=(replace(HORN, restrike_ms=126.0),)), placement, pins


@case_of_held("note {} begins {}, too soon", "a little before the re-strike")
def _() -> Held:
    on, placement, pins = held((4, 1), (6, 1))  # 125 ms, and 0.16 ms of slack
    return replace(on, channels=(replace(HORN, restrike_ms=125.2),)), placement, pins


@case_of_held("note {} begins {}, too soon", "round the end of the turn")
def _() -> Held:
    on, placement, pins = held((0, 1), (190, 1))
    return replace(on, channels=(replace(HORN, restrike_ms=126.0),)), placement, pins


@case_of_held("note {} is to be held on {}, when the channel has let go", "a pin is missing")
def _() -> Held:
    on, placement, pins = held((4, 4))
    return on, placement, chosen(pins, [0, 1, 3])


@case_of_held("note {} is to be held on {}, when the channel has let go", "another note's pin")
def _() -> Held:
    on, placement, pins = held((4, 2), (8, 1))
    return on, placement, replace(pins, note=frozen_ints([0, 1, 1]))


@case_of_held("a pin of note {} is {}, too near", "wider pins")
def _() -> Held:
    on, placement, pins = held((4, 2))
    return replace(on, geometry=replace(RIM, pin_diameter_mm=STEP_MM)), placement, pins


@case_of_held("pin {} shares its hole or has none", "a lost hole")
def _() -> Held:
    on, placement, pins = held((4, 4))
    return replace(on, lost=(LostHole("on", 6),)), placement, pins


@case_of_held("pin {} reaches over an edge of its plate", "a wider edge")
def _() -> Held:
    on, placement, pins = held((24, 3), pin_types=(PinType("peg", 900), BRIDGE))
    assert pins.pin_type.tolist() == [1]
    return replace(on, geometry=replace(RIM, trail_edge_mm=7 * STEP_MM)), placement, pins


@case_of_held("pin {} shares its hole or has none", "two pins that trip at different places")
def _() -> Held:
    on, placement, pins = held((4, 1), pin_types=(PinType("peg", 900), PinType("late", 9, offset_mm=5.0)))
    return on, placement, replace(chosen(pins, [0, 0]), pin_type=frozen_ints([0, 1]))


@case_of_held("pin {} reaches over an edge of its plate", "it stands late in its hole")
def _() -> Held:
    on, placement, pins = held((24, 3), pin_types=(PinType("peg", 900), BRIDGE))
    geometry = replace(RIM, trail_edge_mm=6 * STEP_MM - 2)
    assert verify_held(replace(on, geometry=geometry), placement, pins) == ()
    late = tuple(replace(pin_type, offset_mm=5.0) for pin_type in on.pin_types)
    return replace(on, geometry=geometry, pin_types=late), placement, pins


@case_of_held("a pin of note {} is {}, too near", "a collar that is off its hole")
def _() -> Held:
    early = PinType("early", 900, offset_mm=-5.0, collar=Collar.STAYS)
    on, placement, pins = held((4, 2), pin_types=(PinType("peg", 900), early))
    wide = replace(on, geometry=replace(RIM, pin_diameter_mm=12.0))
    pins = replace(pins, pin_type=frozen_ints([0, 1]))
    assert verify_held(wide, placement, pins) == ()
    return replace(wide, pin_types=(on.pin_types[0], replace(early, collar=Collar.MOVES))), placement, pins
