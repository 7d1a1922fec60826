"""Findings of a fit: what holds for the whole song, then every note left out or moved with its numbers.

Those on single notes are made when they are asked for: a report shows a few of very many.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints, JoinedSequence, OnDemand
from pegwright.findings import Finding, Severity
from pegwright.fit.fitting import Fitting
from pegwright.fit.held import END_MS, held_notes
from pegwright.fit.openings import Folded, folded
from pegwright.fit.placing import TurnFit, fit_turn
from pegwright.fit.quantise import NO_NOTE
from pegwright.placement import Outcome, Placement, Status
from pegwright.score import Score
from pegwright.tell.audible import FLAM_RISK_MS, Audibility, audibility, flam_spread_ms
from pegwright.tell.details import SENTENCES, moved_message, sentence_unison
from pegwright.tell.hints import hints_of
from pegwright.units import fraction_text, length_text, plural
from pegwright.wheel import Wheel

MAX_FLAMS = 2_000  # more are reported as one finding with their count


def reason_code(outcome: Outcome) -> str:
    """The outcome as programs know it: `placed`, `no-channel`, `off-grid`."""
    return outcome.name.lower().replace("_", "-")


CODES: dict[Outcome, str] = {
    reason: f"left-out-{reason_code(reason)}" for reason in Outcome if reason != Outcome.PLACED
}
UNISON_CODE = "shares-a-pin"
MOVED_CODE = "moved"
FLAM_CODE = "flam-risk"


def fit_with_findings(score: Score, wheel: Wheel, options: FitOptions) -> tuple[Placement, tuple[Finding, ...]]:
    """Put every note of a score into the best hole, or leave it out for a reason, with the findings in words.

    Args:
        score: the song, or a turn of it.
        wheel: what it is to be pinned on.
        options: as chosen by the maker.

    Returns:
        The outcome of every note, and the findings of the fit.

    Raises:
        UsageError: the options do not suit the score or the wheel.
    """
    fit = fit_turn(score, wheel, options)
    return fit.placement, tuple(findings_of(fit))


class FitFindings(JoinedSequence[Finding]):
    """The findings of a fit as one sequence.

    Args:
        whole: on tempo, channels and the song, and the sum of very many risks of flams.
        notes: one for each note left out, in order, then for each note moved; their numbers are those of the notes.
        flams: one for each risk of a flam, where there are not very many.
        folded: what octave folding would do to some notes without a channel.
    """

    def __init__(
        self,
        whole: Sequence[Finding],
        notes: OnDemand[Finding],
        flams: OnDemand[Finding],
        folded: Callable[[Ints], Folded],
    ) -> None:
        super().__init__([whole, notes, flams])
        self.whole, self.notes, self.flams, self.folded = tuple(whole), notes, flams, folded

    def without(self, code: str) -> FitFindings:
        """All but those of a code, which is not that of single notes."""
        whole = [finding for finding in self.whole if finding.code != code]
        return FitFindings(whole, self.notes, self.flams, self.folded)


def findings_of(fit: TurnFit) -> FitFindings:
    """The findings of a fit.

    Returns:
        Those on tempo and channels; notes on the song; for each note left out a `LOST` finding, so that their counts
        add up to the notes left out; for each note that shares a pin a `NOTE`; for each note moved a `CHANGED` finding;
        risks of flams.
    """
    fitting, placement = fit.fitting, fit.placement
    flams, summary = _flam_risks(fitting, placement)
    whole = (*fit.findings, *_song_findings(fitting, placement), *summary)
    return FitFindings(whole, _note_findings(fitting, placement), flams, partial(folded, fitting))


def _song_findings(fitting: Fitting, placement: Placement) -> list[Finding]:
    score, wheel, findings = fitting.score, fitting.wheel, []
    if np.any(fitting.turn.onset_ticks >= fitting.turn.turn_ticks):
        findings.append(_longer_than_turn(fitting))
    exact = int(np.count_nonzero((placement.deviation_ticks != 0) & (placement.deviation_ms == 0)))
    if exact:
        message = f"{plural(exact, 'note')} off the hole by no more than the file's own rounding, counted as exact"
        findings.append(Finding("within-rounding", Severity.NOTE, score.file, message, count=exact))
    if placement.status == Status.BOUNDED:
        short = placement.weight_bound - placement.weight
        message = f"the search was stopped before it proved the best; at most {short:,} of {placement.weight_bound:,} "
        message += "in weight could be gained, one note weighing 128 or more"
        findings.append(Finding("not-proved-best", Severity.NOTE, score.file, message))
    odd = placement.pin_type[(placement.pin_type >= 0) & (placement.pin_type != fitting.turn.pin_types[0])]
    if len(odd):
        counts = np.bincount(odd, minlength=len(wheel.pin_types)).tolist()
        by_type = ", ".join(
            f"{count} of type {kind.name} ({length_text(kind.offset_mm, wheel.unit, sign='+')})"
            for count, kind in zip(counts, wheel.pin_types, strict=True)
            if count
        )
        message = f"set with pins that trip before or after their hole's middle, as no plain pin is as good: {by_type}"
        findings.append(Finding("pins-with-offset", Severity.NOTE, wheel.name, message, count=len(odd)))
    return [*findings, *_held(score, wheel, placement)]


def _held(score: Score, wheel: Wheel, placement: Placement) -> list[Finding]:
    """How the notes of holding channels end."""
    held = held_notes(score, wheel, placement)
    if not len(held.note):
        return []
    message = f"{plural(len(held.note), 'note')} held, by {plural(held.pin_count, 'further pin')}"
    off = int(np.count_nonzero(np.abs(held.late_ms) > END_MS))
    if not off:
        message += f", each to within {END_MS:g} ms of its written end"
        return [Finding("held-notes", Severity.NOTE, wheel.name, message, count=len(held.note))]
    worst = int(np.argmax(np.abs(held.late_ms)))
    late_ms, where = float(held.late_ms[worst]), score.source(int(held.note[worst]))
    message += (
        f"; {off:,} of them {'ends' if off == 1 else 'end'} more than {END_MS:g} ms earlier or later than written, "
        f"the worst at {where.in_words}, {abs(late_ms):.1f} ms {'later' if late_ms > 0 else 'earlier'}"
    )
    return [Finding("held-notes", Severity.NOTE, wheel.name, message, count=len(held.note))]


def _longer_than_turn(fitting: Fitting) -> Finding:
    bars, turn = fitting.score.bar_map, fitting.turn
    ends = np.append(bars.ticks[1:], bars.end_ticks) * (turn.resolution // fitting.score.resolution)
    held = int(np.searchsorted(ends, turn.turn_ticks, side="right"))
    quarters = fraction_text(fitting.wheel.turn_quarters)
    song = f"the song plays {plural(len(ends), 'bar')}"
    message = f"{song}; a turn is {quarters} quarter notes and holds the first {plural(held, 'bar')}"
    hint = f"--bars 1-{held} takes the bars that a turn holds" if held else ""
    return Finding("longer-than-turn", Severity.NOTE, fitting.score.file, message, hint)


def _strike_of_note(fitting: Fitting) -> Ints:
    """Shape (n,): the strike that each note has or shares, or -1."""
    strikes = fitting.strikes
    strike = np.full(fitting.score.note_count, -1, dtype=np.int64)
    strike[strikes.note] = np.arange(len(strikes.note))
    shared = strikes.unison != NO_NOTE
    strike[shared] = strike[strikes.unison[shared]]
    return strike


def _note_findings(fitting: Fitting, placement: Placement) -> OnDemand[Finding]:
    """See `FitFindings.notes`."""
    strike_of, shared = _strike_of_note(fitting), placement.shared
    left_out, moved = np.flatnonzero(placement.outcome != Outcome.PLACED), np.flatnonzero(placement.deviation_ms != 0)
    levels = audibility(fitting.score, placement) if len(moved) else placement.outcome

    def finding(note: int, hint: str) -> Finding:
        outcome, strike, where = Outcome(int(placement.outcome[note])), int(strike_of[note]), fitting.score.source(note)
        if outcome == Outcome.PLACED:
            message = moved_message(fitting, note, strike, Audibility(int(levels[note])).words)
            return Finding(MOVED_CODE, Severity.CHANGED, str(where), message)
        code, sentence = (UNISON_CODE, sentence_unison) if shared[note] else (CODES[outcome], SENTENCES[outcome])
        severity = Severity.NOTE if shared[note] else Severity.LOST
        return Finding(code, severity, str(where), sentence(fitting, note, strike), hint)

    def make(notes: Ints) -> list[Finding]:
        hints = hints_of(fitting, notes, strike_of[notes])
        return [finding(note, hint) for note, hint in zip(notes.tolist(), hints, strict=True)]

    return OnDemand(np.concatenate([left_out, moved]), make)


def _flam_risks(fitting: Fitting, placement: Placement) -> tuple[OnDemand[Finding], tuple[Finding, ...]]:
    """See `FitFindings.flams`; of very many the sum instead."""
    score, severity = fitting.score, Severity.NOTE
    onset, spread_ms = flam_spread_ms(score, placement)
    risky = np.flatnonzero(spread_ms >= FLAM_RISK_MS)
    notes, meant = np.searchsorted(score.onset_ticks, onset[risky]), "meant together on different channels"
    summary: tuple[Finding, ...] = ()
    if len(risky) > MAX_FLAMS:
        text = f"{plural(len(risky), 'note')}: {meant}, {FLAM_RISK_MS:g} ms apart or more"
        risky, summary = risky[:0], (Finding(FLAM_CODE, severity, score.file, text, count=len(risky)),)

    def make(numbers: Ints) -> list[Finding]:
        rows = zip(notes[numbers].tolist(), spread_ms[risky[numbers]].tolist(), strict=True)
        text = f"notes {meant} come {{:.1f}} ms apart"
        return [Finding(FLAM_CODE, severity, str(score.source(note)), text.format(spread)) for note, spread in rows]

    return OnDemand(np.arange(len(risky)), make), summary
