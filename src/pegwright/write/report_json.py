"""The fit report as JSON; `schema/fit-report-1.json` describes it."""

from __future__ import annotations

from pegwright.findings import Finding
from pegwright.placement import Placement
from pegwright.request import PLAIN, Request
from pegwright.score import Score
from pegwright.units import fraction_text
from pegwright.wheel import Wheel
from pegwright.write.asked import edits_json
from pegwright.write.json_text import Json, json_bytes, rounded
from pegwright.write.pinmap_json import fit_json, score_json, wheel_json
from pegwright.write.report import ToldNote, reason_code, report_on

FORMAT = "pegwright fit report"
VERSION = 1


def report_json(
    score: Score,
    wheel: Wheel,
    placement: Placement,
    findings: tuple[Finding, ...],
    remedies: dict[str, Json] | None = None,
    request: Request = PLAIN,
    load: list[Json] | None = None,
) -> bytes:
    """Every note that is not where it was written, and why, the same bytes for the same input.

    Args:
        score: what was fitted.
        wheel: what it was fitted to.
        placement: what came of it.
        findings: of every stage.
        remedies: as `write/remedies.py` gives them, where they were asked for.
        request: what was asked of the song.
        load: as `write/load.py` gives it, where it was asked for.
    """
    report = report_on(score, wheel, placement, findings)
    return json_bytes(
        {
            "format": FORMAT,
            "version": VERSION,
            "wheel": wheel_json(wheel),
            "score": score_json(score),
            "edits": edits_json(request),
            "fit": fit_json(wheel, placement),
            "turns": fraction_text(report.turns),
            "turn_s": rounded(report.turn_s),
            "all_placed": not report.left_out,
            "notes": report.notes,
            "placed": report.placed,
            "left_out_count": len(report.left_out),
            "left_out_by_reason": {reason_code(reason): len(notes) for reason, notes in report.reasons().items()},
            "placed_by_audibility": {level.words: count for level, count in report.heard.items()},
            "best": {
                "status": placement.status.name.lower(),
                "weight": placement.weight,
                "weight_bound": placement.weight_bound,
            },
            "left_out": [_left_out(note) for note in report.left_out],
            "moved": [_moved(note) for note in report.moved],
            "findings": [_finding(finding) for finding in report.findings],
            **({} if remedies is None else {"remedies": remedies}),
            **({} if load is None else {"load": load}),
        }
    )


def _note(note: ToldNote) -> dict[str, Json]:
    return {
        "note": note.number,
        "source": str(note.source),
        "part": note.source.part,
        "bar": note.source.bar,
        "beat": fraction_text(note.source.beat),
        "pitch_midi": note.pitch_midi,
        "pitch": note.pitch,
        "channel_name": note.channel,
        "detail": note.detail or None,
    }


def _left_out(note: ToldNote) -> dict[str, Json]:
    reason: dict[str, Json] = {
        "reason": reason_code(note.outcome),
        "reason_text": note.outcome.words,
        "sounded_by_note": note.sounded_by,
        "hint": note.hint or None,
    }
    return _note(note) | reason


def _moved(note: ToldNote) -> dict[str, Json]:
    words = note.audibility.words if note.audibility is not None else None
    return _note(note) | {"deviation_ms": rounded(note.deviation_ms), "audibility": words}


def _finding(finding: Finding) -> dict[str, Json]:
    return {
        "code": finding.code,
        "severity": finding.severity.name.lower(),
        "where": finding.where or None,
        "message": finding.message,
        "hint": finding.hint or None,
        "count": finding.count,
    }
