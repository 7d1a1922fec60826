"""One part of a MusicXML score as written: its notes and events before repeats are played out."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from pegwright.frozen import frozen
from pegwright.score import Ornament


@frozen()
class BarReach:
    """How far one bar of one part reaches, in quarters from its beginning.

    Voice order is how the file's notes follow one another: further notes of a chord have no place in it.

    Args:
        notes: its sounding notes in voice order; 0 where it has none.
        written: notes, cue notes and rests in voice order, whole-bar rests aside.
        gaps: the same with gaps (`forward`) that nothing follows.
        rests: the same with whole-bar rests.
        chords: every note of its chords.
        last_onset: where its last sounding note begins.
        voices: where its voices with sounding notes end, rests included.
    """

    notes: Fraction = Fraction(0)
    written: Fraction = Fraction(0)
    gaps: Fraction = Fraction(0)
    rests: Fraction = Fraction(0)
    chords: Fraction = Fraction(0)
    last_onset: Fraction = Fraction(0)
    voices: frozenset[Fraction] = frozenset()

    @property
    def furthest(self) -> Fraction:
        """Where the last thing of any kind ends."""
        return max(self.rests, self.chords)


@dataclass(slots=True)
class WrittenPart:
    """The notes of one part in the order of the file, as parallel lists, and its events.

    Args:
        bar: index of the written bar.
        onset: quarters from the start of that bar; below 0 for a note before the bar.
        duration: quarters.
        pitch: MIDI pitch as sounding, or General MIDI percussion key where `unpitched`.
        spelling: place of the sounding pitch's name on the line of fifths, `UNKNOWN` where `unpitched`.
        velocity: 1..127, or 0 where it follows `levels`.
        voice, unpitched: as named.
        element: the number of its `note` element among all of the part, rests too.
        tie_from, tie_to: the note continues an earlier one; it goes on in a later one.
        ornaments: by row, of the notes that have one.
        passes: by row, of the notes that have them, the playings of its bar at which the note sounds; empty for all.
        early: rows of notes before their bar that are no grace notes.
        reaches: by bar, of all in which the part is.
        tempi: (bar, quarters into it, quarter notes a minute).
        levels: (bar, quarters into it, velocity from there on).
        metres: by bar, beats and beat type, or None for bars without metre.
        swings: by bar, the ratio of eighths from there on.
        element_count: how many `note` elements the part has.
    """

    bar: list[int] = field(default_factory=list)
    onset: list[Fraction] = field(default_factory=list)
    duration: list[Fraction] = field(default_factory=list)
    pitch: list[int] = field(default_factory=list)
    spelling: list[int] = field(default_factory=list)
    velocity: list[int] = field(default_factory=list)
    voice: list[str] = field(default_factory=list)
    unpitched: list[bool] = field(default_factory=list)
    element: list[int] = field(default_factory=list)
    tie_from: list[bool] = field(default_factory=list)
    tie_to: list[bool] = field(default_factory=list)
    ornaments: dict[int, Ornament] = field(default_factory=dict)
    passes: dict[int, frozenset[int]] = field(default_factory=dict)
    early: set[int] = field(default_factory=set)
    reaches: dict[int, BarReach] = field(default_factory=dict)
    tempi: list[tuple[int, Fraction, Fraction]] = field(default_factory=list)
    levels: list[tuple[int, Fraction, int]] = field(default_factory=list)
    metres: dict[int, tuple[int, int] | None] = field(default_factory=dict)
    swings: dict[int, Fraction] = field(default_factory=dict)
    element_count: int = 0
