"""The summary of a survey as JSON."""

from __future__ import annotations

from pegwright.json_value import Json
from pegwright.remedy.additions import addition_words
from pegwright.units import printed
from pegwright.verdict.tally import FitGroup, Survey, group_of
from pegwright.verdict.values import SurveyRow
from pegwright.write.json_text import json_file
from pegwright.write.note_count import note_count_json
from pegwright.write.survey.build_out import build_out_json
from pegwright.write.survey.csv import path_text
from pegwright.write.survey.text import LISTED_GROUPS

FORMAT = "pegwright survey"
VERSION = 1


def survey_json(survey: Survey) -> bytes:
    """The same as `survey_text` for programs, lists in full."""
    counted, wheel = survey.counted, survey.wheel
    document: dict[str, Json] = {
        "folder": survey.folder,
        "wheel": {"name": wheel.name, "sha256": wheel.sha256},
        "semitones": survey.semitones,
        "fold_octaves": survey.fold_octaves,
        "passed_over": survey.passed_over,
        "counts": {str(group): len(rows) for group, rows in counted.groups.items()},
        "pieces": [_piece(row) for group in LISTED_GROUPS for row in counted.groups[group]],
        "missing": [
            {
                "thing": missing.addition.code,
                "words": addition_words(missing.addition, wheel),
                "lets_in": missing.lets_in,
                "lacked_by": missing.lacked_by,
                "notes": missing.notes,
            }
            for missing in counted.missing
        ],
        "together": [
            {"things": [each.code for each in chosen.additions], "lets_in": chosen.lets_in, "exact": chosen.exact}
            for chosen in counted.together
        ],
        "build_out": build_out_json(survey),
        "not_judged": [
            {"path": path_text(row.path), "error": row.error} for row in counted.groups[FitGroup.NOT_JUDGED]
        ],
    }
    return json_file(FORMAT, VERSION, document)


def _piece(row: SurveyRow) -> dict[str, Json]:
    verdict = row.verdict
    assert verdict is not None, row.path  # noqa: S101  # a row of these groups has one
    return {
        "path": path_text(row.path),
        "title": verdict.title,
        "verdict": str(group_of(row)),
        "turns": verdict.turns,
        "notes": verdict.at_best.count.read,
        "transpose_semitones": verdict.transpose_semitones,
        "start_step": printed(verdict.start_steps),
        "left_out": verdict.at_best.count.left_out,
        "count": note_count_json(verdict.at_best.count),
        "weight_gap": verdict.weight_gap,
        "lacks": [addition.code for addition in verdict.lacks],
    }
