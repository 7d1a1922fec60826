"""The fit report as JSON; `schema/fit-report-3.json` describes it."""

from __future__ import annotations

from collections.abc import Iterator

from pegwright.ask.text import edits_json
from pegwright.findings import Finding
from pegwright.json_value import Json
from pegwright.search.best import Best
from pegwright.song import FittedSong
from pegwright.tell.findings import reason_code
from pegwright.tell.report import ReportedNote
from pegwright.units import fraction_text, printed
from pegwright.write.json_text import json_pieces, rounded
from pegwright.write.note_count import note_count_json
from pegwright.write.pin_map.json import fit_json, score_json, wheel_json

FORMAT = "pegwright fit report"
VERSION = 3


def report_json(song: FittedSong, remedies: dict[str, Json] | None = None, load: list[Json] | None = None) -> bytes:
    """Every note that is not where it was written, and why, the same bytes for the same input.

    Args:
        song: on its wheel.
        remedies: as `write/report/remedies.py` gives them; None leaves them out.
        load: as `write/report/load.py` gives it; None leaves it out.
    """
    return b"".join(report_json_pieces(song, remedies, load))


def report_json_pieces(
    song: FittedSong, remedies: dict[str, Json] | None = None, load: list[Json] | None = None
) -> Iterator[bytes]:
    """The bytes of `report_json` in pieces, each note made as it is written; arguments are the same."""
    report, placement = song.report, song.whole_placement
    document: dict[str, Json | Iterator[Json]] = {
        "wheel": wheel_json(song.wheel),
        "score": score_json(song.score),
        "edits": edits_json(song.request),
        "fit": fit_json(song.wheel, placement),
        **({"running_order": _running_order(song)} if song.several_turns else {}),
        **({"search": _search(song.best)} if song.best else {}),
        "turns": fraction_text(report.turns),
        "turn_s": rounded(report.turn_s),
        "count": note_count_json(song.count),
        "placed_by_audibility": {level.words: count for level, count in report.audibility_counts.items()},
        "best": {
            "status": placement.status.name.lower(),
            "weight": placement.weight,
            "weight_bound": placement.weight_bound,
        },
        "left_out": (_left_out(note, song.several_turns) for note in report.left_out),
        "shared": (_shared(note, song.several_turns) for note in report.shared),
        "moved": (_moved(note, song.several_turns) for note in report.moved),
        "leads": _leads(song),
        "findings": (_finding(finding) for finding in report.findings),
        **({} if remedies is None else {"remedies": remedies}),
        **({} if load is None else {"load": load}),
    }
    return json_pieces(FORMAT, VERSION, document)


def _leads(song: FittedSong) -> dict[str, Json]:
    """What leads and the placement do to notes meant together, with every pair."""
    apart, channels = song.apart, song.wheel.channels
    return {
        "apart_ms": rounded(apart.leads_ms),
        "placement_apart_ms": rounded(apart.placed_ms),
        "others_apart_ms": rounded(apart.others_ms),
        "pairs": [
            {
                "first_channel_name": channels[pair.first].name,
                "later_channel_name": channels[pair.later].name,
                "moments": pair.moments,
                "apart_ms": rounded(pair.apart_ms),
                "by_leads_ms": rounded(pair.leads_ms),
                "by_placement_ms": rounded(pair.placed_ms),
                "where": str(pair.where),
            }
            for pair in apart.pairs
        ],
    }


def _running_order(song: FittedSong) -> list[Json]:
    """Each turn with the set of plates that it takes, its bars and its notes."""
    return [
        {
            "turn": printed(number),
            "set": song.letter(pinning),
            "bars": [turn.score.bar_map.labels[0], turn.score.bar_map.labels[-1]],
            "notes": turn.placement.note_count,
            "sounding": turn.placement.sounding_count,
            "pins": turn.pins.pin_count,
        }
        for number, (turn, pinning) in enumerate(zip(song.turns, song.running, strict=True))
    ]


def _search(best: Best) -> dict[str, Json]:
    """The best transpositions, each with all of its equally good starts."""
    return {
        "transpositions": best.transpositions,
        "starts": best.starts,
        "proved": best.gap is None,
        "weight_gap": best.gap,
        "found": [
            {
                "transpose_semitones": way.choice.transpose_semitones,
                "weight": way.choice.weight,
                "start_steps": [printed(step) for step in way.equal_starts],
            }
            for way in best.ranked
        ],
    }


def _note(note: ReportedNote, with_turn: bool) -> dict[str, Json]:
    return {
        "note": note.number,
        **({"turn": printed(note.turn)} if with_turn else {}),
        "source": str(note.source),
        "part": note.source.part,
        "bar": note.source.bar,
        "beat": fraction_text(note.source.beat),
        "pitch_midi": note.pitch_midi,
        "pitch": note.pitch,
        "channel_name": note.channel,
        "detail": note.detail or None,
    }


def _left_out(note: ReportedNote, with_turn: bool) -> dict[str, Json]:
    reason: dict[str, Json] = {
        "reason": reason_code(note.outcome),
        "reason_text": note.outcome.words,
        "hint": note.hint or None,
    }
    return _note(note, with_turn) | reason


def _shared(note: ReportedNote, with_turn: bool) -> dict[str, Json]:
    return _note(note, with_turn) | {"sounded_by_note": note.sounded_by}


def _moved(note: ReportedNote, with_turn: bool) -> dict[str, Json]:
    words = note.audibility.words if note.audibility is not None else None
    return _note(note, with_turn) | {"deviation_ms": rounded(note.deviation_ms), "audibility": words}


def _finding(finding: Finding) -> dict[str, Json]:
    return {
        "code": finding.code,
        "severity": finding.severity.name.lower(),
        "where": finding.where or None,
        "message": finding.message,
        "hint": finding.hint or None,
        "count": finding.count,
    }
