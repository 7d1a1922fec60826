"""How long a song takes as MEI, by way of music21, beside the same song as MusicXML.

Run: python tests/benchmarks/bench_read_other.py [repeats]
Each line: notes, then the best times of the repeats in ms, taken in turn, and their ratio. The MEI is made by verovio.
"""

from __future__ import annotations

import base64
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from notated import verovio_hears
from pegwright.musicxml.reader import read_musicxml
from pegwright.read import score_of
from places import SONGS


def seconds(work: Callable[[], object]) -> float:
    before = time.perf_counter()
    work()
    return time.perf_counter() - before


def main() -> None:
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    print(f"{'file':40} {'notes':>6} {'MusicXML ms':>12} {'MEI ms':>10} {'ratio':>6}")
    for path in sorted([*SONGS.glob("*.musicxml"), *SONGS.glob("*.mxl")]):
        data = path.read_bytes()
        packed = data.startswith(b"PK")
        text = base64.b64encode(data).decode() if packed else data.decode()
        mei = verovio_hears(text, "mxl" if packed else "musicxml")[1].encode()
        pairs = [
            (seconds(partial(read_musicxml, data, path.name)), seconds(partial(score_of, mei, path)))
            for _ in range(repeats)
        ]
        plain, other = (min(times) for times in zip(*pairs, strict=True))
        notes = read_musicxml(data, path.name)[0].note_count
        print(f"{path.name:40.40} {notes:6} {plain * 1e3:12.1f} {other * 1e3:10.1f} {other / plain:6.0f}")


if __name__ == "__main__":
    main()
