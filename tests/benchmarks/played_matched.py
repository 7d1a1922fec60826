"""Performances by real pianists matched with their score note by note, for measuring only, from a folder outside.

The open data set that is read is CPJKU/vienna4x22 (the Vienna 4x22 Piano Corpus: four pieces, each by 22 pianists):
nothing of it is kept here, and no table is counted from it. Its match files say for each note played which note of the
score it is (F. Foscarin and others, "The match file format", Music Encoding Conference 2022, from memory).

Truth: where the score has a note, in quarters. Grace notes, notes that the score does not have and those on none of the
twelve places of a wheel are played but not judged. The beats are the mean times of the notes on them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
from played_real import LEAST_NOTES, LONGEST_S, UNKNOWN, RealPerformance, holes_at, named_folder, recorded

from pegwright.columns import frozen_floats
from pegwright.played.bar_places import metre_of
from pegwright.played.beats import BeatTrack, seconds_of
from pegwright.read import read_score

FOLDER_VARIABLE = "PEGWRIGHT_MATCHED"
METRE = re.compile(r"scoreprop\(timeSignature,(\d+)/(\d+),")
MATCHED = re.compile(r"snote\(.*,([-\d.]+),([-\d.]+),\[([^\]]*)\]\)-note\([^,]+,(\d+),(\d+),")


def matched_folder() -> Path | str:
    """The folder of the data set, or a sentence that says what is missing."""
    return named_folder(FOLDER_VARIABLE, "vienna4x22", "*.match")


def matched_performances(folder: Path) -> Iterator[RealPerformance]:
    """Every performance, in order of their names.

    Args:
        folder: of the data set.
    """
    for match in sorted(folder.glob("match/*.match")):
        yield _performance(match, folder / "midi" / (match.stem + ".mid"))


def _performance(match: Path, midi: Path) -> RealPerformance:
    text = match.read_text(encoding="utf-8")
    beats, unit = METRE.search(text).groups()  # type: ignore[union-attr]  # every file has a metre
    score, _ = read_score(midi)
    score = score.with_notes(np.lexsort([score.pitch_midi, score.onset_ticks]))
    seconds = seconds_of(score, score.onset_ticks)
    early = seconds <= seconds.min() + LONGEST_S
    if early.sum() < LEAST_NOTES:
        raise ValueError(f"{midi}: {early.sum()} notes, fewer than {LEAST_NOTES}")
    score, seconds = score.with_notes(early), seconds[early]
    known = _known(text, Fraction(4, int(unit)))
    bar_line = -math.floor(min(known.values()))  # quarters are counted from the one in which the score begins
    notes = zip(score.pitch_midi, score.onset_ticks, strict=True)
    place = bar_line + np.array([known.get(note, np.nan) for note in notes])
    judged = np.isfinite(place)
    true = np.where(judged, holes_at(np.nan_to_num(place)), UNKNOWN)
    metre = f"{beats}/{unit}"
    track = _beats(seconds[judged], place[judged], bar_line, float(metre_of(metre).beat_quarters))
    piece, _, player = match.stem.rpartition("_")
    return RealPerformance(f"{piece}/{player}", recorded(score), true, track, metre, bar_line)


def _known(text: str, beat: Fraction) -> dict[tuple[int, int], float]:
    """Where the score has each note that was played, in quarters from its first bar line, by pitch and tick of onset.

    Args:
        text: of a match file.
        beat: its unit of time in the score, in quarters.
    """
    return {
        (int(pitch), int(tick)): float(onset) * float(beat)
        for onset, _, marks, pitch, tick in MATCHED.findall(text)
        if "grace" not in marks
    }


def _beats(seconds: np.ndarray, place: np.ndarray, bar_line: int, beat_quarters: float) -> BeatTrack:
    """When the beats fell on which notes were played, and between these others in proportion.

    Args:
        seconds: shape (n,), of each note.
        place: shape (n,), in quarters.
        bar_line: a place on which a beat falls.
        beat_quarters: length of a beat.
    """
    beat = (place - bar_line) / beat_quarters
    struck = np.unique(np.round(beat[np.abs(beat - np.round(beat)) < 1e-6]))
    times = np.array([seconds[np.abs(beat - each) < 1e-6].mean() for each in struck])
    rising = np.append(True, times[1:] > np.maximum.accumulate(times)[:-1])
    every = np.arange(struck[rising][0], struck[rising][-1] + 1)
    quarters = every * beat_quarters + bar_line
    return BeatTrack(frozen_floats(np.interp(every, struck[rising], times[rising])), frozen_floats(quarters))
