"""How quick MusicXML is read, beside music21 parsing the same bytes and doing nothing more with them.

Run: python tests/benchmarks/bench_read_musicxml.py [repeats] [folder of scores]
Each line: notes, then the best times of the repeats in ms, taken in turn, and their ratio. The reader unpacks,
parses, plays repeats out, joins ties and lays columns; music21 is given the text unpacked and only parses it.
"""

from __future__ import annotations

import sys
import time
import warnings
from collections.abc import Callable
from functools import partial
from pathlib import Path

from pegwright.musicxml.archive import unpack
from pegwright.musicxml.reader import read_musicxml

SHARED = Path(__file__).parents[2] / ".." / "shared" / "scores"


def music21_parse(text: bytes) -> None:
    from music21.musicxml.xmlToM21 import MusicXMLImporter  # heavy

    importer = MusicXMLImporter()
    importer.xmlText = text.decode()
    importer.parseXMLText()


def seconds(work: Callable[[], object]) -> float:
    before = time.perf_counter()
    work()
    return time.perf_counter() - before


def main() -> None:
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    folder = Path(sys.argv[2]) if len(sys.argv) > 2 else SHARED
    files = sorted(path for path in folder.glob("*") if path.suffix in (".xml", ".mxl", ".musicxml"))
    totals = [0.0, 0.0]
    print(f"{'file':44} {'notes':>6} {'reader ms':>10} {'music21 ms':>10} {'ratio':>6}")  # a script
    for path in files:
        data = path.read_bytes()
        text = unpack(data, path.name) if data.startswith(b"PK") else data
        pairs = [
            (seconds(partial(read_musicxml, data, path.name)), seconds(partial(music21_parse, text)))
            for _ in range(repeats)
        ]
        ours, theirs = (min(times) for times in zip(*pairs, strict=True))
        totals = [totals[0] + ours, totals[1] + theirs]
        notes = read_musicxml(data, path.name)[0].note_count
        print(f"{path.name:44.44} {notes:6} {ours * 1e3:10.1f} {theirs * 1e3:10.1f} {ours / theirs:6.2f}")
    print(f"{'all':44} {'':6} {totals[0] * 1e3:10.1f} {totals[1] * 1e3:10.1f} {totals[0] / totals[1]:6.2f}")


if __name__ == "__main__":
    warnings.simplefilter("ignore")  # music21 warns of things that do not matter here
    main()
