"""How time and memory of `fit` grow with the size of its input: each shape in a process of its own, doubled four times.

    python tests/benchmarks/bench_sizes.py                   every shape
    python tests/benchmarks/bench_sizes.py notes silence     some

The exponent is that of the processor time beyond that of a song of one note, over the last three doublings.
Figures to reach: an exponent of at most 1.15; 60 s and 1 GB at the documented limits; 2 s and 200 MB under 200 KB.

Seen last, on two cores that others used too, least of three: 2,000 different turns in 198 KB 1.9 s and 82 MB (4.2 s
while each turn was placed and verified by itself). At the limits: 499,000 notes in 4 MB 7 s and 0.31 GB, as JSON 20 s
and 0.31 GB; a note on each of 99,000 quarters 5 s and 0.13 GB. Played by hand, 2,000 notes twelve quarters apart take
3.0 s and 235 MB (738 MB while all pairs of patterns were kept), and 8,200 of them, up to the limit of quarters, 12 s
and 0.8 GB: every quarter between them, up to 16 for a note, is followed.
"""

from __future__ import annotations

import math
import os
import random
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1]))

from midi_bytes import END, metre, midi_file, note
from places import ROOT

WHEEL = ROOT / "songs" / "merrow-sands.toml"
DOUBLINGS = 4
QUARTER = 24


def notes(count: int) -> bytes:
    """Notes at random, eight a quarter."""
    chance = random.Random(1)  # noqa: S311  # test data
    return midi_file(b"".join(note(0, 3, chance.randrange(60, 84)) for _ in range(count)) + END, division=QUARTER)


def metre_changes(count: int) -> bytes:
    """A metre change at every tick."""
    changes = b"".join(metre(1, 3 + number % 2, 2) for number in range(count))
    return midi_file(changes + note(0, 1) + END, division=QUARTER)


def silence(quarters: int) -> bytes:
    """Two notes and what lies between."""
    return midi_file(note(0, 1) + note(quarters, 1) + END, division=1)


def sparse(count: int) -> bytes:
    """Notes twelve quarters apart."""
    return midi_file(b"".join(note(12 * QUARTER - 3, 3) for _ in range(count)) + END, division=QUARTER)


