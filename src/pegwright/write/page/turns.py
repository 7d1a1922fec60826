"""What the report page shows of the turns of a song: bars, every note with its outcome, and when it sounds."""

from __future__ import annotations

from fractions import Fraction
from itertools import chain
from typing import TypeAlias

import numpy as np

from pegwright.columns import Floats
from pegwright.grid import hole_grid, place_units, start_steps
from pegwright.json_value import Json
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, PinMap, Placement
from pegwright.remedy.song_remedies import levels_of
from pegwright.score import Score
from pegwright.song import FittedSong, FittedTurn
from pegwright.strikes import StrikeTimes, strike_times
from pegwright.tell.audible import Audibility
from pegwright.tell.report import ReportedNote
from pegwright.units import printed, ticks_to_ms
from pegwright.wheel import Wheel, step_name
from pegwright.write.json_text import rounded

LEFT_OUT = "out"
SOUNDED_BY_ANOTHER = "shared"

Columns: TypeAlias = dict[str, Json]


def turns_data(song: FittedSong) -> dict[str, Json]:
    """The turns of a song; that of a song of one turn is not in a list.

    Of several turns each has its own bars and words, and refers to its set of plates and to its fit, which turns of
    equal notes share.
    """
    numbers: dict[Placement, int] = {}
    fits: list[tuple[Columns, Columns]] = []
    turns: list[tuple[int, Columns, Columns]] = []
    for turn, reported in zip(song.turns, _reported(song), strict=True):
        if turn.placement not in numbers:
            numbers[turn.placement] = len(fits)
            fits.append(_fit(turn, song.wheel))
        bars = _bars(turn.score, song.wheel, start_steps(song.wheel, turn.placement))
        own: Columns = {"bars": bars, "doubtful": _doubtful(turn.score)}
        turns.append((numbers[turn.placement], own, _words(turn.score, reported)))
    sets: list[Json] = [_set(song, number) for number in range(len(song.pinnings))]
    if not song.several_turns:
        (_, own, words), (notes, held) = turns[0], fits[0]
        return {**own, "notes": notes | words, "held": held, **_set(song, 0)}
    return {
        "sets": sets,
        "fits": [{"notes": notes, "held": held} for notes, held in fits],
        "turns": [
            {
                "place": f"turn {printed(number)}, {song.bars_of(number)}",
                "first_note": song.turns[number].first_note,
                "set": song.running[number],
                "fit": fit,
                **own,
                "notes": words,
            }
            for number, (fit, own, words) in enumerate(turns)
        ],
    }


def _doubtful(score: Score) -> Columns:
    """How sure it is, from 0 to 1, of each note whose hole is in doubt."""
    return {str(note): round(float(score.confidence[note]), 3) for note in score.doubtful.tolist()}


def _reported(song: FittedSong) -> list[dict[int, ReportedNote]]:
    """For each turn its notes that were left out, moved or share a pin, by their number in the turn."""
    of_turns: list[dict[int, ReportedNote]] = [{} for _ in song.turns]
    report = song.report
    for note in chain(report.left_out, report.shared, report.moved):
        of_turns[note.turn][note.number - 1 - song.turns[note.turn].first_note] = note
    return of_turns


def _set(song: FittedSong, number: int) -> Columns:
    """A set of plates: its letter, and its pins counted."""
    return {"letter": song.letter(number), "counts": counts_data(song.wheel, song.pinnings[number].pins)}


def _fit(turn: FittedTurn, wheel: Wheel) -> tuple[Columns, Columns]:
    """The notes and the pins that hold notes on, as turns of equal notes have them."""
    strikes = strike_times(turn.pins, wheel, start_steps=start_steps(wheel, turn.placement), score=turn.score)
    notes = _notes(turn.score, wheel, turn.placement) | _strikes(turn.score, turn.pins, strikes)
    return notes, _held(wheel, turn.pins, strikes)


def _bars(score: Score, wheel: Wheel, begins: Fraction) -> list[Json]:
    """Bars within the turn: label, and place on the turn in steps."""
    bars = score.bar_map
    steps = [Fraction(tick, score.resolution) / wheel.step_quarters for tick in bars.ticks.tolist()]
    return [
        {"label": label, "at": float((step + begins) % wheel.turn_steps)}
        for step, label in zip(steps, bars.labels, strict=True)
        if step < wheel.turn_steps
    ]


