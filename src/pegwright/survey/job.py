"""The job of one file: read it, judge it, and report the outcome in one row, whatever happens."""

from __future__ import annotations

from contextlib import suppress
from functools import lru_cache
from pathlib import Path
from typing import Any

from pegwright.config.wheel_file import could_be_loaded
from pegwright.edit.swing import swing_as_marked
from pegwright.errors import PegwrightError
from pegwright.read import read_score
from pegwright.remedy.additions import Addition, with_additions
from pegwright.survey.files import Listed
from pegwright.survey.needs_text import needs_json
from pegwright.verdict.judge import best_sounding, judge, song_fits
from pegwright.verdict.needs import piece_needs
from pegwright.verdict.values import SurveyRow
from pegwright.wheel import Wheel


def survey_file(listed: Listed, wheel: Wheel, semitones: int, fold_octaves: bool = False) -> SurveyRow:
    """The row of one file; no fault of a file gets beyond it but that it needs too much memory.

    Args:
        listed: the file.
        wheel: the wheel.
        semitones: the farthest transposition to try, either way.
        fold_octaves: whether a pitch without a channel may sound some octaves away.

    Raises:
        MemoryError: the file needs more memory than this process may have.
    """
    try:
        score, _ = read_score(listed.path)
        verdict = judge(swing_as_marked(score), wheel, semitones, fold_octaves, could_be_made)
        return SurveyRow(listed.name, verdict)
    except PegwrightError as fault:
        error = _message(fault, listed.path)
    except MemoryError:
        raise  # what is left of the file may fill the memory: its process ends
    except Exception as fault:  # a bug in pegwright stops one file, not the survey
        error = f"this is a bug in pegwright: {type(fault).__name__}: {' '.join(str(fault).split())}"
    return SurveyRow(listed.name, None, error)


def needs_of_file(listed: Listed, wheel: Wheel, semitones: int, fold_octaves: bool) -> list[Any] | None:
    """What the piece of a file needs, see `needs_json`; None where the file cannot be read any more.

    Args:
        listed: the file.
        wheel: the wheel.
        semitones: the farthest transposition to try, either way.
        fold_octaves: whether a pitch without a channel may sound some octaves away.
    """
    with suppress(PegwrightError):
        score = swing_as_marked(read_score(listed.path)[0])
        return needs_json(piece_needs(score, wheel, semitones, fold_octaves, could_be_made))
    return None


def best_with_sets(
    listed: Listed, wheel: Wheel, semitones: int, fold_octaves: bool, sets: tuple[tuple[Addition, ...], ...]
) -> list[int] | None:
    """How many notes of a file sound at the best choice on the wheel with each of some sets of additions made.

    Args:
        listed: the file.
        wheel: the wheel as it is.
        semitones: the farthest transposition to try, either way.
        fold_octaves: whether a pitch without a channel may sound some octaves away.
        sets: of additions.
    """
    with suppress(PegwrightError):
        score = swing_as_marked(read_score(listed.path)[0])
        return [
            best_sounding(song_fits(score, _changed(wheel, additions), fold_octaves), semitones) for additions in sets
        ]
    return None


@lru_cache(maxsize=1024)
def could_be_made(wheel: Wheel) -> bool:
    """Whether a wheel with additions could be read from a file, once for all files of a process."""
    return could_be_loaded(wheel)


@lru_cache(maxsize=64)
def _changed(wheel: Wheel, additions: tuple[Addition, ...]) -> Wheel:
    """The wheel with additions, once for all files of a process."""
    return with_additions(wheel, additions, could_be_made)


def _message(fault: PegwrightError, path: Path) -> str:
    """The fault in one line without the file's own path, which the row has already."""
    text = str(fault)
    for known in (str(path), path.name):
        text = text.removeprefix(f"{known}: ")
    return " ".join(text.split())
