"""The plan of a show as JSON; `schema/show-plan-2.json` describes it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from pegwright.frozen import frozen
from pegwright.json_value import Json
from pegwright.placement import pin_map_sha256
from pegwright.running import running_text
from pegwright.show.show import Pinned, PlayedSong, Show
from pegwright.show.time import WorkTimes
from pegwright.units import fraction_text, printed, quarters_per_minute
from pegwright.write.json_text import json_file, rounded
from pegwright.write.note_count import note_count_json
from pegwright.write.pin_map.json import wheel_json
from pegwright.write.show.count import show_count_json

FORMAT = "pegwright show plan"
VERSION = 2


@frozen()
class Names:
    """Where the files of one pinning are, from the folder of the show.

    Args:
        song: folder of the song's pin map, sheets, count and report.
        swap: files of its swap, without their suffix.
    """

    song: str
    swap: str


def show_json(show: Show, names: Sequence[Names]) -> bytes:
    """The plan for programs, the same bytes for the same input.

    Args:
        show: the show.
        names: of the files of each of `Show.pinned`.
    """
    plan = show.plan
    document: dict[str, Json] = {
        "title": show.title,
        "wheel": wheel_json(show.wheel),
        "order": plan.aim.value,
        "plate_sets": len(show.carried),
        "proved": plan.proved,
        "floor": None if math.isinf(plan.floor) else rounded(plan.floor),
        "starts_equal": plan.starts_equal,
        "starts_tried": plan.starts_tried,
        "work": _work(show.work),
        "moved": {
            "planned": show.savings.planned,
            "given": show.savings.given,
            "listed": show.savings.listed,
            "plain": show.savings.plain,
            "before": sum(pinned.swap.work for pinned in show.pinned if pinned.before is None),
        },
        "on_time": show.on_time,
        "songs": [_song(place, song) for place, song in enumerate(show.songs)],
        "pinnings": [_with_files(pinned, name) for pinned, name in zip(pinnings(show), names, strict=True)],
        **show_count_json(show),
        "skipped": [{"file": file, "reason": reason} for file, reason in show.skipped],
        "findings": [
            {
                "code": finding.code,
                "where": finding.where or None,
                "message": finding.message,
                "hint": finding.hint or None,
            }
            for finding in show.findings
        ],
    }
    return json_file(FORMAT, VERSION, document)


def _work(work: WorkTimes) -> Json:
    return {
        "people": work.people,
        "pull_s": rounded(work.pull_s),
        "set_s": rounded(work.set_s),
        "find_s": rounded(work.find_s),
        "rest_percent": rounded(work.rest_percent),
        "change_s": rounded(work.change_s),
    }


def _song(place: int, song: PlayedSong) -> dict[str, Json]:
    return {
        "place": printed(place),
        "number": printed(song.number),
        "title": song.title,
        "file": song.file,
        "times": song.times,
        "running": running_text(song.running),
        "pinnings": [printed(number) for number in song.pinned],
        "swaps_within": song.swaps_within,
        "start_s": rounded(song.start_s),
        "end_s": rounded(song.end_s),
        "talk_s": rounded(song.talk_s),
        "quarters_per_minute": round(quarters_per_minute(song.us_per_quarter), 6),
        "transpose_semitones": song.transpose_semitones,
        "count": note_count_json(song.count),
    }


def pinnings(show: Show) -> list[dict[str, Any]]:
    """Everything that is pinned, in order: for what, on which plates, what moves, and the time there is."""
    return [_pinned(show, number, pinned) for number, pinned in enumerate(show.pinned)]


def _pinned(show: Show, number: int, pinned: Pinned) -> dict[str, Any]:
    return {
        "pinning": printed(number),
        "place": printed(pinned.place),
        "title": show.song_of(pinned).title,
        "letter": pinned.letter or None,
        "plate_set": printed(pinned.plate_set),
        "follows": None if pinned.before is None else printed(pinned.before),
        "start_step": fraction_text(printed(pinned.start_steps)),
        "map_sha256": pin_map_sha256(pinned.pins),
        "pin_count": pinned.pins.pin_count,
        "pull": pinned.swap.pull.count,
        "set": pinned.swap.set_pins.count,
        "stay": pinned.swap.stay.count,
        "plates": [printed(plate) for plate in pinned.plates],
        "needed_s": rounded(pinned.needed_s),
        "available_s": None if pinned.available_s is None else rounded(pinned.available_s),
        "waits_s": rounded(pinned.late_s),
        "first_s": rounded(pinned.first_s),
    }


def _with_files(pinned: dict[str, Any], names: Names) -> dict[str, Any]:
    folder = f"{names.song}/{pinned['letter'] or ''}".rstrip("/")
    return pinned | {"song_folder": folder, "swap_files": names.swap}
