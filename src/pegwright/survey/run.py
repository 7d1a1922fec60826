"""A survey from a folder to the files that report it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from pegwright.draw.build_out import build_out_chart
from pegwright.draw.histogram import HistogramLabels, histogram
from pegwright.own_process import MEMORY_BYTES
from pegwright.survey.build_out import Phase, Results, Surveyed, built_out, judged
from pegwright.survey.files import Listed, list_scores
from pegwright.survey.job import survey_file
from pegwright.survey.journal import open_journal, subject
from pegwright.survey.workers import OUT_OF_MEMORY, Failed, results
from pegwright.verdict.tally import Survey, tally
from pegwright.verdict.values import SurveyRow
from pegwright.wheel import Wheel
from pegwright.write.survey.build_out import chart_of
from pegwright.write.survey.csv import survey_csv
from pegwright.write.survey.json import survey_json
from pegwright.write.survey.text import survey_text
from pegwright.write.svg import svg_text

BUILD_OUT_TIMES = 20  # the time limit of a file: for a build-out it is fitted as often


def run_survey(
    folder: Path,
    wheel: Wheel,
    semitones: int,
    out: Path,
    *,
    workers: int,
    limit_s: float,
    memory_bytes: int = MEMORY_BYTES,
    fold_octaves: bool = False,
    additions: int = 0,
    again: bool = False,
    progress: Callable[[Phase, int, int], None] = lambda _phase, _count, _of: None,
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
        fold_octaves: whether a pitch without a channel may sound some octaves away.
        additions: how many to choose for a build-out at most; 0 for none.
        again: whether to judge every file afresh.
        progress: called with the phase, the files done and all files, at its beginning, then after each file.

    Raises:
        UsageError: the folder cannot be read, or `out` is not for this survey.
        InputError: the folder holds no score.
    """

    def for_each(phase: Phase) -> Results:
        def done(job: Callable[[Listed], Any], files: Sequence[Listed]) -> Iterator[tuple[int, Any]]:
            progress(phase, 0, len(files))
            for number, result in enumerate(results(job, files, workers, BUILD_OUT_TIMES * limit_s, memory_bytes), 1):
                yield result
                progress(phase, number, len(files))

        return done

    scores, passed_over = list_scores(folder)
    judge_one = partial(survey_file, wheel=wheel, semitones=semitones, fold_octaves=fold_octaves)
    with open_journal(out, subject(wheel, semitones, fold_octaves), again) as journal:
        known = (
            SurveyRow(listed.name, None, listed.problem) if listed.problem else journal.row(listed) for listed in scores
        )
        rows = {row.path: row for row in known if row}
        waiting = [listed for listed in scores if listed.name not in rows]
        progress(Phase.JUDGE, len(rows), len(scores))
        for number, result in results(judge_one, waiting, workers, limit_s, memory_bytes):
            listed = waiting[number]
            row = _failed(listed, result, limit_s) if isinstance(result, Failed) else result
            journal.keep(listed, row)
            rows[listed.name] = row
            progress(Phase.JUDGE, len(rows), len(scores))
        ordered = tuple(rows[listed.name] for listed in scores)
        table = None
        if additions:
            surveyed = Surveyed(wheel, semitones, fold_octaves, judged(ordered, scores))
            table = built_out(surveyed, additions, journal, for_each)
    return Survey(folder.absolute().name, semitones, passed_over, wheel, ordered, tally(ordered), fold_octaves, table)


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
    files = {
        "survey.csv": survey_csv(survey.rows),
        "survey.txt": survey_text(survey).encode("utf-8", "replace"),
        "survey.json": survey_json(survey),
        "survey.svg": svg_text(page).encode("utf-8", "replace"),
    }
    if survey.build_out is not None:
        chart = build_out_chart(chart_of(survey.build_out, survey.wheel, len(verdicts)))
        files["build-out.svg"] = svg_text(chart).encode("utf-8", "replace")
    return files


def _failed(listed: Listed, failed: Failed, limit_s: float) -> SurveyRow:
    code = failed.exit_code
    if code is None:
        return SurveyRow(listed.name, None, f"given up after {limit_s:g} s (--time-limit allows more)")
    if code == OUT_OF_MEMORY:
        error = "given up: it needs more memory than there is, or than --memory-limit allows"
        return SurveyRow(listed.name, None, error)
    how = f"by signal {-code}" if code < 0 else f"with exit code {code}"
    return SurveyRow(listed.name, None, f"reading or judging it ended the process, {how}; memory may have run out")
