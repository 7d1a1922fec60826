"""Single MusicXML elements to exact values: numbers, note values, pitches, metres, tempi, dynamics."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from math import floor
from typing import TypeGuard
from xml.etree.ElementTree import Element

from pegwright.spelling import UNKNOWN, fifths_of, frozen_spellings, moved_spellings

FORTE_VELOCITY = 90
TEMPO_BOUNDS = (1, 5000)  # quarter notes a minute
BEATS_BOUND = 999
SWING_PARTS_BOUND = 12  # 2:1, 3:1, 3:2, 5:4, 7:5 and the like

SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,10}(?:\.[0-9]{0,10})?|\.[0-9]{1,10})")
_PER_MINUTE = re.compile(r"[0-9]{1,4}(?:\.[0-9]{1,6})?")
_SIDE = re.compile(r"[1-9][0-9]{0,2}")
_TYPES = ("1024th", "512th", "256th", "128th", "64th", "32nd", "16th", "eighth", "quarter", "half", "whole", "breve")
_QUARTERS = {name: Fraction(2) ** (index - 8) for index, name in enumerate((*_TYPES, "long", "maxima"))}


@lru_cache(maxsize=4096)
def number(text: str | None) -> Fraction | None:
    """A plain decimal of up to ten digits either side of the point, exactly; None for anything else."""
    text = (text or "").strip()
    return Fraction(text) if _NUMBER.fullmatch(text) else None


def numbers_in(text: str | None) -> list[int]:
    """The whole numbers of at most four digits and above 0 in a list such as `1, 2`."""
    return [int(digits) for digits in re.findall(r"[0-9]+", text or "") if len(digits) <= 4 and int(digits)]


@lru_cache(maxsize=4096)
def in_quarters(duration: str | None, divisions: Fraction) -> Fraction | None:
    """Quarters of a duration in divisions of a quarter; None unless it is a number from 0."""
    value = number(duration)
    return None if value is None or value < 0 else value / divisions


@lru_cache(maxsize=1024)
def note_value(type_: str, dots: int = 0, actual: str | None = "1", normal: str | None = "1") -> Fraction | None:
    """Quarters of a note value with dots, `actual` of them in the time of `normal`; None if unknown.

    Args:
        type_: name of the value, such as `eighth`.
        dots: 0 to 8.
        actual: text of the element, a number above 0.
        normal: the same.

    Source: MusicXML 4.0, note-type-value, dot, time-modification (for nested tuplets the product of the ratios).
    """
    value, actual_count, normal_count = _QUARTERS.get(type_), number(actual), number(normal)
    if value is None or not actual_count or not normal_count or min(actual_count, normal_count) < 0 or dots > 8:
        return None
    return value * (2 - Fraction(1, 2**dots)) * normal_count / actual_count


def written_value(note: Element, dotted: bool = True) -> Fraction | None:
    """Quarters of a note as its type, tuplet ratio and, if `dotted`, its dots say; None where it does not say."""
    type_, dots = (note.findtext("type") or "").strip(), len(note.findall("dot")) if dotted else 0
    ratio = note.find("time-modification")
    if ratio is None:
        return note_value(type_, dots)
    return note_value(type_, dots, ratio.findtext("actual-notes"), ratio.findtext("normal-notes"))


@lru_cache(maxsize=4096)
def sounding_pitch(
    step: str | None, alter: str | None, octave: str | None, semitones: int
) -> tuple[int, bool, bool] | None:
    """The MIDI pitch of a written pitch.

    Args:
        step: text of the element, as are alter and octave.
        alter: semitones, may be empty.
        octave: 4 begins at middle C.
        semitones: transposition.

    Returns:
        The pitch, to the nearest semitone (half-way up) and moved by octaves into 0..127; whether it
        was rounded; whether it was moved. None if the elements make no sense.

    Source: MusicXML 4.0, pitch: octave 4 begins at middle C (MIDI 60); alter in semitones.
    """
    place, height, bend = SEMITONES.get((step or "").strip().upper()), number(octave), number(alter or "0")
    if place is None or height is None or height.denominator != 1 or bend is None:
        return None
    exact = 12 * (height + 1) + place + bend + semitones
    whole = floor(exact + Fraction(1, 2))
    pitch = whole % 12 if whole < 0 else whole if whole <= 127 else 116 + (whole - 116) % 12
    return pitch, exact.denominator != 1, pitch != whole


@lru_cache(maxsize=1024)
def sounding_fifths(step: str | None, alter: str | None, semitones: int) -> int:
    """The place on the line of fifths of the name of a pitch as it sounds; `UNKNOWN` of a bend that is no semitone.

    Args:
        step: text of the element, as is alter.
        alter: semitones, may be empty.
        semitones: transposition.
    """
    bend = number(alter or "0")
    if bend is None or bend.denominator != 1:
        return UNKNOWN
    fifths = fifths_of((step or "").strip().upper(), int(bend))
    return int(moved_spellings(frozen_spellings([fifths]), semitones)[0])


def transposition(transpose: Element) -> int | None:
    """Semitones added to written pitches; None if the numbers make no sense.

    Source: MusicXML 4.0, transpose: chromatic + 12 * octave-change.
    """
    chromatic, octaves = number(transpose.findtext("chromatic")), number(transpose.findtext("octave-change") or "0")
    if chromatic is None or octaves is None or abs(chromatic) > 127 or abs(octaves) > 10:
        return None
    return floor(chromatic + 12 * octaves + Fraction(1, 2))


def metre(time: Element) -> tuple[int, int] | None:
    """Beats and beat type; additive and composite metres are added up in their finest beat.

    Returns:
        For example (5, 8) for 3+2/8, (7, 8) for 2/4 + 3/8; None for anything else, senza misura too.
    """
    pairs = []
    for beats, beat_type in zip(time.findall("beats"), time.findall("beat-type"), strict=False):
        kind, count = number(beat_type.text), sum(numbers_in(beats.text))
        if kind not in {1, 2, 4, 8, 16, 32, 64, 128} or not 0 < count <= BEATS_BOUND:
            return None
        pairs.append((count, int(kind)))
    if not pairs:
        return None
    finest = max(kind for _, kind in pairs)
    return sum(count * finest // kind for count, kind in pairs), finest


def metronome_tempo(metronome: Element, before: Fraction) -> Fraction | None:
    """Quarter notes a minute of a metronome mark, or None for a kind that sets no tempo.

    Args:
        metronome: `note = number` (the first number of a range), or `note = note`: the first at the
            tempo before lasts as long as the second at the tempo that begins.
        before: quarter notes a minute so far.
    """
    names: list[str] = []
    dots: list[int] = []
    for child in metronome:
        if child.tag == "beat-unit":
            names.append((child.text or "").strip())
            dots.append(0)
        elif child.tag == "beat-unit-dot" and dots:
            dots[-1] += 1
    units = [value for value in map(note_value, names, dots) if value is not None]
    per_minute = _PER_MINUTE.search(metronome.findtext("per-minute") or "")
    if len(units) == 1 and per_minute:
        return units[0] * Fraction(per_minute[0])
    if len(units) == 2:
        return before * units[1] / units[0]
    return None


def usable_tempo(quarters_per_minute: Fraction | None) -> TypeGuard[Fraction]:
    """Whether a tempo is a number that music can have."""
    low, high = TEMPO_BOUNDS
    return quarters_per_minute is not None and low <= quarters_per_minute <= high


@lru_cache(maxsize=1024)
def velocity(percent_of_forte: str | None) -> int | None:
    """MIDI velocity of a `dynamics` attribute, or None if it is not a number from 0.

    Source: MusicXML 4.0, note and sound, dynamics: a percentage of the default forte, which is 90 in MIDI.
    """
    value = number(percent_of_forte)
    return None if value is None or value < 0 else max(1, min(127, round(value * FORTE_VELOCITY / 100)))


def swing_ratio(swing: Element) -> Fraction | None:
    """The first eighth of a pair to the second; None for pairs of other notes, and for ratios too fine for ticks.

    Source: MusicXML 4.0, elements `swing`, `first`, `second`, `straight`, `swing-type`.
    """
    if swing.find("straight") is not None:
        return Fraction(1)
    sides = [(swing.findtext(name) or "").strip() for name in ("first", "second")]
    if (swing.findtext("swing-type") or "eighth").strip() != "eighth" or not all(map(_SIDE.fullmatch, sides)):
        return None
    ratio = Fraction(int(sides[0]), int(sides[1]))
    return ratio if ratio.numerator + ratio.denominator <= SWING_PARTS_BOUND else None
