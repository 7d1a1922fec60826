"""The outcome of a song on a wheel, gathered once for every report: text, JSON and page.

Counts come from columns; a note is put in words when it is asked for.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, JoinedSequence, OnDemand, frozen_ints
from pegwright.findings import Finding, Severity
from pegwright.fit.arrange import PITCH_COUNT
from pegwright.fit.openings import Folded
from pegwright.fit.quantise import NO_NOTE
from pegwright.frozen import frozen
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, Placement, joined_placements
from pegwright.score import Score, SourceRef
from pegwright.tell.audible import NOT_PLACED, Audibility, audibility
from pegwright.tell.findings import FLAM_CODE, FitFindings
from pegwright.units import printed
from pegwright.wheel import Wheel

TurnOutcome: TypeAlias = tuple[Score, Placement, FitFindings]  # a turn, its placement, the findings of its fit


@frozen()
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


@frozen(eq=False)
class _Outcomes:
    """The outcome of every note of a song; columns of shape (n,) over all its turns.

    Args:
        score, wheel: the whole song, and what it was fitted to.
        turns: in playing order.
        first_note: shape (turns,), how many notes of the song come before each.
        outcome, channel, deviation_ms: as in `Placement`.
        level: as `audibility` gives it.
        sounded_by: the note of the song whose pin sounds this one too, or -1.
    """

    score: Score
    wheel: Wheel
    turns: tuple[TurnOutcome, ...]
    first_note: Ints
    outcome: Ints
    channel: Ints
    deviation_ms: Floats
    level: Ints
    sounded_by: Ints

    def in_words(self, notes: Ints) -> list[ReportedNote]:
        """Some notes of the song that were left out or moved."""
        return [
            self._note(note, turn, finding)
            for turn, of_turn, run in self.by_turn(notes)
            for note, finding in zip(run.tolist(), of_turn.notes.make(run - self.first_note[turn]), strict=True)
        ]

    def by_turn(self, notes: Ints) -> Iterator[tuple[int, FitFindings, Ints]]:
        """Some notes of the song in runs of notes of one turn: the turn, the findings of its fit, and the notes."""
        turn_of = np.searchsorted(self.first_note, notes, side="right") - 1
        ends = [*(np.flatnonzero(np.diff(turn_of)) + 1).tolist(), len(notes)] if len(notes) else []
        for first, past in zip([0, *ends], ends, strict=False):
            turn = int(turn_of[first])
            yield turn, self.turns[turn][2], notes[first:past]

    def _note(self, note: int, turn: int, finding: Finding) -> ReportedNote:
        channel, level, sounded_by = int(self.channel[note]), int(self.level[note]), int(self.sounded_by[note])
        return ReportedNote(
            number=printed(note),
            source=self.score.source(note),
            pitch_midi=int(self.score.pitch_midi[note]),
            pitch=note_name(self.score, note),
            channel=self.wheel.channels[channel].name if channel >= 0 else None,
            outcome=Outcome(int(self.outcome[note])),
            deviation_ms=float(self.deviation_ms[note]),
            audibility=None if level == NOT_PLACED else Audibility(level),
            sounded_by=printed(sounded_by) if sounded_by >= 0 else None,
            detail=finding.message,
            hint=finding.hint,
            turn=turn,
        )


class ReportedNotes(OnDemand[ReportedNote]):
    """Notes of a song that were left out or moved, each put in words when it is asked for.

    Args:
        outcomes: of every note of the song.
        numbers: of some notes, from 0, in the order of this sequence.
    """

    def __init__(self, outcomes: _Outcomes, numbers: Ints) -> None:
        super().__init__(numbers, outcomes.in_words)
        self._outcomes = outcomes

    def some(self, chosen: Ints | NDArray[np.bool_]) -> ReportedNotes:
        """Some of them: their places here, or shape (n,) whether each is among them."""
        return ReportedNotes(self._outcomes, self.numbers[chosen])

    def of_turn(self, turn: int) -> ReportedNotes:
        """Those of a turn."""
        return self.some(np.searchsorted(self._outcomes.first_note, self.numbers, side="right") - 1 == turn)

    @property
    def outcome(self) -> Ints:
        """Shape (n,): an `Outcome` for each."""
        return self._outcomes.outcome[self.numbers]

    @property
    def level(self) -> Ints:
        """Shape (n,): an `Audibility` for each, `NOT_PLACED` where it was left out."""
        return self._outcomes.level[self.numbers]

    @property
    def kind(self) -> Ints:
        """Shape (n,): a number for each, equal for notes of equal part and pitch."""
        score = self._outcomes.score
        return (score.part * PITCH_COUNT + score.pitch_midi)[self.numbers]

    def folded(self) -> tuple[Ints, Ints]:
        """For notes without a channel: whole octaves that folding would move each by, and the channel that sounds it.

        Returns:
            Two columns of shape (n,); the channel is -1 where folding would not make the note sound.
        """
        outcomes, none = self._outcomes, Folded(self.numbers[:0], self.numbers[:0])
        runs = [
            of_turn.folded(run - outcomes.first_note[turn]) for turn, of_turn, run in outcomes.by_turn(self.numbers)
        ]
        octaves, channels = ([getattr(run, name) for run in (none, *runs)] for name in ("octaves", "channel"))
        return np.concatenate(octaves), np.concatenate(channels)

    def channel_name(self, channel: int) -> str:
        """The name of a channel."""
        return self._outcomes.wheel.channels[channel].name


@frozen()
class Report:
    """A song on a wheel over all its turns: every note that does not simply sound as it is written.

    Args:
        left_out: notes that do not sound, by reason in the order of `Outcome`, then in the order of the score; each is
            put in words when it is asked for, as those of `shared` and `moved` are.
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

    left_out: ReportedNotes
    shared: ReportedNotes
    moved: ReportedNotes
    audibility_counts: dict[Audibility, int]
    findings: JoinedSequence[Finding]
    turns: Fraction
    turn_s: float

    def reasons(self) -> dict[Outcome, ReportedNotes]:
        """Left-out notes by reason, only reasons that occur."""
        outcome = self.left_out.outcome
        return {reason: self.left_out.some(chosen) for reason in Outcome if np.any(chosen := outcome == reason)}

    def of_code(self, code: str) -> tuple[Finding, ...]:
        """The findings with a code, of those that are not on single notes."""
        parts = (part for part in self.findings.parts if not isinstance(part, OnDemand))
        return tuple(finding for part in parts for finding in part if finding.code == code)

    def kinds(self, severity: Severity) -> dict[str, JoinedSequence[Finding]]:
        """The findings of a severity by their code, only codes that occur."""
        kinds: dict[str, list[Sequence[Finding]]] = defaultdict(list)
        for part in self.findings.parts:
            if isinstance(part, OnDemand):
                if len(part) and severity == Severity.NOTE:
                    kinds[FLAM_CODE].append(part)
                continue
            for finding in part:
                if finding.severity == severity:
                    kinds[finding.code].append((finding,))
        return {code: JoinedSequence(parts) for code, parts in kinds.items()}


