"""Inputs led by coverage: the two readers under a fuzzer that keeps what reaches new code; outside the ordinary run.

    pip install atheris        into an environment of its own or that of the tests, from the top of a checkout
    python -m tests.fuzz.guided midi --minutes 15 --corpus /tmp/midi
    python -m tests.fuzz.guided musicxml --minutes 15 --corpus /tmp/musicxml

A reader must give a score that `check_score` accepts, or an InputError. Any other end is a failure; the first input of
each is kept in `tests/fuzz/kept`, where the ordinary tests try it again. An input that takes more than 60 s or 1.5 GB
ends the run, and lies in the corpus folder as `timeout-...` or `oom-...`. A corpus can be taken up again.
"""

from __future__ import annotations

import argparse
import random
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeAlias

sys.path.insert(0, str(Path(__file__).parents[1]))

from fuzz.mutate import mutated_bytes, mutated_markup
from pegwright.errors import InputError, UsageError

Reader: TypeAlias = "Callable[[bytes, str], tuple[Any, Any]]"

LONGEST_BYTES = 60_000
SEEDS = 300  # inputs at random to begin with, beside the bundled songs
GUIDED = ["pegwright.read.midi", "pegwright.musicxml"]
MUTATORS = {"midi": mutated_bytes, "musicxml": mutated_markup}


def fault_of(read: Reader, data: bytes) -> str:
    """The error and its place, where a reader gives neither a sound score nor an InputError; else nothing."""
    from pegwright.song_pipeline.hand_made import check_score

    try:
        check_score(read(data, "song")[0])
    except InputError:
        return ""
    except UsageError as fault:
        return f"a score that contradicts itself: {fault}"
    except Exception as fault:
        frame = traceback.extract_tb(fault.__traceback__)[-1]
        return f"{type(fault).__name__} at {Path(frame.filename).name}:{frame.lineno}: {fault}"
    return ""


def fill(folder: Path, kind: str) -> None:
    """Write what a run begins with: bundled songs that are short enough, and inputs at random."""
    from commands import SONGS
    from fuzz.run import KINDS, case_of

    folder.mkdir(parents=True, exist_ok=True)
    for path in sorted(SONGS.glob(f"*{Path(KINDS[kind].file).suffix}")):
        if path.stat().st_size <= LONGEST_BYTES:
            (folder / path.name).write_bytes(path.read_bytes())
    for number in range(SEEDS):
        data, _ = case_of(kind, number, 1)
        if len(data) <= LONGEST_BYTES:
            (folder / f"random-{number:03}").write_bytes(data)


def judge_of(kind: str, read: Reader) -> Callable[[bytes], None]:
    """What the fuzzer calls with every input; failures at different places are kept, one input of each."""
    from commands import WHEEL
    from fuzz.run import KINDS, keep

    seen: set[str] = set()

    def judge(data: bytes) -> None:
        fault = fault_of(read, data)
        place = fault.split(": ")[0]
        if fault and place not in seen:
            seen.add(place)
            folder = keep(kind, data, ["fit", KINDS[kind].file, "-w", str(WHEEL), "--json"])
            print(f"{fault[:300]}: kept as {folder.name}", flush=True)

    return judge


def main() -> None:
    """Run the fuzzer for the time that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=list(MUTATORS))
    parser.add_argument("--minutes", type=float, default=10)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--corpus", type=Path, required=True, help="a folder for inputs that reach new code")
    asked = parser.parse_args()
    import atheris

    with atheris.instrument_imports(include=GUIDED):
        from pegwright.musicxml.reader import read_musicxml
        from pegwright.read.midi.reader import read_midi

    def mutate(data: bytes, longest: int, seed: int) -> bytes:
        chance = random.Random(seed)  # noqa: S311  # the fuzzer's own seed
        if chance.random() < 1 / 3:
            return bytes(atheris.Mutate(data, longest))
        return MUTATORS[asked.kind](data, chance)[:longest]

    if not asked.corpus.exists():
        fill(asked.corpus, asked.kind)
    options = [
        f"-max_total_time={round(asked.minutes * 60)}", f"-seed={asked.seed}", f"-max_len={LONGEST_BYTES}",
        "-timeout=60", "-rss_limit_mb=1500", f"-artifact_prefix={asked.corpus}/", "-print_final_stats=1",
    ]  # fmt: skip
    judge = judge_of(asked.kind, {"midi": read_midi, "musicxml": read_musicxml}[asked.kind])
    atheris.Setup([sys.argv[0], *options, str(asked.corpus)], judge, custom_mutator=mutate)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
