"""What the page of a pin map shows: every pin that strikes with its hole and, where the map names it, its note."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.cautions import CHANGE, TOUCH
from pegwright.columns import tuples
from pegwright.draw.bars import END_LABEL
from pegwright.findings import Finding
from pegwright.grid import hole_grid, place_units
from pegwright.json_value import Json
from pegwright.song import PinnedSong, PinnedTurn, PinNote
from pegwright.strikes import DEFAULT_VELOCITY, StrikeTimes, strike_times, turn_seconds
from pegwright.units import fraction_text, plural, printed, quarters_per_minute
from pegwright.wheel import Wheel, step_name
from pegwright.write.json_text import rounded
from pegwright.write.page.data import finding_data, load_window_s, wheel_data
from pegwright.write.page.turns import Columns, counts_data

NO_PART = "not named in the map"
PINNED = "exact"  # the mark of a pin that is where it is wanted


def pins_page_data(song: PinnedSong, findings: Sequence[Finding] = ()) -> dict[str, Json]:
    """All that the page needs of a song whose score is not known; see `page_data`.

    Args:
        song: by its pins.
        findings: of reading its maps.
    """
    wheel, begins = song.wheel, song.turns[0].start_steps
    plate, step = divmod(begins, wheel.steps_per_plate)
    parts: dict[str, int] = {}
    turns = [_turn(turn, wheel, parts) for turn in song.turns]
    pins = sum(turn.pins.pin_count for turn in song.pinnings)
    return {
        "title": song.title,
        "file": song.file,
        "pins_only": True,
        "options": "",
        "verdict": f"{plural(pins, 'pin')} as the pin map has them, without the score.",
        "count": None,
        "tempo": rounded(quarters_per_minute(song.us_per_quarter)),
        "turn_s": rounded(turn_seconds(wheel, song.us_per_quarter)),
        "load_window_s": load_window_s(wheel, song.us_per_quarter),
        "start": {"plate": printed(int(plate)), "step": fraction_text(step + 1), "steps": float(begins)},
        "wheel": wheel_data(wheel),
        "findings": [finding_data(finding) for finding in findings],
        "remedies": None,
        "cautions": {"touch": list(TOUCH), "change": CHANGE},
        "parts": list(parts) or [NO_PART],
        **_turns(song, turns),
    }


def _turns(song: PinnedSong, turns: Sequence[Columns]) -> Columns:
    """The turns as the page wants them: that of a song of one turn is not in a list."""
    sets: list[Columns] = [
        {"letter": song.letter(number), "counts": counts_data(song.wheel, turn.pins)}
        for number, turn in enumerate(song.pinnings)
    ]
    if not song.several_turns:
        return {**turns[0], **sets[0]}
    listed_turns: list[Json] = [
        {"place": f"turn {printed(number)}", "first_note": 0, "set": pinning, **turn}
        for number, (pinning, turn) in enumerate(zip(song.running, turns, strict=True))
    ]
    return {"sets": list[Json](sets), "turns": listed_turns}


def _turn(turn: PinnedTurn, wheel: Wheel, parts: dict[str, int]) -> Columns:
    """One turn: a column for each fact of its strikes.

    Args:
        turn: by its pins.
        wheel: what it is pinned on.
        parts: the number of each part named so far, which is added to.
    """
    strikes = strike_times(turn.pins, wheel, start_steps=turn.start_steps)
    return {
        "bars": [{"label": bar.label, "at": float(bar.position_steps)} for bar in turn.bars if bar.label != END_LABEL],
        "doubtful": {},
        "notes": _notes(turn, wheel, strikes, parts),
        "held": _held(turn, wheel, strikes),
    }


def _held(turn: PinnedTurn, wheel: Wheel, strikes: StrikeTimes) -> Columns:
    """The pins that hold a note on: the strike before each on its channel, its place on the turn, and its row."""
    pins, step_units = turn.pins, float(wheel.step_quarters * hole_grid(wheel).resolution)
    at = place_units(wheel, pins.plate, pins.row, pins.index) / step_units
    further = np.flatnonzero(np.bincount(strikes.pin, minlength=pins.pin_count) == 0)
    struck = []
    for pin in further.tolist():
        own = np.flatnonzero(pins.channel[strikes.pin] == pins.channel[pin])
        struck.append(int(own[np.mod(at[pin] - at[strikes.pin[own]], wheel.turn_steps).argmin()]))
    return {"note": struck, "at": np.round(at[further], 4).tolist(), "row": pins.row[further].tolist()}


def _notes(turn: PinnedTurn, wheel: Wheel, strikes: StrikeTimes, parts: dict[str, int]) -> Columns:
    pins, pin = turn.pins, strikes.pin
    step_units = float(wheel.step_quarters * hole_grid(wheel).resolution)
    holes = tuples(pins.channel[pin], pins.row[pin], pins.index[pin])
    notes = [turn.notes[each] if turn.notes else PinNote() for each in pin.tolist()]
    placed = place_units(wheel, pins.plate, pins.row, pins.index)[pin]
    trips_s = [round(second, 6) for second in strikes.meant_s.tolist()]
    return {
        "outcome": [PINNED] * len(notes),
        "reason": [""] * len(notes),
        "channel": [channel for channel, _, _ in holes],
        "plate": [printed(plate) for plate in pins.plate[pin].tolist()],
        "row": [row for _, row, _ in holes],
        "step": [step_name(wheel.rows[row], index) for _, row, index in holes],
        "at": [round(at, 4) for at in (placed / step_units).tolist()],
        "score_s": trips_s,
        "pin_s": trips_s,
        "pin": pins.pin_type[pin].tolist(),
        "lasts_s": [round(lasts, 6) for lasts in strikes.lasts_s.tolist()],
        "ms": [note.deviation_ms or 0.0 for note in notes],
        "velocity": [DEFAULT_VELOCITY] * len(notes),
        "pitch": [
            note.channel_pitch or wheel.channels[channel].name for note, (channel, *_) in zip(notes, holes, strict=True)
        ],
        "part": [_part(note, parts) for note in notes],
        "where": [_where(note) for note in notes],
        "detail": {},
        "hint": {},
    }


def _part(note: PinNote, parts: dict[str, int]) -> int:
    """The number of the part of a note."""
    return parts.setdefault(_source(note)[0], len(parts))


def _where(note: PinNote) -> str:
    return _source(note)[1]


def _source(note: PinNote) -> tuple[str, str]:
    """The part of a note and its place in it, from `file:part:place`; a part's name may have colons."""
    if note.source is None:
        return NO_PART, "a pin of the map"
    _, _, rest = note.source.partition(":")
    part, _, place = rest.rpartition(":")
    return part, place
