"""The pin map of a song as JSON; `schema/pin-map-1.json` describes it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from fractions import Fraction

from pegwright.ask.request import PLAIN, Request
from pegwright.ask.text import edits_json
from pegwright.json_value import Json
from pegwright.placement import PinMap, Placement, pin_map_sha256
from pegwright.score import Score
from pegwright.units import fraction_text, printed, quarters_per_minute
from pegwright.wheel import Wheel
from pegwright.write.json_text import json_bytes
from pegwright.write.pin_map.rows import PinRow, pin_rows

FORMAT = "pegwright pin map"
VERSION = 1
VERSION_OF_SEVERAL_TURNS = 2


@dataclass(frozen=True, slots=True)
class SetInSong:
    """Which set of plates of a song of several turns a pin map is.

    Args:
        letter: its name in the running order.
        running: the running order, such as `A A B A`.
        turns: those that it plays, 0-based.
        first_note: how many notes of the song come before the first of those turns.
    """

    letter: str
    running: str
    turns: tuple[int, ...]
    first_note: int


def pin_map_json(
    score: Score,
    wheel: Wheel,
    placement: Placement,
    pins: PinMap,
    request: Request = PLAIN,
    in_song: SetInSong | None = None,
) -> bytes:
    """The pins of every plate with what was fitted to what, the same bytes for the same input.

    Args:
        score: what was fitted: the song, or one turn of it.
        wheel: what it was fitted to.
        placement: its outcome.
        pins: its pin map.
        request: the options.
        in_song: which set of plates this is, in a song of several turns.
    """
    rows = pin_rows(score, wheel, placement, pins, in_song.first_note if in_song else 0)
    return json_bytes(
        {
            "format": FORMAT,
            "version": VERSION_OF_SEVERAL_TURNS if in_song else VERSION,
            "map_sha256": pin_map_sha256(pins),
            "wheel": wheel_json(wheel),
            "score": score_json(score),
            **({"set": _set_json(in_song)} if in_song else {}),
            "edits": edits_json(request),
            "fit": fit_json(wheel, placement),
            "pin_count": pins.pin_count,
            "plates": [_plate(plate, rows) for plate in range(1, wheel.plate_count + 1)],
        }
    )


def _set_json(in_song: SetInSong) -> dict[str, Json]:
    return {
        "letter": in_song.letter,
        "running_order": in_song.running,
        "turns": [printed(turn) for turn in in_song.turns],
    }


def wheel_json(wheel: Wheel) -> dict[str, Json]:
    """The wheel, as files give it."""
    return {
        "name": wheel.name,
        "sha256": wheel.sha256,
        "plate_count": wheel.plate_count,
        "steps_per_plate": wheel.steps_per_plate,
    }


def score_json(score: Score) -> dict[str, Json]:
    """The score, as files give it."""
    return {"title": score.title, "file": score.file, "sha256": score.sha256}


def fit_json(wheel: Wheel, placement: Placement) -> dict[str, Json]:
    """How the score was laid on the wheel."""
    plate, step = start_of(wheel, placement)
    return {
        "us_per_quarter": placement.us_per_quarter,
        "quarters_per_minute": round(quarters_per_minute(placement.us_per_quarter), 6),
        "start_plate": plate,
        "start_step": step,
        "transpose_semitones": placement.transpose_semitones,
        "fold_octaves": placement.fold_octaves,
        "reach_quarters": fraction_text(Fraction(placement.reach_ticks, placement.resolution)),
        "part_priorities": [{"part": part, "priority": priority} for part, priority in placement.part_priorities],
        "drum_keys": [{"key": key, "instead": instead} for key, instead in placement.drum_keys],
        "part_channels": [{"part": part, "channels": names} for part, names in placement.part_channels],
        "channel_rule": placement.channel_rule,
    }


def start_of(wheel: Wheel, placement: Placement) -> tuple[int, str]:
    """Where the song begins: plate, and step of that plate, both counted from 1."""
    plate, step = divmod(
        Fraction(placement.start_ticks, placement.resolution) / wheel.step_quarters, wheel.steps_per_plate
    )
    return printed(int(plate)), fraction_text(step + 1)


def _plate(plate: int, rows: tuple[PinRow, ...]) -> dict[str, Json]:
    pins = [asdict(row) for row in rows if row.plate == plate]
    for pin in pins:
        del pin["plate"]
    return {"plate": plate, "pin_count": len(pins), "pins": pins}
