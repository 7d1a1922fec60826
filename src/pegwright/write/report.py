"""What became of a song on a wheel, gathered once for every report: text, JSON and whatever follows."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from pegwright.findings import Finding
from pegwright.fit.audible import NOT_PLACED, Audibility, audibility
from pegwright.fit.explain import CODES, MOVED_CODE, UNISON_CODE
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, Placement
from pegwright.score import Score, SourceRef
from pegwright.units import pitch_name, printed
from pegwright.wheel import Wheel


@dataclass(frozen=True, slots=True)
class ToldNote:
    """One note that was left out or moved.

    Args:
        number: in the order of the score, from 1.
        source: where it stands.
        pitch_midi, pitch: as written; a General MIDI percussion key and its name in a percussion part.
        channel: name of its channel, or None.
        outcome: what became of it.
        deviation_ms: how much later than written it sounds, 0 where it is left out.
        audibility: how audible that is; None where it is left out.
        sounded_by: number of the note whose pin sounds this one too, or None.
        detail: one sentence with its numbers, or empty.
        hint: what would help, or empty.
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


@dataclass(frozen=True, slots=True)
class Report:
    """A song on a wheel: notes in = placed + left out.

    Args:
        notes, placed: counts; what is left out is listed.
        left_out: by reason in the order of `Outcome`, then in the order of the score.
        moved: notes placed elsewhere than written, the most audible first, then the farthest.
        heard: placed notes of each `Audibility`.
        findings: those that speak of no single left-out or moved note, worst first.
        turns: the song's length in turns of the wheel, exact.
        turn_s: a turn in seconds at the tempo of the fit.
    """

    notes: int
    placed: int
    left_out: tuple[ToldNote, ...]
    moved: tuple[ToldNote, ...]
    heard: dict[Audibility, int]
    findings: tuple[Finding, ...]
    turns: Fraction
    turn_s: float

    def reasons(self) -> dict[Outcome, tuple[ToldNote, ...]]:
        """Left-out notes by reason, only reasons that occur."""
        return {
            reason: told
            for reason in Outcome
            if (told := tuple(note for note in self.left_out if note.outcome == reason))
        }


def report_on(score: Score, wheel: Wheel, placement: Placement, findings: tuple[Finding, ...]) -> Report:
    """Gather what became of every note.

    The fit's findings on single notes are told with their notes; all others are kept.
    """
    heard = audibility(score, placement)
    out = sorted(np.flatnonzero(heard == NOT_PLACED).tolist(), key=lambda note: placement.outcome[note])
    moved = sorted(
        np.flatnonzero(heard > Audibility.EXACT).tolist(),
        key=lambda note: (-heard[note], -abs(placement.deviation_ms[note]), note),
    )
    own, others = _findings_by_note(score, placement, findings)

    def told(note: int) -> ToldNote:
        return _told(score, wheel, placement, note, int(heard[note]), own.get(note))

    return Report(
        notes=placement.note_count,
        placed=placement.placed_count,
        left_out=tuple(map(told, out)),
        moved=tuple(map(told, moved)),
        heard={level: int(np.count_nonzero(heard == level)) for level in Audibility},
        findings=tuple(sorted(others, key=lambda finding: -finding.severity)),
        turns=Fraction(score.length_ticks, score.resolution) / wheel.turn_quarters,
        turn_s=float(wheel.turn_quarters) * placement.us_per_quarter / 1e6,
    )


def note_name(score: Score, note: int) -> str:
    """The written pitch by name, or the name of the percussion key."""
    pitch = int(score.pitch_midi[note])
    return drum_key_name(pitch) if score.parts[int(score.part[note])].percussion else pitch_name(pitch)


def reason_code(outcome: Outcome) -> str:
    """The outcome as programs know it: `placed`, `no-channel`, `off-grid`."""
    return outcome.name.lower().replace("_", "-")


def _told(score: Score, wheel: Wheel, placement: Placement, note: int, heard: int, finding: Finding | None) -> ToldNote:
    channel = int(placement.channel[note])
    return ToldNote(
        number=printed(note),
        source=score.source(note),
        pitch_midi=int(score.pitch_midi[note]),
        pitch=note_name(score, note),
        channel=wheel.channels[channel].name if channel >= 0 else None,
        outcome=Outcome(int(placement.outcome[note])),
        deviation_ms=float(placement.deviation_ms[note]),
        audibility=None if heard == NOT_PLACED else Audibility(heard),
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

    Notes at one place have equal `where`; the fit tells them in the order of the score. Where it told too many
    notes as one finding, they are left without.
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
    """The code of the fit's finding on a note; None where it has nothing to tell."""
    outcome = Outcome(int(placement.outcome[note]))
    if outcome == Outcome.PLACED:
        return MOVED_CODE if placement.deviation_ms[note] else None
    return UNISON_CODE if _shares_a_pin(placement, note) else CODES.get(outcome)
