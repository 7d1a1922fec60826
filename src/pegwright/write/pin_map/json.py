"""The pin map of a song as JSON; `schema/pin-map-3.json` describes it."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from pegwright.ask.text import edits_json
from pegwright.json_value import Json
from pegwright.layout import layout_of, layout_sha256
from pegwright.placement import Placement, pin_map_sha256
from pegwright.score import Score
from pegwright.song import FittedSong, FittedTurn, Mounted
from pegwright.units import fraction_text, printed, quarters_per_minute
from pegwright.wheel import Wheel
from pegwright.write.csv_text import Cell
from pegwright.write.json_text import json_file, objects
from pegwright.write.note_count import note_count_json
from pegwright.write.pin_map.rows import PIN_COLUMNS, pin_rows
from pegwright.write.start import start_of

FORMAT = "pegwright pin map"
VERSION = 3


def pin_map_json(
    song: FittedSong,
    pinning: int = 0,
    mounted: Sequence[Mounted] = (),
    rows: Sequence[tuple[Cell, ...]] | None = None,
) -> bytes:
    """The pins of every plate with what was fitted to what, the same bytes for the same input.

    Args:
        song: on its wheel.
        pinning: which of its sets of plates, 0-based.
        mounted: how a show has those plates on the rim.
        rows: of its pins (`pin_rows`), where they have been made already.
    """
    wheel, turn = song.wheel, song.pinnings[pinning]
    rows = pin_rows(turn, wheel) if rows is None else rows
    document: dict[str, Json] = {
        "map_sha256": pin_map_sha256(turn.pins),
        "wheel": wheel_json(wheel),
        "layout": layout_json(wheel),
        "score": score_json(turn.score),
        **({"set": _set_json(song, pinning)} if song.several_turns else {}),
        **({"mounted": [_mounted_json(each) for each in mounted]} if mounted else {}),
        "edits": edits_json(song.request),
        "fit": fit_json(wheel, turn.placement),
        "count": note_count_json(song.count),
        "bars": _bars_json(turn, wheel),
        "pin_count": turn.pins.pin_count,
        "plates": [_plate(plate, rows) for plate in range(1, wheel.plate_count + 1)],
    }
    return json_file(FORMAT, VERSION, document)


def _set_json(song: FittedSong, pinning: int) -> dict[str, Json]:
    turns = [printed(turn) for turn in song.turns_of(pinning)]
    return {"letter": song.letter(pinning), "running_order": song.running_text, "turns": turns}


def _mounted_json(mounted: Mounted) -> dict[str, Json]:
    return {"plate_set": printed(mounted.plate_set), "plates": [printed(plate) for plate in mounted.plates]}


def _bars_json(turn: FittedTurn, wheel: Wheel) -> list[Json]:
    """Where bars and beats fall on the turn, so that the map can be printed and searched without its score."""
    from pegwright.draw.bars import bar_marks  # noqa: PLC0415  # a report takes other things from here, and draws none

    return [
        {"label": mark.label, "step": _step(mark.position_steps), "beats": [_step(beat) for beat in mark.beats]}
        for mark in bar_marks(turn.score, wheel, turn.placement)
    ]


def _step(place_steps: Fraction) -> str:
    return fraction_text(printed(place_steps))


def wheel_json(wheel: Wheel) -> dict[str, Json]:
    """The wheel, as files give it."""
    return {
        "name": wheel.name,
        "sha256": wheel.sha256,
        "plate_count": wheel.plate_count,
        "steps_per_plate": wheel.steps_per_plate,
    }


def layout_json(wheel: Wheel) -> dict[str, Json]:
    """The layout of the wheel: its hash, and what can be listed of it, so that a change can be named."""
    layout = layout_of(wheel)
    return {
        "sha256": layout_sha256(wheel),
        "step_quarters": str(layout.step_quarters),
        "rows": [
            {"name": row.name, "phases": " ".join(map(str, row.phases)), "period_steps": row.period_steps}
            for row in layout.rows
        ],
        "channels": [{"name": channel.name, "rows": list(channel.rows)} for channel in layout.channels],
        "pin_types": [
            {"name": kind.name, "offset_mm": kind.offset_mm, "bridge_mm": kind.bridge_mm} for kind in layout.pin_types
        ],
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
        **({} if wheel.plate_set is None else {"plate_set": printed(wheel.plate_set)}),
        **({"advance_steps": early} if (early := early_json(wheel)) else {}),
    }


def early_json(wheel: Wheel) -> list[Json]:
    """The channels whose pins are set early."""
    return [
        {"channel_name": channel.name, "steps": float(channel.advance_steps)}
        for channel in wheel.channels
        if channel.advance_steps
    ]


def _plate(plate: int, rows: Sequence[tuple[Cell, ...]]) -> dict[str, Json]:
    pins = objects(PIN_COLUMNS[1:], [row[1:] for row in rows if row[0] == plate])
    return {"plate": plate, "pin_count": len(pins), "pins": pins}
