"""How pitches are spelled, as places on the line of fifths: F is -1, C 0, G 1, F sharp 6, B flat -2.

Source: the line of fifths is that of D. Temperley, "The Line of Fifths", Music Analysis 19 (2000) (from memory).
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import read_only

Spellings: TypeAlias = NDArray[np.int8]

UNKNOWN = 127  # the spelling is not known: the pitch has its usual name
FARTHEST = 19  # either way: F with three flats, B with three sharps
_LETTERS = "FCGDAEB"
_LETTER_FIFTHS = {letter: place - 1 for place, letter in enumerate(_LETTERS)}
_BELOW_MAJOR, _BELOW_MINOR = -4, -2  # from the place of the sharps to the flattest note: A flat of C, B flat of A minor


def frozen_spellings(values: object) -> Spellings:
    """A read-only column of spellings."""
    return read_only(np.array(values, dtype=np.int8))


def fifths_of(letter: str, alter: int) -> int:
    """The place of a note's name, or `UNKNOWN`.

    Args:
        letter: `A` to `G`.
        alter: semitones up, such as 1 for a sharp.
    """
    place = _LETTER_FIFTHS[letter] + 7 * alter if letter in _LETTER_FIFTHS else UNKNOWN
    return place if abs(place) <= FARTHEST else UNKNOWN


def spelled_name(pitch_midi: int, fifths: int) -> str:
    """The name of a pitch as it is spelled, with middle C as C4; empty where the spelling is not that of the pitch."""
    if abs(fifths) > FARTHEST or (7 * fifths - pitch_midi) % 12:
        return ""
    alter, letter = divmod(fifths + 1, 7)
    marks = "#" * alter if alter > 0 else "b" * -alter
    return f"{_LETTERS[letter]}{marks}{(pitch_midi - alter) // 12 - 1}"


def moved_spellings(spellings: Spellings, semitones: NDArray[np.int64] | int) -> Spellings:
    """The spellings of notes moved by semitones, as by the simplest interval: by an octave they stay.

    Args:
        spellings: shape (n,).
        semitones: for each note, or for all.
    """
    fifths = spellings.astype(np.int64) + (7 * np.asarray(semitones, dtype=np.int64) + 5) % 12 - 5
    return frozen_spellings(np.where(np.abs(fifths) > FARTHEST, UNKNOWN, fifths))


def spellings_in_keys(pitch_midi: NDArray[np.int64], sharps: NDArray[np.int64], minor: NDArray[np.bool_]) -> Spellings:
    """The spellings of pitches in the keys where they are: those of the key, and the usual ones of its other notes.

    Of C major these are E flat, A flat, B flat, F sharp and C sharp; of A minor F sharp, G sharp, C sharp, D sharp and
    B flat (common practice, no source).

    Args:
        pitch_midi: shape (n,).
        sharps: shape (n,), of the key at each note, flats below 0.
        minor: shape (n,), whether that key is minor.
    """
    flattest = sharps + np.where(minor, _BELOW_MINOR, _BELOW_MAJOR)
    return frozen_spellings(flattest + (7 * pitch_midi - flattest) % 12)
