"""How many files a survey judges a second, beside mido's parsing of the same files in one process.

Run: python tests/benchmarks/bench_survey.py [copies] [folder of scores]
Real MIDI files copied some times over, generated songs, then real MusicXML, each over one process and over all cores.
Figure to reach: 40 real MIDI files a second on two idle cores with the search over ±12 semitones (measured:
47 to 49; 44 where they have 1,800 notes each). On a busy machine the clock tells little: N idle cores do N times the
files a second of work.
"""

from __future__ import annotations

import io
import resource
import shutil
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path
from time import perf_counter

import mido
import numpy as np

from pegwright.bundled import bundled_wheel
from pegwright.config import load_wheel
from pegwright.survey.run import run_survey, survey_files
from pegwright.survey.workers import cores

GENERATED = 200


def main(copies: int, scores: Path) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as made:
        root = Path(made)
        midi = copied(sorted(scores.glob("*.mid")), root / "midi", copies)
        song = generated(root / "generated")
        xml = copied(sorted([*scores.glob("*.mxl"), *scores.glob("*.xml")]), root / "musicxml", 1)
        for name, folder in (("real MIDI", midi), ("generated MIDI", song), ("real MusicXML", xml)):
            if any(folder.iterdir()):
                report(name, folder, root)
            else:
                say(f"{name}: none in {scores}")


def report(name: str, folder: Path, root: Path) -> None:
    """Print how many files are done a second, process starts included, and a second of one core's work."""
    paths = sorted(folder.iterdir())
    say(f"{name}: {len(paths)} files, {sum(path.stat().st_size for path in paths) / len(paths) / 1000:.1f} kB each")
    if "MIDI" in name:
        begin = clocks()
        for path in paths:
            mido.MidiFile(file=io.BytesIO(path.read_bytes()))
        say(f"    {'mido alone':27}{rates(len(paths), begin)}")
    for workers in sorted({1, cores()}):
        for semitones in (0, 12):
            begin = clocks()
            survey = run_survey(
                folder,
                load_wheel(bundled_wheel()),
                semitones,
                root / f"{folder.name}-{workers}-{semitones}",
                workers=workers,
                limit_s=600.0,
            )
            survey_files(survey)
            judged = sum(row.verdict is not None for row in survey.rows)
            tried = f"{workers} worker(s), ±{semitones:2} semitones"
            say(f"    {tried:27}{rates(len(paths), begin)}   {judged} judged")


def clocks() -> tuple[float, float]:
    """Seconds by the clock, and seconds of work by this process and those it has ended."""
    spent = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return perf_counter(), sum(it.ru_utime + it.ru_stime for it in spent)


def rates(count: int, begin: tuple[float, float]) -> str:
    """Files a second by the clock, and files a second of work."""
    clock_s, work_s = (now - then for now, then in zip(clocks(), begin, strict=True))
    return f"{count / clock_s:8.1f} files/s by the clock {count / work_s:8.1f} files a second of work"


def say(line: str) -> None:
    """One line, at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def copied(paths: Iterable[Path], folder: Path, copies: int) -> Path:
    """The files, each some times over."""
    folder.mkdir()
    for path in paths:
        for number in range(copies):
            shutil.copy(path, folder / f"{number:03}-{path.name}")
    return folder


def generated(folder: Path) -> Path:
    """Songs of two voices over 32 bars in any key, some off the grid."""
    folder.mkdir()
    chance = np.random.default_rng(7)
    for number in range(GENERATED):
        file = mido.MidiFile(type=1, ticks_per_beat=480)
        for low, grain in ((60, 120), (43, 240)):
            track = mido.MidiTrack()
            key = int(chance.integers(0, 12))
            for _ in range(32 * 4 * 480 // grain // 2):
                pitch = low + key % 5 + int(chance.choice([0, 2, 4, 5, 7, 9, 11, 12]))
                length = grain * int(chance.choice([1, 2, 3]))
                track.append(mido.Message("note_on", note=pitch, velocity=int(chance.integers(40, 110)), time=0))
                track.append(mido.Message("note_off", note=pitch, velocity=0, time=length))
            file.tracks.append(track)
        file.save(folder / f"{number:03}.mid")
    return folder


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 10,
        Path(sys.argv[2]) if len(sys.argv) > 2 else Path(__file__).parents[3] / "shared" / "scores",
    )