def _notes(score: Score, wheel: Wheel, placement: Placement) -> Columns:
    """Columns of one value for each note, in the order of the score."""
    score_s = [
        ticks_to_ms(tick, score.resolution, placement.us_per_quarter) / 1000 for tick in score.onset_ticks.tolist()
    ]
    pinned = placement.sounded_by
    places = _places(score, wheel, placement)[pinned].tolist()
    percussion = score.percussion_notes().tolist()
    return {
        "outcome": outcome_words(score, placement),
        "reason": [
            "" if sounds else Outcome(outcome).words
            for outcome, sounds in zip(placement.outcome.tolist(), placement.sounding.tolist(), strict=True)
        ],
        "channel": placement.channel.tolist(),
        "plate": [printed(plate) for plate in placement.plate[pinned].tolist()],
        "row": placement.row[pinned].tolist(),
        "step": [
            step_name(wheel.rows[row], index) if index >= 0 else None
            for row, index in zip(placement.row[pinned].tolist(), placement.index[pinned].tolist(), strict=True)
        ],
        "at": [
            None if outcome == Outcome.PAST_TURN else round(steps, 4)
            for steps, outcome in zip(places, placement.outcome.tolist(), strict=True)
        ],
        "score_s": [round(second, 6) for second in score_s],
        "ms": [rounded(ms) for ms in placement.deviation_ms.tolist()],
        "velocity": score.velocity.tolist(),
        "pitch": [
            drum_key_name(pitch) if drum else score.pitch_name(note)
            for note, (pitch, drum) in enumerate(zip(score.pitch_midi.tolist(), percussion, strict=True))
        ],
        "part": score.part.tolist(),
    }  # fmt: skip  # one column a line


def _words(score: Score, reported: dict[int, ReportedNote]) -> Columns:
    """Where each note of a turn is in the score, and what is reported of some of them."""
    sources = [score.source(note) for note in range(score.note_count)]
    return {
        "where": [str(source).removeprefix(f"{source.file}:{source.part}:") for source in sources],
        "detail": {str(note): item.detail for note, item in reported.items() if item.detail},
        "hint": {str(note): item.hint for note, item in reported.items() if item.hint},
    }


def outcome_words(score: Score, placement: Placement) -> list[str]:
    """The outcome of every note, in a word."""
    return [_outcome(placement, note, level) for note, level in enumerate(levels_of(score, placement).tolist())]


def _outcome(placement: Placement, note: int, level: int) -> str:
    if placement.outcome[note] == Outcome.PLACED:
        return Audibility(level).words
    return SOUNDED_BY_ANOTHER if level == Audibility.EXACT else LEFT_OUT


def _places(score: Score, wheel: Wheel, placement: Placement) -> Floats:
    """The place of each note on the turn, in steps: its hole, or where it should have been."""
    per_step = float(wheel.step_quarters * placement.resolution)
    scale = placement.resolution // score.resolution
    ticks = score.onset_ticks * scale + placement.deviation_ticks + placement.start_ticks
    early = np.array([*(float(channel.advance_steps) for channel in wheel.channels), 0.0])[placement.channel]
    places: Floats = np.mod(ticks / per_step - early, wheel.turn_steps)
    return places


def _strikes(score: Score, pins: PinMap, strikes: StrikeTimes) -> dict[str, Json]:
    """Columns of one value for each note: when its pin trips in the first turn, its type, and how long it is held."""
    columns: list[list[Json]] = [[None] * score.note_count for _ in range(3)]
    kinds = pins.pin_type[strikes.pin].tolist()
    rows = zip(strikes.note.tolist(), strikes.meant_s.tolist(), kinds, strikes.lasts_s.tolist(), strict=True)
    for note, trip_s, kind, lasts_s in rows:
        if note >= 0:
            columns[0][note], columns[1][note], columns[2][note] = round(trip_s, 6), kind, round(lasts_s, 6)
    return {"pin_s": columns[0], "pin": columns[1], "lasts_s": columns[2]}


def _held(wheel: Wheel, pins: PinMap, strikes: StrikeTimes) -> dict[str, Json]:
    """The pins that hold a note on: the note of each, its place on the turn in steps, and its row."""
    further = np.flatnonzero(np.bincount(strikes.pin, minlength=pins.pin_count) == 0)
    place = place_units(wheel, pins.plate[further], pins.row[further], pins.index[further])
    step_units = float(wheel.step_quarters * hole_grid(wheel).resolution)
    at = [round(at, 4) for at in (place / step_units).tolist()]
    return {"note": pins.note[further].tolist(), "at": at, "row": pins.row[further].tolist()}


def counts_data(wheel: Wheel, pins: PinMap) -> dict[str, Json]:
    """The pins of a set of plates by plate, channel and type."""
    return {
        "all": pins.pin_count,
        "plates": np.bincount(pins.plate, minlength=wheel.plate_count).tolist(),
        "channels": np.bincount(pins.channel, minlength=len(wheel.channels)).tolist(),
        "types": [
            {"name": kind.name, "pins": int(np.count_nonzero(pins.pin_type == number)), "stock": kind.stock}
            for number, kind in enumerate(wheel.pin_types)
        ],
    }