def report_on(score: Score, wheel: Wheel, turns: Sequence[TurnOutcome], findings: tuple[Finding, ...] = ()) -> Report:
    """Gather the outcome of every note.

    The fit's findings on single notes are given with their notes; all others are kept.

    Args:
        score: the whole song, whose notes are those of its turns one after another.
        wheel: what it was fitted to.
        turns: of the song in playing order, at least one.
        findings: on the whole song.
    """
    outcomes = _outcomes(score, wheel, tuple(turns))
    counts = np.bincount(outcomes.level - NOT_PLACED, minlength=len(Audibility) + 1).tolist()
    shared = outcomes.sounded_by >= 0
    left_out = np.flatnonzero((outcomes.level == NOT_PLACED) & ~shared)
    moved = np.flatnonzero(outcomes.level > Audibility.EXACT)
    return Report(
        left_out=ReportedNotes(outcomes, left_out[np.argsort(outcomes.outcome[left_out], kind="stable")]),
        shared=ReportedNotes(outcomes, np.flatnonzero(shared)),
        moved=ReportedNotes(
            outcomes, moved[np.lexsort([-np.abs(outcomes.deviation_ms[moved]), -outcomes.level[moved]])]
        ),
        audibility_counts=dict(zip(Audibility, counts[1:], strict=True)),
        findings=_worst_first(findings, [of_turn for *_, of_turn in turns]),
        turns=Fraction(score.length_ticks, score.resolution) / wheel.turn_quarters,
        turn_s=float(wheel.turn_quarters) * turns[0][1].us_per_quarter / 1e6,
    )


def _outcomes(score: Score, wheel: Wheel, turns: tuple[TurnOutcome, ...]) -> _Outcomes:
    placements = [placement for _, placement, _ in turns]
    whole, first = joined_placements(placements), np.cumsum([0, *(each.note_count for each in placements)])[:-1]
    level = np.concatenate([audibility(turn, placement) for turn, placement, _ in turns])
    sounded_by = np.where(whole.shared, whole.unison, NO_NOTE)
    columns = whole.outcome, whole.channel, whole.deviation_ms, frozen_ints(level), frozen_ints(sounded_by)
    return _Outcomes(score, wheel, turns, frozen_ints(first), *columns)


def _worst_first(of_song: Sequence[Finding], of_turns: Sequence[FitFindings]) -> JoinedSequence[Finding]:
    """All findings but those on single notes; risks of flams, which can be many, are made when they are asked for."""
    parts: list[Sequence[Finding]] = [of_song]
    wholes = [[one for one in of_turn.whole if one.counted is None] for of_turn in of_turns]
    in_all = [one for one in wholes[0] if all(one in others for others in wholes[1:])]
    parts += [_added(of_turns), in_all]
    for turn, of_turn in enumerate(of_turns):
        parts += [list(_of_one_turn(turn, wholes[turn], in_all)), of_turn.flams]
    kinds = [
        part if isinstance(part, OnDemand) else [finding for finding in part if finding.severity == severity]
        for severity in sorted(Severity, reverse=True)
        for part in parts
        if not isinstance(part, OnDemand) or severity == Severity.NOTE
    ]
    return JoinedSequence(kinds)


def _added(of_turns: Sequence[FitFindings]) -> list[Finding]:
    """Those that count something, each with its number over all turns."""
    added: dict[object, Finding] = {}
    for finding in (one for of_turn in of_turns for one in of_turn.whole if one.counted is not None):
        before = added.get(finding.kind)
        added[finding.kind] = finding if before is None else before.plus(finding)
    return list(added.values())


def _of_one_turn(turn: int, findings: Sequence[Finding], in_all: Sequence[Finding]) -> Iterator[Finding]:
    """Those that not all turns have, with their turn where they name no bar."""
    for finding in findings:
        if finding not in in_all:
            place = f"turn {printed(turn)}"
            names_bar = re.search(r"(: ?|pickup )bar\b", finding.where) is not None
            where = finding.where if names_bar else f"{finding.where}:{place}" if finding.where else place
            yield replace(finding, where=where)


def note_name(score: Score, note: int) -> str:
    """The written pitch by name, or the name of the percussion key."""
    pitch = int(score.pitch_midi[note])
    return drum_key_name(pitch) if score.parts[int(score.part[note])].percussion else score.pitch_name(note)
