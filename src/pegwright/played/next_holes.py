"""Holes on which the next onset may lie: those near where the beat expects it, and beats and half-beats about these.

Who stops for a while comes in beats later than expected, so holes well before it come into question as well: on beats,
and half-way between them, where many a phrase begins. Over a long note a little error of the tempo is more than a few
holes, and over a rest of many bars more than a beat, to either side.
"""

from __future__ import annotations

from pegwright.columns import Ints
from pegwright.played.bar_places import BarPlaces
from pegwright.played.compiled import compiled_in_place

SIDEWAYS = 3  # places on either side of the nearest
BEATS_BEFORE, BEATS_AFTER = 4, 1  # the first of these in the quarter itself
LONG_BEATS, MORE_AFTER = 12, 2  # after a rest of this many beats, more of them after the one expected
HALVES = 2  # half-way between beats: in the quarter expected, and in the one before
NEAR = 2 * SIDEWAYS + 1
BEATS = NEAR + MORE_AFTER + BEATS_AFTER + BEATS_BEFORE  # and holes near: how many come before the halves
HOLES = BEATS + HALVES
BEHIND = -1  # in place of a hole that lies behind, or is among the others


@compiled_in_place
def next_holes(places: BarPlaces, unit: int, expected: int, holes: Ints) -> None:
    """Holes near one that is expected, then beats about it, then half-way between beats.

    Args:
        places: of the wheel, in the bar.
        unit: the last hole, in units from the bar line at which the song is counted.
        expected: where the next onset is expected, likewise.
        holes: shape (HOLES,), to be filled with holes ahead, or BEHIND.
    """
    count = len(places.units)
    nearest = expected // places.resolution * count + places.nearest[expected % places.resolution]
    for way in range(NEAR):
        place = nearest - SIDEWAYS + way
        holes[way] = place // count * places.resolution + places.units[place % count]
    first, last = holes[0], holes[NEAR - 1]
    for way in range(NEAR):
        if holes[way] <= unit:
            holes[way] = BEHIND
    beat, half = expected // places.step_units + BEATS_AFTER, places.step_units // 2
    long = expected - unit > LONG_BEATS * places.step_units
    for way in range(NEAR, HOLES):
        hole = (beat + MORE_AFTER - (way - NEAR)) * places.step_units
        if way >= BEATS:
            hole = (beat - (way - BEATS)) * places.step_units - half
        usable = hole > unit and (long or hole <= beat * places.step_units) and not first <= hole <= last
        holes[way] = hole if usable and _on_wheel(places, hole) else BEHIND


@compiled_in_place
def _on_wheel(places: BarPlaces, hole: int) -> bool:
    """Whether the wheel has this hole."""
    place, of_quarter = places.nearest[hole % places.resolution], hole % places.resolution
    return bool(place < len(places.units) and places.units[place] == of_quarter)
