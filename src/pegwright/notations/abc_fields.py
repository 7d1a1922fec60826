"""Values of ABC's information fields: key, metre, note length, tempo.

Source: the ABC music standard 2.1 (2011), cited by section.
"""

from __future__ import annotations

import re
from fractions import Fraction

from pegwright.frozen import frozen
from pegwright.musicxml.values import usable_tempo

_TONIC = re.compile(r"([A-Ga-g])\s*([#b]?)\s*([A-Za-z]*)")
_MODES = ("maj", "min", "mix", "dor", "phr", "lyd", "loc", "aeo", "ion", "m")
_ACCIDENTAL = re.compile(r"(?:^|\s)(?:\^\^?|__?|=)[A-Ga-g](?=\s|$)")
_SHIFT = re.compile(r"\b(transpose|t|octave)\s*=\s*([+-]?\d{1,2})\b")
_OCTAVE_CLEF = re.compile(r"(?:treble|bass|alto|tenor|soprano|mezzo\w*|\b[GCF]\d?)([+-]8)(?=\s|$)", re.IGNORECASE)
_PERCUSSION = re.compile(r"\bperc(?:ussion)?\b", re.IGNORECASE)
_FRACTION = re.compile(r"(\d{1,4})\s*/\s*(\d{1,4})")
_WIDEST = 60  # semitones


@frozen()
class KeyField:
    """What a K: or V: field says.

    Args:
        key: tonic and mode as music21 knows them, or empty for none.
        semitones: that pitches are shifted by, None where nothing is said.
        percussion: a percussion clef.
        has_accidentals: the signature has accidentals beside those of its mode.
    """

    key: str
    semitones: int | None
    percussion: bool
    has_accidentals: bool


def key_field(value: str) -> KeyField:
    """Read a key or the modifiers of a voice.

    Source: 3.1.14 (keys), 4.6 (clefs and transposition: `-8` and `octave=` sound in another octave).
    """
    semitones = None
    for name, number in _SHIFT.findall(value):
        semitones = (semitones or 0) + int(number) * (12 if name == "octave" else 1)
    clef = _OCTAVE_CLEF.search(value)
    if clef:
        semitones = (semitones or 0) + (12 if clef[1] == "+8" else -12)
    if semitones is not None:
        semitones = max(-_WIDEST, min(_WIDEST, semitones))
    return KeyField(_key(value), semitones, bool(_PERCUSSION.search(value)), bool(_ACCIDENTAL.search(value)))


def _key(value: str) -> str:
    if value.startswith(("HP", "Hp")):
        return value[:2]
    tonic = _TONIC.match(value)
    if not tonic or re.match(r"[A-Za-z]{2,}\s*=", value):
        return "C" if value in ("", "none") else ""
    mode = tonic[3].lower()
    known = next((name for name in _MODES if mode.startswith(name)), "")
    if not known and mode and not tonic[2] and not value[1:].startswith(" "):
        return ""  # a word such as `bass`, which begins like a key
    return tonic[1].upper() + tonic[2] + ("" if known in ("maj", "ion") else "m" if known in ("min", "m") else known)


def metre_text(value: str) -> tuple[str, Fraction] | None:
    """A metre as one fraction, and the quarters of its bar; None for none.

    Source: 3.1.6: C and C| stand for 4/4 and 2/2; sums such as 2+3+2/8.
    """
    value = {"C": "4/4", "C|": "2/2"}.get(value, value)
    metre = re.fullmatch(r"\(?([\d+ ]{1,20})\)?\s*/\s*(1|2|4|8|16|32|64|128)", value.strip())
    if not metre:
        return None
    beats = sum(int(number) for number in re.findall(r"\d{1,3}", metre[1]))
    return (f"{beats}/{metre[2]}", Fraction(4 * beats, int(metre[2]))) if beats else None


def note_length(value: str) -> Fraction | None:
    """Quarters of a unit note length such as 1/8."""
    length = _FRACTION.match(value)
    if length and int(length[1]) and int(length[2]):
        return Fraction(4 * int(length[1]), int(length[2]))
    return Fraction(4) if value == "1" else None


def tempo_quarters(value: str, unit: Fraction) -> Fraction | None:
    """Quarter notes a minute of a tempo; None for words alone.

    Args:
        value: such as `1/4=120`, `"Allegro" 3/8=40`, `1/4 3/8=40`, and the old `120` and `C3=40`.
        unit: quarters of the unit note length.

    Source: 3.1.8; the old forms count in unit note lengths (10.1, outdated information field syntax).
    """
    value = re.sub(r'"[^"]*"', "", value).strip()
    beat, equals, number = value.rpartition("=")
    stated = re.match(r"\s*(\d{1,4}(?:\.\d{1,4})?)", number)
    if not stated:
        return None
    lengths = [Fraction(4 * int(a), int(b)) for a, b in _FRACTION.findall(beat) if int(b)]
    if not equals:
        length = unit
    elif lengths:
        length = sum(lengths, Fraction(0))
    else:
        old = re.match(r"C(\d{0,2})", beat.strip())
        if not old:
            return None
        length = unit * int(old[1] or 1)
    tempo = length * Fraction(stated[1])
    return tempo if usable_tempo(tempo) else None
