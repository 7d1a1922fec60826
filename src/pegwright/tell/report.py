"""The outcome of a song on a wheel, gathered once for every report: text, JSON and page."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TypeAlias

import numpy as np

from pegwright.columns import Ints
from pegwright.findings import Finding
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, Placement
from pegwright.score import Score, SourceRef
from pegwright.tell.audible import NOT_PLACED, Audibility, audibility
from pegwright.tell.findings import CODES, MOVED_CODE, UNISON_CODE
from pegwright.units import pitch_name, printed
from pegwright.wheel import Wheel

TurnOutcome: TypeAlias = tuple[Score, Placement, tuple[Finding, ...]]  # a turn, its placement, the findings of its fit


@dataclass(frozen=True, slots=True)
class ReportedNote:
    """One note that was left out, shares a pin, or was moved.

    Args:
        number: in the order of the score, from 1.
        source: where it is.
        pitch_midi, pitch: as written; a General MIDI percussion key and its name in a percussion part.
        channel: name of its channel, or None.
        outcome: placed, or the reason it is left out; `HOLE_USED` where it shares a pin.
        deviation_ms: how much later than written it sounds, 0 where it is left out.
        audibility: how audible that is; None where it has no pin of its own.
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
    """A song on a wheel over all its turns: every note that does not simply sound as it is written.

    Args:
        left_out: notes that do not sound, by reason in the order of `Outcome`, then in the order of the score.
        shared: notes that the pin of another note sounds, in the order of the score.
        moved: notes placed elsewhere than written, the most audible first, then the farthest.
        audibility_counts: notes with a pin of their own of each `Audibility`.
        findings: those that concern no single left-out or moved note, worst first.
        turns: the song's length in turns of the wheel, exact.
        turn_s: a turn in seconds at the tempo of the fit.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> report = fit_file(bundled_songs()[3], load_wheel(bundled_wheel())).report
    >>> {reason.words: len(notes) for reason, notes in report.reasons().items() if len(notes) > 1}
    {'pins would touch': 2}
    """

    left_out: tuple[ReportedNote, ...]
    shared: tuple[ReportedNote, ...]
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


def report_on(score: Score, wheel: Wheel, turns: Sequence[TurnOutcome], findings: tuple[Finding, ...] = ()) -> Report:
    """Gather the outcome of every note.

    The fit's findings on single notes are given with their notes; all others are kept.

    Args:
        score: the whole song, whose notes are those of its turns one after another.
        wheel: what it was fitted to.
        turns: of the song in playing order, at least one.
        findings: on the whole song.
    """
    notes: list[ReportedNote] = []
    counts: Counter[int] = Counter()
    others = []
    for number, (turn, placement, of_turn) in enumerate(turns):
        levels = audibility(turn, placement)
        by_note, rest = _findings_by_note(turn, placement, of_turn)
        notes += _reported(score, wheel, placement, levels, by_note, number, first=counts.total())
        counts.update(levels.tolist())
        others.append(rest)
    both = (*findings, *_of_all_turns(others))
    left_out = [note for note in notes if note.outcome != Outcome.PLACED and note.sounded_by is None]
    moved = [note for note in notes if note.outcome == Outcome.PLACED]
    return Report(
        left_out=tuple(sorted(left_out, key=lambda note: note.outcome)),
        shared=tuple(note for note in notes if note.sounded_by is not None),
        moved=tuple(sorted(moved, key=lambda note: (-(note.audibility or 0), -abs(note.deviation_ms)))),
        audibility_counts={level: counts[level] for level in Audibility},
        findings=tuple(sorted(both, key=lambda finding: -finding.severity)),
        turns=Fraction(score.length_ticks, score.resolution) / wheel.turn_quarters,
        turn_s=float(wheel.turn_quarters) * turns[0][1].us_per_quarter / 1e6,
    )


def _of_all_turns(findings: Sequence[Sequence[Finding]]) -> Iterator[Finding]:
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


def _reported(
    score: Score,
    wheel: Wheel,
    placement: Placement,
    levels: Ints,
    by_note: dict[int, Finding],
    turn: int,
    first: int,
) -> Iterator[ReportedNote]:
    """The notes of a turn that are not exact, in its order; `first` notes of the song come before it."""
    shared = placement.shared
    for note in np.flatnonzero(levels != Audibility.EXACT).tolist():
        channel, finding = int(placement.channel[note]), by_note.get(note)
        yield ReportedNote(
            number=printed(first + note),
            source=score.source(first + note),
            pitch_midi=int(score.pitch_midi[first + note]),
            pitch=note_name(score, first + note),
            channel=wheel.channels[channel].name if channel >= 0 else None,
            outcome=Outcome(int(placement.outcome[note])),
            deviation_ms=float(placement.deviation_ms[note]),
            audibility=None if levels[note] == NOT_PLACED else Audibility(int(levels[note])),
            sounded_by=printed(first + int(placement.unison[note])) if shared[note] else None,
            detail=finding.message if finding else "",
            hint=finding.hint if finding else "",
            turn=turn,
        )


def _findings_by_note(
    score: Score, placement: Placement, findings: tuple[Finding, ...]
) -> tuple[dict[int, Finding], list[Finding]]:
    """The fit's finding on each note, and the findings on anything else.

    Notes at one place have equal `where`; the fit lists them in the order of the score. Where it summed up
    many notes in one finding, they are left without.
    """
    waiting: dict[tuple[str, str], list[int]] = defaultdict(list)
    shared = placement.shared
    for note in np.flatnonzero((placement.outcome != Outcome.PLACED) | (placement.deviation_ms != 0)).tolist():
        outcome = Outcome(int(placement.outcome[note]))
        code = UNISON_CODE if shared[note] else CODES.get(outcome, MOVED_CODE)
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
