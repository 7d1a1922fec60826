"""Performances by real pianists with known scores, for measuring only, from a folder that is not part of the project.

The open data set of aligned scores and performances that is read is fosfrancesco/asap-dataset (F. Foscarin and
others, "ASAP: a dataset of aligned scores and performances for piano transcription", ISMIR 2020), under CC BY-NC-SA:
nothing of it is kept here, and no table is counted from it. Pieces are its folders with a score and annotated beats,
in order of their paths. Those at even places, counted from 0, are for building; those at odd places are for judging.

Truth: each played note is carried through the annotated beats to the nearest score note of its pitch. A note with
none within half a quarter, or whose score note lies on none of the twelve places of a wheel, is played but not
judged. Quarters are counted from the beats, as by one who taps them: files that begin with a pickup have theirs within
a quarter.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from performed_data import PLACES, UNITS

from pegwright.columns import frozen_floats, frozen_ints
from pegwright.played.beats import BeatTrack, beats_of_tempo_map, seconds_of
from pegwright.read import read_score
from pegwright.score import BarMap, Score, TempoMap

FOLDER_VARIABLE = "PEGWRIGHT_PERFORMANCES"
SCORE, SCORE_BEATS, BEATS_ENDING = "midi_score.mid", "midi_score_annotations.txt", "_annotations.txt"
LONGEST_S = 60.0
REACH_QUARTERS = 0.5
ON_PLACE = 0.02  # of a 24th of a quarter
LEAST_NOTES = 40
MOST_BEATS = 0.9  # of the beats, that have to lie at one place of an eighth
RESOLUTION = 9600  # ticks a quarter of the scores made here, at 120 quarters a minute
UNKNOWN = -1


@dataclass(frozen=True, slots=True, eq=False)
class RealPerformance:
    """What a pianist played, as a keyboard records it, and what is known of it.

    Args:
        name: folder of the piece; its first part is the composer.
        score: the first 60 s, at a tempo of 120 that says nothing.
        true: shape (n,), hole of each note in 24ths of a quarter; -1 where it is not judged.
        beats: the annotated beats, in quarters of the score.
        metre: as it is written at the beginning.
        bar_line_quarters: where its first bar line is, in quarters of the score.
    """

    name: str
    score: Score
    true: NDArray[np.int64]
    beats: BeatTrack
    metre: str
    bar_line_quarters: float


def data_folder() -> Path | str:
    """The folder of the data set, or a sentence that says what is missing."""
    return named_folder(FOLDER_VARIABLE, "asap-dataset", SCORE_BEATS)


def named_folder(variable: str, data_set: str, holds: str) -> Path | str:
    """The folder that an environment variable names, or a sentence that says what is missing.

    Args:
        variable: its name.
        data_set: the name of the data set.
        holds: a pattern of files in it.
    """
    named = os.environ.get(variable, "")
    if not named:
        return f"real performances: not measured, for {variable} names no folder of the data set {data_set}"
    if not next(iter(Path(named).rglob(holds)), None):
        return f"real performances: not measured, for {named} ({variable}) holds no folder with {holds}"
    return Path(named)


def pieces_of(folder: Path, *, judged: bool) -> list[str]:
    """Folders of the pieces in order of their paths: those at odd places for judging, or those at even places.

    Args:
        folder: of the data set. A file `even-places-only` in it says that only those were copied.
        judged: whether the odd places are wanted.
    """
    names = sorted(path.parent.relative_to(folder).as_posix() for path in folder.rglob(SCORE_BEATS))
    if (folder / "even-places-only").exists():
        return [] if judged else names
    return names[1::2] if judged else names[::2]


def performances(folder: Path, names: list[str]) -> Iterator[RealPerformance]:
    """One performance of each piece: the first by name whose beats are those of its score, if any."""
    for name in names:
        for beats_file in sorted((folder / name).glob("*" + BEATS_ENDING)):
            if beats_file.name == SCORE_BEATS:
                continue
            played = _performance(folder, name, beats_file)
            if played is not None:
                yield played
                break


def _annotated(path: Path) -> NDArray[np.float64]:
    """Times of beats in seconds."""
    return np.array(
        [float(line.split("\t")[0]) for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]
    )


def _metre(path: Path, place: NDArray[np.float64]) -> tuple[str, float]:
    """The first metre of the annotated score, and the place of its first bar line.

    Args:
        path: of the annotated beats, whose third column marks bar lines with `db`, followed by the metre.
        place: of each beat.
    """
    marks = [line.split("\t")[2].strip().split(",") for line in path.read_text(encoding="utf-8").splitlines() if line]
    metre = next(mark[1] for mark in marks if len(mark) > 1 and "/" in mark[1])
    return metre, float(place[next(at for at, mark in enumerate(marks) if mark[0] == "db")])


def _performance(folder: Path, name: str, beats_file: Path) -> RealPerformance | None:
    midi = beats_file.with_name(beats_file.name.removesuffix(BEATS_ENDING) + ".mid")
    beat_s, score_beat_s = _annotated(beats_file), _annotated(folder / name / SCORE_BEATS)
    if not midi.exists() or len(beat_s) != len(score_beat_s) or len(beat_s) < 4 or (np.diff(beat_s) <= 0).any():
        return None
    written, _ = read_score(folder / name / SCORE)
    place = np.round(beats_of_tempo_map(written).quarters_at(score_beat_s) * UNITS) / UNITS
    if (np.diff(place) <= 0).any():
        return None
    keyboard, _ = read_score(midi)
    seconds = seconds_of(keyboard, keyboard.onset_ticks)
    early = (seconds <= seconds.min() + LONGEST_S) & (seconds <= beat_s[-1] + 2)
    if early.sum() < LEAST_NOTES:
        return None
    played = recorded(keyboard.with_notes(early))
    begins = _begins(place[beat_s <= seconds[early].max()])
    beats = BeatTrack(frozen_floats(beat_s), frozen_floats(place - begins))
    true = _truth(written, played, beats, begins)
    return RealPerformance(name, played, true, beats, *_metre(folder / name / SCORE_BEATS, place - begins))


def _begins(place: NDArray[np.float64]) -> float:
    """Where in the quarters of the score's file its beats lie: a file may begin in the middle of one, with a pickup."""
    units = np.round(place * UNITS).astype(np.int64)
    inside, count = np.unique(units % (UNITS // 2), return_counts=True)
    if count.max() < MOST_BEATS * len(units):  # the file itself puts its beats now here, now there
        return 0.0
    own = units[units % (UNITS // 2) == inside[count.argmax()]] % UNITS
    return float(np.bincount(own).argmax()) / UNITS


def recorded(score: Score) -> Score:
    """The notes as one part of a file at 120 quarters a minute, in order of time, then of pitch."""
    from dataclasses import replace

    seconds = seconds_of(score, score.onset_ticks)
    ends = seconds_of(score, frozen_ints(score.onset_ticks + score.duration_ticks))
    ticks = np.round(seconds * 2 * RESOLUTION).astype(np.int64)
    lasts = np.maximum(np.round(ends * 2 * RESOLUTION).astype(np.int64) - ticks, 1)
    order = np.lexsort([score.pitch_midi, ticks])
    four, bar = frozen_ints([4]), 4 * RESOLUTION
    return replace(
        score.with_notes(order),
        resolution=RESOLUTION,
        onset_ticks=frozen_ints(ticks[order]),
        duration_ticks=frozen_ints(lasts[order]),
        part=frozen_ints(np.zeros(len(order), dtype=np.int64)),
        parts=score.parts[:1],
        tempo_map=TempoMap(frozen_ints([0]), frozen_ints([500_000])),
        bar_map=BarMap(frozen_ints([0]), ("1",), four, four, bar),
    )


def _truth(written: Score, played: Score, beats: BeatTrack, begins: float) -> NDArray[np.int64]:
    """Shape (n,): the hole of each note played, -1 where it is not known.

    Args:
        written: the score.
        played: the performance.
        beats: when its beats fell.
        begins: quarters of the score at which quarter 0 of the beats lies.
    """
    quarters = beats.quarters_at(played.onset_ticks / RESOLUTION / 2)
    places = written.onset_ticks / written.resolution - begins
    true = np.full(len(quarters), UNKNOWN)
    for pitch in np.unique(played.pitch_midi):
        mine = np.flatnonzero(played.pitch_midi == pitch)
        its = np.unique(places[written.pitch_midi == pitch])
        if len(its) == 0:
            continue
        near = its[np.abs(quarters[mine][:, None] - its).argmin(axis=1)]
        true[mine] = np.where(np.abs(near - quarters[mine]) <= REACH_QUARTERS, holes_at(near), UNKNOWN)
    return true


def holes_at(places: NDArray[np.float64]) -> NDArray[np.int64]:
    """Shape (n,): the hole at each place, in 24ths of a quarter; UNKNOWN where a wheel has none.

    Args:
        places: shape (n,), in quarters.
    """
    unit = np.round(places * UNITS).astype(np.int64)
    on_wheel = (np.abs(places * UNITS - unit) <= ON_PLACE) & np.isin(unit % UNITS, PLACES)
    return np.where(on_wheel, unit, UNKNOWN)
