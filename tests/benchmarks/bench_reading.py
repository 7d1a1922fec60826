"""The order of bars, the notes and their onsets in MusicXML scores, beside what verovio and music21 read in them.

Run: python tests/benchmarks/bench_reading.py [--music21] [--seconds N] [folder of scores]
Without a folder music21's own corpus is read. A line for each score in which a reference differs:
    order: the bars are played in the same order; "written" where they are once the file says where its repeats
        without a beginning begin (as the ABC music standard 2.1 has it) and which bars its endings are
    notes: ours, then theirs, and theirs once both marks of every tie are written out (`tied_text`)
    times: notes at the same time, and at the same place of the same bar

Grace notes, ornaments and arpeggios, which every reader plays in a way of its own, are left out of the file for all.
A reference that takes longer than N seconds (60) for a score, or fails, is not counted for it.
The tables in docs/reading-musicxml.md also count the files as they are, with all of those in them.
"""

from __future__ import annotations

import argparse
import signal
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from reading_references import (
    Reading,
    alike,
    alike_in_bars,
    corpus,
    explicit_text,
    music21_reading,
    numbered_text,
    our_reading,
    verovio_reading,
)
from tied_text import tied_text


def within(seconds: int, read: Callable[[bytes], Reading], text: bytes) -> Reading | None:
    """What a reference reads, None where it fails or takes too long."""
    signal.alarm(seconds)
    try:
        return read(text)
    except Exception as error:  # whatever a reference stumbles over is its own
        print(f"    {read.__name__}: {type(error).__name__} {str(error)[:80]}")  # a script
        return None
    finally:
        signal.alarm(0)


def compare(name: str, readings: tuple[Reading, Reading, Reading | None], written: bool, counts: Counter[str]) -> None:
    """Print where two readings differ, and count.

    Args:
        name: of the score.
        readings: ours, theirs, and theirs with ties written out where they differ in notes.
        written: the reference's is that of the file with its repeats written out.
        counts: of scores, added to.
    """
    ours, theirs, tied = readings
    notes = len(ours.notes)
    joined = len((tied or theirs).notes)
    order = ours.bars == theirs.bars
    counts["order equal, written out"] += order and written
    times, places = alike(ours.notes, theirs.notes), alike_in_bars(ours, theirs) if order else 0
    counts["compared"] += 1
    counts["order equal"] += order
    counts["notes equal"] += notes == len(theirs.notes)
    counts["notes equal once ties are written out"] += joined == notes != len(theirs.notes)
    counts["99 % of times equal"] += times >= 0.99 * notes
    counts["99 % of places in bars equal"] += order and places >= 0.99 * notes
    said = ("written" if written else "equal") if order else "differs"
    if not order or written or notes != len(theirs.notes) or times < notes:
        print(  # a script
            f"{name:60.60} order {said:7} notes {notes:6} {len(theirs.notes):6} {joined:6} times {times:6} {places:6}"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--music21", action="store_true", help="beside music21 too, which takes ten times as long")
    parser.add_argument("--seconds", type=int, default=60)
    options = parser.parse_args()
    folder = options.folder or corpus()
    readers = [verovio_reading, *([music21_reading] if options.music21 else [])]
    counts = {read.__name__: Counter[str]() for read in readers}
    signal.signal(signal.SIGALRM, lambda *_: (_ for _ in ()).throw(TimeoutError("too long")))
    paths = sorted(path for path in folder.rglob("*") if path.suffix in (".mxl", ".xml", ".musicxml"))
    for path in paths:
        text = numbered_text(path.read_bytes(), plain=True)
        ours = our_reading(text)
        for read in readers:
            theirs = within(options.seconds, read, text)
            written = theirs is None or theirs.bars != ours.bars
            asked = explicit_text(text) if written else text
            theirs = within(options.seconds, read, asked) if written else theirs
            if theirs is not None:
                other = len(theirs.notes) != len(ours.notes)
                tied = within(options.seconds, read, tied_text(asked)) if other else None
                compare(str(path.relative_to(folder)), (ours, theirs, tied), written, counts[read.__name__])
    for reader, counted in counts.items():
        print(f"{reader}: {len(paths)} scores, " + ", ".join(f"{count} {what}" for what, count in counted.items()))


if __name__ == "__main__":
    main()