def turns(count: int) -> bytes:
    """Turns of the bundled wheel with a dozen notes each, no two alike."""
    chance = random.Random(1)  # noqa: S311  # test data
    turn, body, since = 48 * QUARTER, b"", 0
    for _ in range(count):
        places = [3 * place for place in sorted(chance.sample(range(turn // 3 - 1), 12))]
        for place, before in zip(places, [-since, *(place + 3 for place in places)], strict=False):
            body += note(place - before, 3, chance.randrange(60, 84))
        since = turn - places[-1] - 3
    return midi_file(body + END, division=QUARTER)


def score(body: str, root: str = "score-partwise", parts: int = 1) -> bytes:
    """A MusicXML file; parts have equal names."""
    listed = "".join(f'<score-part id="P{number}"><part-name>Bell</part-name></score-part>' for number in range(parts))
    return f'<{root} version="4.0"><part-list>{listed}</part-list>{body}</{root}>'.encode()


BAR = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration><type>whole</type></note>"
TIME = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"


def measures(count: int, inside: Callable[[int], str]) -> str:
    """Bars of one note with something before it."""
    return "".join(
        f'<measure number="{number + 1}">{TIME if not number else ""}{inside(number)}{BAR}</measure>'
        for number in range(count)
    )


def bars(count: int) -> bytes:
    """Bars of one note."""
    return score(f'<part id="P0">{measures(count, lambda _: "")}</part>')


def parts_of_one_name(count: int) -> bytes:
    """Parts of one bar."""
    whole = "".join(f'<part id="P{number}">{measures(1, lambda _: "")}</part>' for number in range(count))
    return score(whole, parts=count)


def timewise(count: int) -> bytes:
    """A timewise score of as many parts as bars."""
    side = math.isqrt(count)
    row = "".join(f'<part id="P{number}">{BAR}</part>' for number in range(side))
    whole = "".join(f'<measure number="{number + 1}">{row}</measure>' for number in range(side))
    return score(whole, "score-timewise", side)


def timewise_absent(count: int) -> bytes:
    """A timewise score of as many parts as bars, each part in one bar alone."""
    whole = "".join(
        f'<measure number="{number + 1}"><part id="P{number}">{BAR}</part></measure>' for number in range(count)
    )
    return score(whole, "score-timewise", count)


def dal_segnos(count: int) -> bytes:
    """A segno, and a dal segno in every bar."""
    jump = '<direction><direction-type><words>D.S.</words></direction-type><sound dalsegno="s"/></direction>'
    mark = '<direction><direction-type><segno/></direction-type><sound segno="s"/></direction>'
    return score(f'<part id="P0">{measures(count, lambda number: jump if number else mark)}</part>')


def repeats(count: int) -> bytes:
    """Every bar repeated as often as a file can say."""
    bar = '<barline location="left"><repeat direction="forward"/></barline>'
    end = '<barline location="right"><repeat direction="backward" times="100"/></barline>'
    whole = "".join(
        f'<measure number="{number + 1}">{bar}{TIME if not number else ""}{BAR}{end}</measure>'
        for number in range(count)
    )
    return score(f'<part id="P0">{whole}</part>')


def metres_written(count: int) -> bytes:
    """A metre change in every bar."""
    change = "<attributes><time><beats>{}</beats><beat-type>4</beat-type></time></attributes>"
    return score(f'<part id="P0">{measures(count, lambda number: change.format(3 + number % 2))}</part>')


def endings(count: int) -> bytes:
    """Two endings, the second as long as the song, played again da capo."""
    bracket = '<barline location="{}"><ending number="{}" type="{}"/>{}</barline>'
    back, top = '<repeat direction="backward"/>', '<direction><sound dacapo="yes"/></direction>'
    inside = {
        1: bracket.format("left", 1, "start", "") + bracket.format("right", 1, "stop", back),
        2: bracket.format("left", 2, "start", ""),
        count - 1: bracket.format("right", 2, "stop", "") + top,
    }
    return score(f'<part id="P0">{measures(count, lambda number: inside.get(number, ""))}</part>')


class Shape(NamedTuple):
    """An input that can be made in any size."""

    make: Callable[[int], bytes]
    smallest: int
    suffix: str
    options: tuple[str, ...] = ()


SHAPES = {
    "notes": Shape(notes, 12_500, ".mid"),
    "metres": Shape(metre_changes, 12_500, ".mid"),
    "turns": Shape(turns, 125, ".mid"),
    "notes-json": Shape(notes, 12_500, ".mid", ("--json",)),
    "silence": Shape(silence, 6_000, ".mid"),
    "silence-played": Shape(silence, 6_000, ".mid", ("--performed",)),
    "notes-played": Shape(notes, 1_000, ".mid", ("--performed",)),
    "sparse-played": Shape(sparse, 125, ".mid", ("--performed",)),
    "bars": Shape(bars, 1_500, ".musicxml"),
    "parts": Shape(parts_of_one_name, 1_000, ".musicxml"),
    "timewise": Shape(timewise, 1_000, ".musicxml"),
    "timewise-absent": Shape(timewise_absent, 500, ".musicxml"),
    "dal-segnos": Shape(dal_segnos, 1_000, ".musicxml"),
    "metres-written": Shape(metres_written, 1_000, ".musicxml"),
    "endings": Shape(endings, 750, ".musicxml"),
    "repeats": Shape(repeats, 15, ".musicxml"),
}


def cost(path: Path, options: tuple[str, ...]) -> tuple[float, float]:
    """Seconds of processor time and megabytes at most of a fit; not-a-number where it failed."""
    command = [sys.executable, "-m", "pegwright", "fit", str(path), "--wheel", str(WHEEL), *options]
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    errors = child.stderr.read() if child.stderr else b""
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        print(f"    exit code {child.returncode}: {errors.decode()[:150].strip()}")
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def main() -> None:
    """Measure the shapes that are asked for."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "one.mid"
        path.write_bytes(notes(1))
        start_s, _ = cost(path, ())
        print(f"a song of one note: {start_s:.2f} s")
        for name in sys.argv[1:] or SHAPES:
            shape, times_s = SHAPES[name], []
            for doubling in range(DOUBLINGS + 1):
                path = Path(folder) / f"song{shape.suffix}"
                path.write_bytes(shape.make(shape.smallest << doubling))
                time_s, peak_mb = cost(path, shape.options)
                times_s.append(max(time_s - start_s, 0.01))
                size = f"{shape.smallest << doubling:>9,} {path.stat().st_size:>11,} bytes"
                print(f"{name:16}{size}{time_s:8.2f} s{peak_mb:8.0f} MB", flush=True)
            print(f"{name:16}exponent {math.log2(times_s[-1] / times_s[1]) / (DOUBLINGS - 1):.2f}")


if __name__ == "__main__":
    main()
