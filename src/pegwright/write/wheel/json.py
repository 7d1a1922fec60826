"""The facts of a wheel, as JSON for programs."""

from __future__ import annotations

from dataclasses import asdict

from pegwright import facts
from pegwright.clearance import clearances, rows_at_same_places
from pegwright.json_value import Json
from pegwright.percussion import drum_key_name
from pegwright.units import pitch_name, printed
from pegwright.wheel import Wheel
from pegwright.write.json_text import json_bytes, rounded


def wheel_json(wheel: Wheel, quarters_per_minute: float) -> bytes:
    """The facts of `wheel` at a tempo; numbers of plates, holes and channels count from 1."""
    count = facts.count_holes(wheel)
    document: dict[str, Json] = {
        "wheel": wheel.name,
        "wheel_sha256": wheel.sha256,
        "plates": wheel.plate_count,
        "steps_per_plate": wheel.steps_per_plate,
        "plate_sets": wheel.plate_sets,
        "turn_steps": wheel.turn_steps,
        "turn_quarters": str(wheel.turn_quarters),
        "step_quarters": str(wheel.step_quarters),
        "reach_quarters": str(wheel.reach_quarters),
        "rim": _rim(wheel, quarters_per_minute),
        "seams": wheel.geometry.seams,
        "unit": str(wheel.unit),
        "lengths_not_known": list(wheel.geometry.unchecked),
        "slowest_turn_s": wheel.slowest_turn_s,
        "fastest_turn_s": wheel.fastest_turn_s,
        "clearance": _clearance(wheel),
        "rows_at_same_places": [list(pair) for pair in rows_at_same_places(wheel)],
        "holes": {
            "by_plate": [int(holes) for holes in count.holes.sum(axis=(0, 2))],
            "in_set": count.set_count,
            "in_all_sets": count.show_count,
            "lost_in_set": count.lost_count,
        },
        "channels": [_channel(wheel, number, count) for number in range(len(wheel.channels))],
        "lost": [_lost(wheel, group) for group in facts.lost_groups(wheel)],
        "metres": [_metre(facts.metre_on(wheel, *metre)) for metre in facts.COMMON_METRES],
        "pitches": [
            {"pitch": pitch, "name": pitch_name(pitch), "channels": list(names)}
            for pitch, names in facts.pitch_channels(wheel).items()
        ],
        "drum_keys": [
            {"key": key, "name": drum_key_name(key), "channels": list(names)}
            for key, names in facts.drum_key_channels(wheel).items()
        ],
        "pin_types": [asdict(pin_type) for pin_type in wheel.pin_types],
        "limits": [asdict(limit) for limit in wheel.strike_limits],
    }
    return json_bytes(document)


def _rim(wheel: Wheel, quarters_per_minute: float) -> dict[str, Json]:
    speed = facts.speed_at(wheel, quarters_per_minute)
    known = wheel.geometry.radius_known
    return {
        "circumference_mm": rounded(wheel.geometry.circumference_mm) if known else None,
        "step_mm": rounded(wheel.step_mm) if known else None,
        "quarters_per_minute": quarters_per_minute,
        "turn_s": rounded(speed.turn_s),
        "revolutions_per_minute": rounded(speed.turns_per_minute),
        "rim_mm_per_s": rounded(speed.rim_mm_per_s) if known else None,
        "ms_per_mm": rounded(speed.ms_per_mm) if known else None,
        "step_ms": rounded(speed.step_ms),
    }


def _clearance(wheel: Wheel) -> Json:
    """The lowest clearance of pins in mm, or None where the lengths that decide it are not known."""
    lowest = clearances(wheel)
    if lowest is None:
        return None
    in_row_mm, between_mm = lowest.in_row_mm, lowest.between_channels_mm
    return {
        "needed_mm": wheel.geometry.pin_clearance_mm,
        "in_row_mm": None if in_row_mm is None else rounded(in_row_mm),
        "between_channels_mm": None if between_mm is None else rounded(between_mm),
        "touching_rows": [list(pair) for pair in lowest.touching_rows],
    }


def _channel(wheel: Wheel, number: int, count: facts.HoleCount) -> dict[str, Json]:
    channel = wheel.channels[number]
    in_rows = count.holes[number].sum(axis=0)
    return {
        "number": printed(number),
        "name": channel.name,
        "kind": channel.kind.value,
        "hold_mm": channel.hold_mm,
        "pitches": list(channel.pitches),
        "drum_keys": list(channel.drum_keys),
        "restrike_ms": channel.restrike_ms,
        "lead_ms": channel.lead_ms,
        "reader_mm": channel.reader_mm,
        "advance_steps": float(channel.advance_steps),
        "holes": {row.name: int(in_rows[n]) for n, row in enumerate(wheel.rows) if row.name in channel.rows},
    }


def _lost(wheel: Wheel, group: facts.LostGroup) -> dict[str, Json]:
    return {
        "row": wheel.rows[group.row].name,
        "hole": printed(group.index),
        **({} if group.plate_set is None else {"plate_set": printed(group.plate_set)}),
        "plates": [printed(plate) for plate in group.plates],
        "channel_count": group.channel_count,
        "lost_count": group.lost_count,
        "reason": group.loss.name.lower().replace("_", "-"),
        "edge_mm": None if group.edge_mm is None else rounded(group.edge_mm),
        "needed_mm": None if group.needed_mm is None else rounded(group.needed_mm),
    }


def _metre(metre: facts.Metre) -> dict[str, Json]:
    return {
        "metre": f"{metre.beats}/{metre.beat_type}",
        "steps_per_bar": str(metre.steps_per_bar),
        "places_per_bar": str(metre.places_per_bar),
        "bars_per_plate": str(metre.bars_per_plate),
        "bars_per_turn": str(metre.bars_per_turn),
    }
