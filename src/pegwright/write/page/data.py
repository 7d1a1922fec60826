"""What the report page shows, as plain data: the wheel unrolled, every note with its outcome, and when it sounds."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from pegwright.columns import Floats
from pegwright.findings import Finding
from pegwright.grid import Loss, hole_grid, place_units, start_steps
from pegwright.json_value import Json
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, PinMap, Placement
from pegwright.remedy.song_remedies import Remedies, levels_of
from pegwright.remedy.wheel_changes import WheelRemedy
from pegwright.score import Score
from pegwright.song import FittedSong
from pegwright.strikes import StrikeTimes, strike_times
from pegwright.tell.audible import Audibility
from pegwright.tell.counts import count_words
from pegwright.tell.report import ReportedNote
from pegwright.units import pitch_name, printed, quarters_per_minute, ticks_to_ms
from pegwright.wheel import Channel, Kind, Wheel
from pegwright.write.json_text import rounded
from pegwright.write.note_count import note_count_json
from pegwright.write.report.remedies import remedies_json
from pegwright.write.start import start_of

LEFT_OUT = "out"
SOUNDED_BY_ANOTHER = "shared"
LOWEST_BAR_PITCH = 60  # pitched channels from here up are heard as struck bars, lower ones as plucked strings


def page_data(song: FittedSong, remedies: tuple[Remedies, WheelRemedy | None] | None = None) -> dict[str, Json]:
    """All that the page needs, ready for JSON; numbers that people read count from 1.

    A song of several turns has its pinnings listed; the page shows one of them at a time and plays all.

    Args:
        song: on its wheel.
        remedies: what would help; None leaves it out.
    """
    report, wheel, placement = song.report, song.wheel, song.turns[0].placement
    plate, step = start_of(wheel, placement)
    pinnings = [_pinning(song, number) for number in range(len(song.pinnings))]
    return {
        "title": song.score.title,
        "file": song.score.file,
        "verdict": f"{count_words(song.count)}.",
        "count": note_count_json(song.count),
        "tempo": rounded(quarters_per_minute(placement.us_per_quarter)),
        "turn_s": rounded(report.turn_s),
        "start": {"plate": plate, "step": step, "steps": float(start_steps(wheel, placement))},
        "wheel": _wheel(wheel),
        "findings": [_finding(finding) for finding in report.findings],
        "remedies": remedies_json(song.score, *remedies) if remedies else None,
        **({"running": list(song.running), "pinnings": pinnings} if song.several_turns else pinnings[0]),
    }


def _pinning(song: FittedSong, number: int) -> dict[str, Json]:
    """One set of plates: its bars, notes and pins; of a song of several turns also which it is."""
    turn, wheel = song.pinnings[number], song.wheel
    first_turn = song.turns_of(number)[0]
    begins = start_steps(wheel, turn.placement)
    strikes = strike_times(turn.pins, wheel, start_steps=begins, score=turn.score)
    reported = {
        note.number - 1 - turn.first_note: note
        for notes in (song.report.left_out, song.report.shared, song.report.moved)
        for note in notes.of_turn(first_turn)
    }
    named: dict[str, Json] = {}
    if song.several_turns:
        named = {"letter": song.letter(number), "place": song.place_of(number), "first_note": turn.first_note}
    return {
        **named,
        "bars": _bars(turn.score, wheel, begins),
        "notes": _notes(turn.score, wheel, turn.placement, reported) | _strikes(turn.score, turn.pins, strikes),
        "held": _held(wheel, turn.pins, strikes),
        "counts": _counts(wheel, turn.pins),
    }


def _wheel(wheel: Wheel) -> dict[str, Json]:
    grid = hole_grid(wheel)
    step_units = grid.resolution * wheel.step_quarters
    lines = {id(line): line for line in grid.lines}
    order = list(lines)
    return {
        "name": wheel.name,
        "plates": wheel.plate_count,
        "steps_per_plate": wheel.steps_per_plate,
        "step_quarters": float(wheel.step_quarters),
        "rows": [row.name for row in wheel.rows],
        "channels": [
            {"name": channel.name, "sound": _sound(channel), "line": order.index(id(line)), **_voice(channel)}
            for channel, line in zip(wheel.channels, grid.lines, strict=True)
        ],
        "lines": [
            {
                "at": [round(float(position / step_units), 4) for position in line.position.tolist()],
                "row": line.row.tolist(),
                "lost": np.flatnonzero(line.loss != Loss.NONE).tolist(),
            }
            for line in lines.values()
        ],
    }


def _sound(channel: Channel) -> str:
    pitches = [pitch_name(pitch) for pitch in channel.pitches]
    return " ".join([*pitches, *(drum_key_name(key) for key in channel.drum_keys[:1])])


def _voice(channel: Channel) -> dict[str, Json]:
    """How the page sounds a channel: a struck bar, a plucked string, a pipe that is held, or a drum by its key."""
    if not channel.pitches:
        return {"voice": "drum", "key": channel.drum_keys[0] if channel.drum_keys else 37}
    pitch = channel.pitches[0]
    if channel.kind is Kind.HOLD:
        return {"voice": "pipe", "key": pitch}
    return {"voice": "bar" if pitch >= LOWEST_BAR_PITCH else "string", "key": pitch}


def _bars(score: Score, wheel: Wheel, begins: Fraction) -> list[Json]:
    """Bars within the turn: label, and place on the turn in steps."""
    bars = score.bar_map
    steps = [Fraction(tick, score.resolution) / wheel.step_quarters for tick in bars.ticks.tolist()]
    return [
        {"label": label, "at": float((step + begins) % wheel.turn_steps)}
        for step, label in zip(steps, bars.labels, strict=True)
        if step < wheel.turn_steps
    ]


def _notes(score: Score, wheel: Wheel, placement: Placement, reported: dict[int, ReportedNote]) -> dict[str, Json]:
    """Columns of one value for each note, in the order of the score."""
    score_s = [
        ticks_to_ms(tick, score.resolution, placement.us_per_quarter) / 1000 for tick in score.onset_ticks.tolist()
    ]
    places = _places(score, wheel, placement).tolist()
    percussion = score.percussion_notes().tolist()
    sources = [score.source(note) for note in range(score.note_count)]
    return {
        "outcome": outcome_words(score, placement),
        "reason": [
            "" if sounds else Outcome(outcome).words
            for outcome, sounds in zip(placement.outcome.tolist(), placement.sounding.tolist(), strict=True)
        ],
        "channel": placement.channel.tolist(),
        "plate": [printed(plate) for plate in placement.plate.tolist()],
        "row": placement.row.tolist(),
        "hole": [printed(index) for index in placement.index.tolist()],
        "at": [
            None if outcome == Outcome.PAST_TURN else round(steps, 4)
            for steps, outcome in zip(places, placement.outcome.tolist(), strict=True)
        ],
        "score_s": [round(second, 6) for second in score_s],
        "ms": [rounded(ms) for ms in placement.deviation_ms.tolist()],
        "velocity": score.velocity.tolist(),
        "pitch": [
            drum_key_name(pitch) if drum else pitch_name(pitch)
            for pitch, drum in zip(score.pitch_midi.tolist(), percussion, strict=True)
        ],
        "part": score.part.tolist(),
        "parts": [part.name for part in score.parts],
        "where": [str(source).removeprefix(f"{source.file}:{source.part}:") for source in sources],
        "detail": {str(note): item.detail for note, item in reported.items() if item.detail},
        "hint": {str(note): item.hint for note, item in reported.items() if item.hint},
    }  # fmt: skip  # one column a line


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
    return np.mod(ticks / per_step, wheel.turn_steps)


def _strikes(score: Score, pins: PinMap, strikes: StrikeTimes) -> dict[str, Json]:
    """Columns of one value for each note: when its pin trips in the first turn, its type, and how long it is held."""
    columns: list[list[Json]] = [[None] * score.note_count for _ in range(3)]
    kinds = pins.pin_type[strikes.pin].tolist()
    rows = zip(strikes.note.tolist(), strikes.trip_s.tolist(), kinds, strikes.lasts_s.tolist(), strict=True)
    for note, trip_s, kind, lasts_s in rows:
        if note >= 0:
            columns[0][note], columns[1][note], columns[2][note] = round(trip_s, 6), kind, round(lasts_s, 6)
    return {"pin_s": columns[0], "pin": columns[1], "lasts_s": columns[2]}


def _held(wheel: Wheel, pins: PinMap, strikes: StrikeTimes) -> dict[str, Json]:
    """The pins that hold a note on: the note of each, and its place on the turn in steps."""
    further = np.flatnonzero(np.bincount(strikes.pin, minlength=pins.pin_count) == 0)
    place = place_units(wheel, pins.plate[further], pins.row[further], pins.index[further])
    step_units = float(wheel.step_quarters * hole_grid(wheel).resolution)
    return {"note": pins.note[further].tolist(), "at": [round(at, 4) for at in (place / step_units).tolist()]}


def _counts(wheel: Wheel, pins: PinMap) -> dict[str, Json]:
    return {
        "all": pins.pin_count,
        "plates": np.bincount(pins.plate, minlength=wheel.plate_count).tolist(),
        "channels": np.bincount(pins.channel, minlength=len(wheel.channels)).tolist(),
        "types": [
            {"name": kind.name, "pins": int(np.count_nonzero(pins.pin_type == number)), "stock": kind.stock}
            for number, kind in enumerate(wheel.pin_types)
        ],
    }


def _finding(finding: Finding) -> dict[str, Json]:
    return {
        "severity": finding.severity.name.lower(),
        "where": finding.where,
        "message": finding.message,
        "hint": finding.hint,
    }
