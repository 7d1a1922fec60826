"""Findings of a fit: what holds for the whole song, then every note left out or moved with its numbers."""

from __future__ import annotations

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints
from pegwright.findings import Finding, Severity
from pegwright.fit.fitting import Fitting
from pegwright.fit.held import END_MS, held_notes
from pegwright.fit.placing import TurnFit, fit_turn
from pegwright.fit.quantise import NO_NOTE
from pegwright.placement import Outcome, Placement, Status
from pegwright.score import Score
from pegwright.tell.audible import FLAM_RISK_MS, Audibility, audibility, flam_spread_ms
from pegwright.tell.details import SENTENCES, SentenceFunction, moved_message, sentence_unison
from pegwright.units import fraction_text, plural
from pegwright.wheel import Wheel

MAX_FINDINGS = 2_000  # of one code; more are reported as one finding with their count


def reason_code(outcome: Outcome) -> str:
    """The outcome as programs know it: `placed`, `no-channel`, `off-grid`."""
    return outcome.name.lower().replace("_", "-")


CODES: dict[Outcome, str] = {
    reason: f"left-out-{reason_code(reason)}" for reason in Outcome if reason != Outcome.PLACED
}
UNISON_CODE = "shares-a-pin"
MOVED_CODE = "moved"


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
    return fit.placement, findings_of(fit)


def findings_of(fit: TurnFit) -> tuple[Finding, ...]:
    """The findings of a fit.

    Returns:
        Those on tempo and channels; notes on the song; for each note left out a `LOST` finding, so that their counts
        add up to the notes left out; for each note that shares a pin a `NOTE`; for each note moved a `CHANGED` finding;
        risks of flams.
    """
    fitting, placement = fit.fitting, fit.placement
    strike_of = _strike_of_note(fitting)
    song = _song_findings(fitting, placement)
    lost = _left_out(fitting, placement, strike_of)
    return (*fit.findings, *song, *lost, *_moved(fitting, placement, strike_of), *_flam_risks(fitting, placement))


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
            f"{count} of type {kind.name} ({kind.offset_mm:+g} mm)"
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
        f"the worst at {where}, {abs(late_ms):.1f} ms {'later' if late_ms > 0 else 'earlier'}"
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


def _left_out(fitting: Fitting, placement: Placement, strike_of: Ints) -> list[Finding]:
    """A finding for each note without a pin of its own: left out, or sharing one."""
    unison = placement.shared
    kinds: list[tuple[str, Ints, str, SentenceFunction]] = [
        (code, np.flatnonzero((placement.outcome == reason) & ~unison), reason.words, SENTENCES[reason])
        for reason, code in CODES.items()
    ]
    kinds.append((UNISON_CODE, np.flatnonzero(unison), "share the pin of another note", sentence_unison))
    by_note: list[tuple[int, Finding]] = []
    for code, notes, summary, sentence in kinds:
        severity = Severity.NOTE if code == UNISON_CODE else Severity.LOST
        if len(notes) > MAX_FINDINGS:
            by_note.append((int(notes[0]), _summary(fitting, code, severity, notes, summary)))
            continue
        for note in notes.tolist():
            message, hint = sentence(fitting, note, int(strike_of[note]))
            by_note.append((note, Finding(code, severity, str(fitting.score.source(note)), message, hint)))
    return [finding for _, finding in sorted(by_note, key=lambda item: item[0])]


def _moved(fitting: Fitting, placement: Placement, strike_of: Ints) -> list[Finding]:
    notes = np.flatnonzero(placement.deviation_ms != 0)
    if not len(notes):
        return []
    levels = audibility(fitting.score, placement)
    if len(notes) > MAX_FINDINGS:
        counts = np.bincount(levels[notes], minlength=len(Audibility))
        levels_text = ", ".join(
            f"{count:,} {level.words}" for level, count in zip(Audibility, counts, strict=True) if count
        )
        return [_summary(fitting, MOVED_CODE, Severity.CHANGED, notes, f"moved to another hole, {levels_text}")]
    findings = []
    for note in notes.tolist():
        message = moved_message(fitting, note, int(strike_of[note]), Audibility(int(levels[note])).words)
        findings.append(Finding(MOVED_CODE, Severity.CHANGED, str(fitting.score.source(note)), message))
    return findings


def _flam_risks(fitting: Fitting, placement: Placement) -> list[Finding]:
    score, code = fitting.score, "flam-risk"
    onset, spread_ms = flam_spread_ms(score, placement)
    risky = np.flatnonzero(spread_ms >= FLAM_RISK_MS)
    notes = np.searchsorted(score.onset_ticks, onset[risky])
    meant = "meant together on different channels"
    if len(risky) > MAX_FINDINGS:
        return [_summary(fitting, code, Severity.NOTE, notes, f"{meant}, {FLAM_RISK_MS:g} ms apart or more")]
    return [
        Finding(code, Severity.NOTE, str(score.source(note)), f"notes {meant} come {spread:.1f} ms apart")
        for note, spread in zip(notes.tolist(), spread_ms[risky].tolist(), strict=True)
    ]


def _summary(fitting: Fitting, code: str, severity: Severity, notes: Ints, message: str) -> Finding:
    text = f"{plural(len(notes), 'note')}: {message}"
    return Finding(code, severity, fitting.score.file, text, count=len(notes))
