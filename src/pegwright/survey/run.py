"""A survey from a folder to the files that report it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from pegwright.draw.histogram import HistogramLabels, histogram
from pegwright.own_process import MEMORY_BYTES
from pegwright.survey.files import Listed, list_scores
from pegwright.survey.job import survey_file
from pegwright.survey.journal import open_journal
from pegwright.survey.workers import OUT_OF_MEMORY, Failed, results
from pegwright.verdict.tally import Survey, tally
from pegwright.verdict.values import SurveyRow
from pegwright.wheel import Wheel
from pegwright.write.survey.csv import survey_csv
from pegwright.write.survey.json import survey_json
from pegwright.write.survey.text import survey_text
from pegwright.write.svg import svg_text


def run_survey(
    folder: Path,
    wheel: Wheel,
    semitones: int,
    out: Path,
    *,
    workers: int,
    limit_s: float,
    memory_bytes: int = MEMORY_BYTES,
    again: bool = False,
    progress: Callable[[int, int], None] = lambda _count, _of: None,
) -> Survey:
    """Judge every score file of a folder, going on where an earlier run of the same survey stopped.

    Args:
        folder: with all folders in it.
        wheel: the wheel.
        semitones: the farthest transposition to try, either way.
        out: where the journal is; created if missing.
        workers: how many processes, at least 1.
        limit_s: seconds that one file may take.
        memory_bytes: what one process may take for its files.
        again: whether to judge every file afresh.
        progress: called with the files done and all files, at the beginning, then after each file.

    Raises:
        UsageError: the folder cannot be read, or `out` is not for this survey.
    """
    scores, passed_over = list_scores(folder)
    judge_one = partial(survey_file, wheel=wheel, semitones=semitones)
    with open_journal(out, wheel, semitones, again) as journal:
        known = (
            SurveyRow(listed.name, None, listed.problem) if listed.problem else journal.row(listed) for listed in scores
        )
        rows = {row.path: row for row in known if row}
        waiting = [listed for listed in scores if listed.name not in rows]
        progress(len(rows), len(scores))
        for number, result in results(judge_one, waiting, workers, limit_s, memory_bytes):
            listed = waiting[number]
            row = _failed(listed, result, limit_s) if isinstance(result, Failed) else result
            journal.keep(listed, row)
            rows[listed.name] = row
            progress(len(rows), len(scores))
    ordered = tuple(rows[listed.name] for listed in scores)
    return Survey(folder.absolute().name, semitones, passed_over, wheel, ordered, tally(ordered))


def survey_files(survey: Survey) -> dict[str, bytes]:
    """The files that report a survey: file name -> contents."""
    verdicts = [row.verdict for row in survey.rows if row.verdict]
    page = histogram(
        [verdict.as_is.share for verdict in verdicts],
        [verdict.at_best.share for verdict in verdicts],
        HistogramLabels(
            title=f"How much of each piece sounds on {survey.wheel.name}",
            across="share of a piece's notes that sound",
            up="pieces",
            before="as written",
            after="at the best transposition and start",
        ),
    )
    return {
        "survey.csv": survey_csv(survey.rows),
        "survey.txt": survey_text(survey).encode("utf-8", "replace"),
        "survey.json": survey_json(survey),
        "survey.svg": svg_text(page).encode("utf-8", "replace"),
    }


def _failed(listed: Listed, failed: Failed, limit_s: float) -> SurveyRow:
    code = failed.exit_code
    if code is None:
        return SurveyRow(listed.name, None, f"given up after {limit_s:g} s (--time-limit allows more)")
    if code == OUT_OF_MEMORY:
        error = "given up: it needs more memory than there is, or than --memory-limit allows"
        return SurveyRow(listed.name, None, error)
    how = f"by signal {-code}" if code < 0 else f"with exit code {code}"
    return SurveyRow(listed.name, None, f"reading or judging it ended the process, {how}; memory may have run out")
