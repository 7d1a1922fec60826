"""The summary of a survey as JSON."""

from __future__ import annotations

from pegwright.units import printed
from pegwright.verdict.tally import Group, Tally, group_of
from pegwright.verdict.things import thing_words
from pegwright.verdict.values import SurveyRow
from pegwright.wheel import Wheel
from pegwright.write.json_text import Json, json_bytes
from pegwright.write.survey_csv import path_text
from pegwright.write.survey_text import SurveyHeading

FORMAT = "pegwright survey"
VERSION = 1


def survey_json(heading: SurveyHeading, wheel: Wheel, counted: Tally) -> bytes:
    """The same as `survey_text` for programs, lists in full."""
    judged = [group for group in Group if group not in {Group.DOES_NOT_FIT, Group.NOT_JUDGED}]
    document: dict[str, Json] = {
        "format": FORMAT,
        "version": VERSION,
        "folder": heading.folder,
        "wheel": {"name": wheel.name, "sha256": wheel.sha256},
        "semitones": heading.semitones,
        "passed_over": heading.passed_over,
        "counts": {str(group): len(rows) for group, rows in counted.groups.items()},
        "pieces": [_piece(row) for group in judged for row in counted.groups[group]],
        "missing": [
            {
                "thing": it.thing.code,
                "words": thing_words(it.thing, wheel),
                "lets_in": it.lets_in,
                "lacked_by": it.lacked_by,
            }
            for it in counted.missing
        ],
        "together": [
            {"things": [thing.code for thing in it.things], "lets_in": it.lets_in, "exact": it.exact}
            for it in counted.together
        ],
        "not_judged": [{"path": path_text(row.path), "error": row.error} for row in counted.groups[Group.NOT_JUDGED]],
    }
    return json_bytes(document)


def _piece(row: SurveyRow) -> dict[str, Json]:
    verdict = row.verdict
    assert verdict is not None, row.path  # noqa: S101  # a row of these groups has one
    return {
        "path": path_text(row.path),
        "title": verdict.title,
        "verdict": str(group_of(row)),
        "turns": verdict.turns,
        "notes": verdict.at_best.notes,
        "transpose_semitones": verdict.transpose_semitones,
        "start_step": printed(verdict.start_steps),
        "left_out": verdict.at_best.left_out,
        "weight_gap": verdict.weight_gap,
        "lacks": [thing.code for thing in verdict.lacks],
    }
