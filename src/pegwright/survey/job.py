"""The job of one file: read it, judge it, and report the outcome in one row, whatever happens."""

from __future__ import annotations

from pathlib import Path

from pegwright.edit.swing import swing_as_marked
from pegwright.errors import PegwrightError
from pegwright.read import read_score
from pegwright.survey.files import Listed
from pegwright.verdict.judge import judge
from pegwright.verdict.values import SurveyRow
from pegwright.wheel import Wheel


def survey_file(listed: Listed, wheel: Wheel, semitones: int) -> SurveyRow:
    """The row of one file; no fault of a file gets beyond it but that it needs too much memory.

    Args:
        listed: the file.
        wheel: the wheel.
        semitones: the farthest transposition to try, either way.

    Raises:
        MemoryError: the file needs more memory than this process may have.
    """
    try:
        score, _ = read_score(listed.path)
        return SurveyRow(listed.name, judge(swing_as_marked(score), wheel, semitones))
    except PegwrightError as fault:
        error = _message(fault, listed.path)
    except MemoryError:
        raise  # what is left of the file may fill the memory: its process ends
    except Exception as fault:  # a bug in pegwright stops one file, not the survey
        error = f"this is a bug in pegwright: {type(fault).__name__}: {' '.join(str(fault).split())}"
    return SurveyRow(listed.name, None, error)


def _message(fault: PegwrightError, path: Path) -> str:
    """The fault in one line without the file's own path, which the row has already."""
    text = str(fault)
    for known in (str(path), path.name):
        text = text.removeprefix(f"{known}: ")
    return " ".join(text.split())
