"""What the report page shows, as plain data: the wheel unrolled, every note with its outcome, and when it sounds."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath

import numpy as np

from pegwright.ask.text import typed
from pegwright.cautions import CHANGE, TOUCH
from pegwright.findings import Finding
from pegwright.grid import Loss, hole_grid, start_steps
from pegwright.json_value import Json
from pegwright.load import usual_window_ms
from pegwright.percussion import drum_key_name
from pegwright.remedy.changes import Change, SongEdit
from pegwright.remedy.song_remedies import Remedies
from pegwright.remedy.taking import by_number, command_with
from pegwright.remedy.wheel_changes import WheelRemedy
from pegwright.score import Score
from pegwright.song import FittedSong
from pegwright.tell.counts import count_words, damage_words
from pegwright.units import pitch_name, quarters_per_minute
from pegwright.wheel import Channel, Kind, Wheel
from pegwright.write.json_text import rounded
from pegwright.write.note_count import note_count_json
from pegwright.write.page.turns import turns_data
from pegwright.write.places import place_words
from pegwright.write.report.remedies import remedies_json
from pegwright.write.start import start_of

LOWEST_BAR_PITCH = 60  # pitched channels from here up are heard as struck bars, lower ones as plucked strings


def page_data(song: FittedSong, remedies: tuple[Remedies, WheelRemedy | None] | None = None) -> dict[str, Json]:
    """All that the page needs, ready for JSON; numbers that people read count from 1.

    A song of several turns has them listed; the page shows one of them at a time and plays all.

    Args:
        song: on its wheel.
        remedies: what would help; None leaves it out.
    """

    def command(changes: Sequence[Change], edit: SongEdit | None = None, take: int | None = None) -> str:  # noqa: ARG001  # a page has none
        whole = command_with(song.score.file, song.request, song.options, changes)
        return whole if take is None else by_number(whole, take, PurePath(song.score.file).stem)

    report, wheel, placement = song.report, song.wheel, song.turns[0].placement
    plate, step = start_of(wheel, placement)
    return {
        "title": song.score.title,
        "file": song.score.file,
        "options": typed(song.request),
        "verdict": f"{count_words(song.count)}. {damage_words(report)}".strip(),
        "count": note_count_json(song.count),
        "tempo": rounded(quarters_per_minute(placement.us_per_quarter)),
        "turn_s": rounded(report.turn_s),
        "load_window_s": load_window_s(wheel, placement.us_per_quarter),
        "start": {"plate": plate, "step": step, "steps": float(start_steps(wheel, placement))},
        "wheel": wheel_data(wheel),
        "findings": [finding_data(finding, song.score) for finding in report.findings],
        "remedies": remedies_json(song.score, *remedies, command, short=True) if remedies else None,
        "cautions": {"touch": list(TOUCH), "change": CHANGE},
        "parts": [part.name for part in song.score.parts],
        **turns_data(song),
    }


def load_window_s(wheel: Wheel, us_per_quarter: int) -> float | None:
    """The time within which the page counts strikes, as `fit --load` does where no other is given."""
    return rounded(usual_window_ms(wheel, us_per_quarter) / 1000)


def wheel_data(wheel: Wheel) -> dict[str, Json]:
    """The wheel with its holes, each line once."""
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
        "lines_of_rows": _lines_of_rows(wheel),
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


def _lines_of_rows(wheel: Wheel) -> list[int]:
    """For each row its line within a channel, 0-based: one for each, in the order across the rim."""
    order = sorted(range(len(wheel.rows)), key=lambda row: (wheel.rows[row].lateral_mm, row))
    return [order.index(row) for row in range(len(order))]


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


def finding_data(finding: Finding, score: Score | None = None) -> dict[str, Json]:
    """A finding in words; without a score its place is given as it stands."""
    return {
        "severity": finding.severity.name.lower(),
        "where": place_words(finding.where, score) if score else finding.where,
        "message": finding.message,
        "hint": finding.hint,
    }
