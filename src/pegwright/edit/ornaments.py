"""Ornaments written out as strikes, so that each strike gets a hole of its own or is reported.

The grain is the shortest time between two strikes. Every ornament begins and ends with its main note, on the beat:
    trill             main, upper, main ... as often as the note has room; the last main note takes what is left
    mordent           main, lower, main; inverted: main, upper, main; the last takes what is left
    turn              main, upper, main, lower, main; inverted: lower first; the last takes what is left
    tremolo           main repeated at its written value, doubled until it is no finer than the grain
A note too short for one grain a strike, or whose neighbour is outside the MIDI pitches, stays plain and is reported.

Source: MusicXML 4.0 gives the signs and how many strikes a mordent has (beats 3, start-note main). It begins trills
with the upper note unless the file says otherwise; here the main note comes first, so that the tune
keeps its holes (our rule).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from math import lcm

import numpy as np

from pegwright.ask.kinds import GRAIN
from pegwright.columns import frozen_ints, runs
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.score import NO_ORNAMENT, Ornament, OrnamentKind, Score
from pegwright.spelling import moved_spellings
from pegwright.units import fraction_text, plural

FINEST_RESOLUTION = 2**31
MAX_STRIKES = 500_000  # beyond, the song is refused: a wheel holds some thousands of pins
HIGHEST_PITCH = 127


def write_out_ornaments(score: Score, grain_quarters: Fraction) -> tuple[Score, tuple[Finding, ...]]:
    """Replace every note that has an ornament by its strikes.

    Args:
        score: the song.
        grain_quarters: from one strike to the next: an eighth to a 128th note, dividing a whole note evenly.

    Returns:
        A score without ornaments, at a resolution in which every strike is at a whole tick, and the findings:
        notes in + strikes added = notes out, the first strike of an ornament being its note.

    Raises:
        UsageError: the grain is out of its bounds, or the song would have too many strikes.
    """
    parts_of_whole = 4 / grain_quarters if grain_quarters > 0 else Fraction(0)
    if parts_of_whole.denominator != 1 or not GRAIN.coarsest <= parts_of_whole <= GRAIN.finest:
        raise UsageError(
            f"ornaments in notes of {fraction_text(grain_quarters / 4)} cannot be played",
            where="ornaments",
            hint=f"give a note value from 1/{GRAIN.coarsest} to 1/{GRAIN.finest} with 1 above the line, such as 1/32",
        )
    kept = np.flatnonzero(score.ornament != NO_ORNAMENT)
    if not len(kept):
        return replace(score, ornament=frozen_ints([]), ornaments=()), ()
    steps = [_strike_quarters(ornament, grain_quarters) for ornament in score.ornaments]
    resolution = lcm(score.resolution, *(step.denominator for step in steps))
    if resolution > FINEST_RESOLUTION:
        raise UsageError(
            f"tremolos divide a quarter note into {resolution:,} parts; at most {FINEST_RESOLUTION:,} are kept apart",
            where=score.file,
            hint="leave the ornaments plain, or correct the tuplets of the tremolos in the score program",
        )
    return _written_out(
        score.in_finer_ticks(resolution // score.resolution),
        kept.tolist(),
        [int(step * resolution) for step in steps],
        grain_quarters,
    )


def _strike_quarters(ornament: Ornament, grain_quarters: Fraction) -> Fraction:
    """From one strike of an ornament to the next."""
    step = ornament.every_quarters or grain_quarters
    while step < grain_quarters:
        step *= 2
    return step


def _moves(ornament: Ornament, room: int) -> tuple[int, ...]:
    """Semitones of every strike from the main note; empty where `room`, in strikes, is too little."""
    up, down = ornament.upper_semitones, -ornament.lower_semitones
    match ornament.kind:
        case OrnamentKind.TRILL:
            moves = (0, *(up, 0) * ((room - 1) // 2))
        case OrnamentKind.TREMOLO:
            moves = (0,) * room
        case OrnamentKind.MORDENT:
            moves = (0, down, 0)
        case OrnamentKind.INVERTED_MORDENT:
            moves = (0, up, 0)
        case OrnamentKind.TURN:
            moves = (0, up, 0, down, 0)
        case OrnamentKind.INVERTED_TURN:
            moves = (0, down, 0, up, 0)
    return moves if 1 < len(moves) <= room else ()


def _written_out(
    score: Score, notes: list[int], step_ticks: list[int], grain_quarters: Fraction
) -> tuple[Score, tuple[Finding, ...]]:
    """The score with `notes` written out, the strikes of each of its ornaments `step_ticks` apart."""
    strikes: dict[int, tuple[int, ...]] = {}
    plain: list[int] = []
    added = 0
    for note in notes:
        number = int(score.ornament[note])
        # A note that is held past the bars that were chosen is struck only within them.
        inside = score.length_ticks - int(score.onset_ticks[note])
        room = min(int(score.duration_ticks[note]), inside) // step_ticks[number]
        if added + room > MAX_STRIKES:
            raise UsageError(
                f"ornaments would add more than {MAX_STRIKES:,} strikes",
                where=str(score.source(note)),
                hint="take fewer bars, or longer notes for the ornaments",
            )
        moves = _moves(score.ornaments[number], room)
        pitch = int(score.pitch_midi[note])
        if moves and pitch + min(moves) >= 0 and pitch + max(moves) <= HIGHEST_PITCH:
            strikes[note] = moves
            added += len(moves) - 1
        else:
            plain.append(note)
    return _with_strikes(score, strikes, step_ticks), tuple(_findings(score, strikes, plain, grain_quarters))


def _with_strikes(score: Score, strikes: dict[int, tuple[int, ...]], step_ticks: list[int]) -> Score:
    """The score with notes replaced by strikes, each given as semitones from the note."""
    counts = np.ones(score.note_count, dtype=np.int64)
    counts[list(strikes)] = [len(moves) for moves in strikes.values()]
    note = np.repeat(np.arange(score.note_count), counts)
    place = runs(np.zeros_like(counts), counts)  # among the strikes of its note
    move = np.zeros(len(note), dtype=np.int64)
    move[np.isin(note, list(strikes))] = [semitones for moves in strikes.values() for semitones in moves]
    step = np.array(step_ticks, dtype=np.int64)[score.ornament[note]]  # of a note without ornament any: its place is 0
    onset = score.onset_ticks[note] + place * step
    left = score.duration_ticks[note] - place * step
    duration = np.where(place == counts[note] - 1, left, step)
    struck = score.with_notes(note)
    return replace(
        struck,
        onset_ticks=frozen_ints(onset),
        duration_ticks=frozen_ints(duration),
        pitch_midi=frozen_ints(score.pitch_midi[note] + move),
        spelling=moved_spellings(struck.spelling, move) if len(struck.spelling) else struck.spelling,
        ornament=frozen_ints([]),
        ornaments=(),
    ).in_order()


def _findings(
    score: Score, strikes: dict[int, tuple[int, ...]], plain: list[int], grain_quarters: Fraction
) -> Iterator[Finding]:
    grain = fraction_text(grain_quarters / 4)
    if strikes:
        kinds = Counter(score.ornaments[int(score.ornament[note])].kind for note in strikes)
        played = ", ".join(plural(kinds[kind], kind.value) for kind in OrnamentKind if kinds[kind])
        added = sum(len(moves) - 1 for moves in strikes.values())
        to_notes = f"added to {plural(score.note_count, 'note')}"
        message = f"{played} played in notes of {grain}: {plural(added, 'strike')} {to_notes}"
        yield Finding("ornaments-played", Severity.NOTE, score.file, message, count=added)
    if plain:
        message = f"{plural(len(plain), 'ornament')} without room for strikes of {grain}, played as the plain note"
        yield Finding("ornaments-plain", Severity.CHANGED, str(score.source(plain[0])), message, count=len(plain))
