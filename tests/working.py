"""Maps to be corrected, of the bundled songs or put together, for the tests of room `correct/`."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from pegwright.bundled import songs_folder
from pegwright.config import load_wheel
from pegwright.correct.values import WorkingMap
from pegwright.read.working_map import working_map
from pegwright.song import FittedSong
from pegwright.song_pipeline.fitting import fit_file
from pegwright.wheel import Wheel
from pegwright.write.pin_map.json import pin_map_json

WHEEL_FILE = songs_folder() / "merrow-sands.toml"
JIG, MARCH, PIER = "shrimpers-jig.mid", "lamplighters-march.mid", "round-the-pier-and-back.mxl"


@cache
def demo_wheel() -> Wheel:
    return load_wheel(WHEEL_FILE)


@cache
def fitted(song: str) -> FittedSong:
    return fit_file(songs_folder() / song, demo_wheel())


@cache
def document_bytes(song: str, pinning: int = 0) -> bytes:
    return pin_map_json(fitted(song), pinning)


def document(song: str, pinning: int = 0) -> dict[str, Any]:
    """A map as JSON, which may be changed."""
    loaded: dict[str, Any] = json.loads(document_bytes(song, pinning))
    return loaded


@cache
def maps_of(song: str) -> tuple[WorkingMap, ...]:
    """The maps of a bundled song."""
    count = len(fitted(song).pinnings)
    return tuple(working_map(document(song, pinning), f"{song}.json", demo_wheel()) for pinning in range(count))
