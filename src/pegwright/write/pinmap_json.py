"""The pin map of a song as JSON; `schema/pin-map-1.json` describes it."""

from __future__ import annotations

from dataclasses import asdict
from fractions import Fraction

from pegwright.placement import PinMap, Placement, pin_map_sha256
from pegwright.request import PLAIN, Request
from pegwright.score import Score
from pegwright.units import fraction_text, printed, quarters_per_minute
from pegwright.wheel import Wheel
from pegwright.write.asked import edits_json
from pegwright.write.json_text import Json, json_bytes
from pegwright.write.pin_rows import PinRow, pin_rows

FORMAT = "pegwright pin map"
VERSION = 1


def pin_map_json(score: Score, wheel: Wheel, placement: Placement, pins: PinMap, request: Request = PLAIN) -> bytes:
    """The pins of every plate with what was fitted to what, the same bytes for the same input."""
    rows = pin_rows(score, wheel, placement, pins)
    return json_bytes(
        {
            "format": FORMAT,
            "version": VERSION,
            "map_sha256": pin_map_sha256(pins),
            "wheel": wheel_json(wheel),
            "score": score_json(score),
            "edits": edits_json(request),
            "fit": fit_json(wheel, placement),
            "pin_count": pins.pin_count,
            "plates": [_plate(plate, rows) for plate in range(1, wheel.plate_count + 1)],
        }
    )


def wheel_json(wheel: Wheel) -> dict[str, Json]:
    """What a file says of the wheel."""
    return {
        "name": wheel.name,
        "sha256": wheel.sha256,
        "plate_count": wheel.plate_count,
        "steps_per_plate": wheel.steps_per_plate,
    }


def score_json(score: Score) -> dict[str, Json]:
    """What a file says of the score."""
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
