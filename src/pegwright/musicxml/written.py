"""One part of a MusicXML score as written: its notes and events before repeats are played out."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from pegwright.score import Ornament


@dataclass(slots=True)
class WrittenPart:
    """The notes of one part in the order of the file, as parallel lists, and its events.

    Args:
        bar: index of the written bar.
        onset: quarters from the start of that bar; below 0 for a grace note before the bar.
        duration: quarters.
        pitch: MIDI pitch as sounding, or General MIDI percussion key where `unpitched`.
        velocity: 1..127, or 0 where it follows `levels`.
        voice, unpitched: as named.
        element: the number of its `note` element among all of the part, rests too.
        tie_from, tie_to: the note continues an earlier one; it goes on in a later one.
        ornaments: by row, of the notes that have one.
        passes: by row, of the notes that have them, the playings of its bar at which the note sounds; empty for all.
        bar_quarters: for each bar with notes how far notes, rests and gaps reach; 0 for one without.
        note_quarters: the same without gaps (`forward`) that nothing follows.
        rest_quarters: for each bar how far its rests and gaps reach, whole-bar rests included.
        tempi: (bar, quarters into it, quarters a minute).
        levels: (bar, quarters into it, velocity from there on).
        metres: by bar, beats and beat type, or None for bars without metre.
        swings: by bar, the ratio of eighths from there on.
        element_count: how many `note` elements the part has.
    """

    bar: list[int] = field(default_factory=list)
    onset: list[Fraction] = field(default_factory=list)
    duration: list[Fraction] = field(default_factory=list)
    pitch: list[int] = field(default_factory=list)
    velocity: list[int] = field(default_factory=list)
    voice: list[str] = field(default_factory=list)
    unpitched: list[bool] = field(default_factory=list)
    element: list[int] = field(default_factory=list)
    tie_from: list[bool] = field(default_factory=list)
    tie_to: list[bool] = field(default_factory=list)
    ornaments: dict[int, Ornament] = field(default_factory=dict)
    passes: dict[int, frozenset[int]] = field(default_factory=dict)
    bar_quarters: list[Fraction] = field(default_factory=list)
    note_quarters: list[Fraction] = field(default_factory=list)
    rest_quarters: list[Fraction] = field(default_factory=list)
    tempi: list[tuple[int, Fraction, Fraction]] = field(default_factory=list)
    levels: list[tuple[int, Fraction, int]] = field(default_factory=list)
    metres: dict[int, tuple[int, int] | None] = field(default_factory=dict)
    swings: dict[int, Fraction] = field(default_factory=dict)
    element_count: int = 0
