"""The outcome of a song on a wheel, gathered once for every report: text, JSON and page."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate

import numpy as np

from pegwright.findings import Finding
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, Placement
from pegwright.score import Score, SourceRef
from pegwright.tell.audible import NOT_PLACED, Audibility, audibility
from pegwright.tell.findings import CODES, MOVED_CODE, UNISON_CODE
from pegwright.units import pitch_name, printed
from pegwright.wheel import Wheel


@dataclass(frozen=True, slots=True)
class ReportedNote:
    """One note that was left out or moved.

    Args:
        number: in the order of the score, from 1.
        source: where it is.
        pitch_midi, pitch: as written; a General MIDI percussion key and its name in a percussion part.
        channel: name of its channel, or None.
        outcome: placed, or the reason it is left out.
        deviation_ms: how much later than written it sounds, 0 where it is left out.
        audibility: how audible that is; None where it is left out.
        sounded_by: number of the note whose pin sounds this one too, or None.
        detail: one sentence with its numbers, or empty.
        hint: what would help, or empty.
        turn: in which turn of the song it is, 0-based.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> note = fit_file(bundled_songs()[2], load_wheel(bundled_wheel())).report.left_out[0]
    >>> note.pitch, str(note.source), note.outcome.words
    ('Acoustic Snare', 'lamplighters-march.mid:Percussion:bar 8 beat 4 7/8', 'lost at a seam')
    """

    number: int
    source: SourceRef
    pitch_midi: int
    pitch: str
    channel: str | None
    outcome: Outcome
    deviation_ms: float
    audibility: Audibility | None
    sounded_by: int | None
    detail: str
    hint: str
    turn: int = 0


@dataclass(frozen=True, slots=True)
class Report:
    """A song on a wheel over all its turns: notes in = placed + left out.

    Args:
        notes, placed: counts; what is left out is listed.
        left_out: by reason in the order of `Outcome`, then in the order of the score.
        moved: notes placed elsewhere than written, the most audible first, then the farthest.
        audibility_counts: placed notes of each `Audibility`.
        findings: those that concern no single left-out or moved note, worst first.
        turns: the song's length in turns of the wheel, exact.
        turn_s: a turn in seconds at the tempo of the fit.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> report = fit_file(bundled_songs()[3], load_wheel(bundled_wheel())).report
    >>> {reason.words: len(notes) for reason, notes in report.reasons().items()}
    {'no channel for this pitch': 1, 'lost at a seam': 1, 'hole already used': 1}
    """

    notes: int
    placed: int
    left_out: tuple[ReportedNote, ...]
    moved: tuple[ReportedNote, ...]
    audibility_counts: dict[Audibility, int]
    findings: tuple[Finding, ...]
    turns: Fraction
    turn_s: float

    def reasons(self) -> dict[Outcome, tuple[ReportedNote, ...]]:
        """Left-out notes by reason, only reasons that occur."""
        return {
            reason: notes
            for reason in Outcome
            if (notes := tuple(note for note in self.left_out if note.outcome == reason))
        }


def report_on(score: Score, wheel: Wheel, placement: Placement, findings: tuple[Finding, ...]) -> Report:
    """Gather the outcome of every note.

    The fit's findings on single notes are given with their notes; all others are kept.

    Args:
        score: the song, or a turn of it.
        wheel: what it was fitted to.
        placement: the outcome of every note.
        findings: of all stages.
    """
    levels = audibility(score, placement)
    out = sorted(np.flatnonzero(levels == NOT_PLACED).tolist(), key=lambda note: placement.outcome[note])
    moved = sorted(
        np.flatnonzero(levels > Audibility.EXACT).tolist(),
        key=lambda note: (-levels[note], -abs(placement.deviation_ms[note]), note),
    )
    own, others = _findings_by_note(score, placement, findings)

    def reported(note: int) -> ReportedNote:
        return _reported_note(score, wheel, placement, note, int(levels[note]), own.get(note))

    return Report(
        notes=placement.note_count,
        placed=placement.placed_count,
        left_out=tuple(map(reported, out)),
        moved=tuple(map(reported, moved)),
        audibility_counts={level: int(np.count_nonzero(levels == level)) for level in Audibility},
        findings=tuple(sorted(others, key=lambda finding: -finding.severity)),
        turns=Fraction(score.length_ticks, score.resolution) / wheel.turn_quarters,
        turn_s=float(wheel.turn_quarters) * placement.us_per_quarter / 1e6,
    )


def joined(score: Score, wheel: Wheel, reports: Sequence[Report], findings: tuple[Finding, ...]) -> Report:
    """The report on a song of several turns.

    Args:
        score: the whole song, whose notes are those of its turns one after another.
        wheel: what it was fitted to.
        reports: on each turn.
        findings: on the whole song.
    """
    firsts = [0, *accumulate(report.notes for report in reports)]

    def of_song(note: ReportedNote, turn: int) -> ReportedNote:
        number, first = note.number + firsts[turn], firsts[turn]
        sounded_by = None if note.sounded_by is None else note.sounded_by + first
        source = score.source(number - printed(0))
        return replace(note, number=number, source=source, sounded_by=sounded_by, turn=turn)

    left_out = [of_song(note, turn) for turn, report in enumerate(reports) for note in report.left_out]
    moved = [of_song(note, turn) for turn, report in enumerate(reports) for note in report.moved]
    both = (*findings, *_of_all_turns([report.findings for report in reports]))
    return Report(
        notes=score.note_count,
        placed=sum(report.placed for report in reports),
        left_out=tuple(sorted(left_out, key=lambda note: (note.outcome, note.number))),
        moved=tuple(sorted(moved, key=lambda note: (-(note.audibility or 0), -abs(note.deviation_ms), note.number))),
        audibility_counts={level: sum(report.audibility_counts[level] for report in reports) for level in Audibility},
        findings=tuple(sorted(both, key=lambda finding: -finding.severity)),
        turns=Fraction(score.length_ticks, score.resolution) / wheel.turn_quarters,
        turn_s=reports[0].turn_s,
    )


def _of_all_turns(findings: Sequence[tuple[Finding, ...]]) -> Iterator[Finding]:
    """The findings of the turns: one that all turns have once, others with their turn where they name no bar."""
    in_all = [one for one in findings[0] if all(one in others for others in findings[1:])]
    yield from in_all
    for turn, of_turn in enumerate(findings):
        for finding in of_turn:
            if finding not in in_all:
                place = f"turn {printed(turn)}"
                names_bar = ":bar " in finding.where or ": bar " in finding.where
                where = finding.where if names_bar else f"{finding.where}:{place}" if finding.where else place
                yield replace(finding, where=where)


def note_name(score: Score, note: int) -> str:
    """The written pitch by name, or the name of the percussion key."""
    pitch = int(score.pitch_midi[note])
    return drum_key_name(pitch) if score.parts[int(score.part[note])].percussion else pitch_name(pitch)


def reason_code(outcome: Outcome) -> str:
    """The outcome as programs know it: `placed`, `no-channel`, `off-grid`."""
    return outcome.name.lower().replace("_", "-")


def _reported_note(
    score: Score, wheel: Wheel, placement: Placement, note: int, level: int, finding: Finding | None
) -> ReportedNote:
    channel = int(placement.channel[note])
    return ReportedNote(
        number=printed(note),
        source=score.source(note),
        pitch_midi=int(score.pitch_midi[note]),
        pitch=note_name(score, note),
        channel=wheel.channels[channel].name if channel >= 0 else None,
        outcome=Outcome(int(placement.outcome[note])),
        deviation_ms=float(placement.deviation_ms[note]),
        audibility=None if level == NOT_PLACED else Audibility(level),
        sounded_by=printed(int(placement.unison[note])) if _shares_a_pin(placement, note) else None,
        detail=finding.message if finding else "",
        hint=finding.hint if finding else "",
    )


def _shares_a_pin(placement: Placement, note: int) -> bool:
    other = int(placement.unison[note])
    used = placement.outcome[note] == Outcome.HOLE_USED
    return bool(used and other >= 0 and placement.outcome[other] == Outcome.PLACED)


def _findings_by_note(
    score: Score, placement: Placement, findings: tuple[Finding, ...]
) -> tuple[dict[int, Finding], list[Finding]]:
    """The fit's finding on each note, and the findings on anything else.

    Notes at one place have equal `where`; the fit lists them in the order of the score. Where it summed up
    many notes in one finding, they are left without.
    """
    waiting: dict[tuple[str, str], list[int]] = defaultdict(list)
    for note in range(placement.note_count):
        if code := _code(placement, note):
            waiting[code, str(score.source(note))].append(note)
    own: dict[int, Finding] = {}
    others = []
    for finding in findings:
        if notes := waiting.get((finding.code, finding.where)):
            own[notes.pop(0)] = finding
        elif finding.code not in _NOTE_CODES:
            others.append(finding)
    return own, others


_NOTE_CODES = frozenset([*CODES.values(), UNISON_CODE, MOVED_CODE])


def _code(placement: Placement, note: int) -> str | None:
    """The code of the fit's finding on a note; None where it has none."""
    outcome = Outcome(int(placement.outcome[note]))
    if outcome == Outcome.PLACED:
        return MOVED_CODE if placement.deviation_ms[note] else None
    return UNISON_CODE if _shares_a_pin(placement, note) else CODES.get(outcome)
