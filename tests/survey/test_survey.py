"""A whole survey: mixed folders, stopped and taken up again, over one process or two."""

from __future__ import annotations

import csv
import io
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from commands import SONGS, WHEEL
from midi_bytes import END, midi_file, note, tracks_of_notes
from pegwright.config import load_wheel
from pegwright.formats import MAX_FILE_BYTES
from pegwright.survey.files import Listed
from pegwright.survey.job import survey_file
from pegwright.survey.journal import JOURNAL
from pegwright.survey.run import run_survey, survey_files
from pegwright.verdict.tally import FitGroup, Survey

SEMITONES = 2
QUARTER = 96
PATIENCE_S = 120.0  # far beyond what any of these take, also on a busy machine


def song(first_pitch: int, length: int = 8) -> bytes:
    """A scale of quarters upwards in whole tones."""
    notes = [(QUARTER * number, 48, first_pitch + 2 * (number % 4), 80, 0) for number in range(length)]
    return tracks_of_notes([notes], running=True, zero_offs=False)


def good_folder(folder: Path, count: int = 12) -> Path:
    folder.mkdir()
    for number in range(count):
        (folder / f"{number:02}.mid").write_bytes(song(60 + number, 4 + number))
    return folder


Progress = Callable[[str, int, int], None]


def surveyed(folder: Path, out: Path, workers: int = 1, progress: Progress | None = None) -> Survey:
    return run_survey(
        folder,
        load_wheel(WHEEL),
        SEMITONES,
        out,
        workers=workers,
        limit_s=PATIENCE_S,
        progress=progress or (lambda _phase, _done, _of: None),
    )


def errors(survey: Survey) -> dict[str, str]:
    return {row.path: row.error for row in survey.rows if row.error}


def test_bad_files_are_told_and_good_ones_judged_all_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "mixed"
    (folder / "sub").mkdir(parents=True)
    shutil.copy(SONGS / "shrimpers-jig.mid", folder / "sub" / "jig.mid")
    shutil.copy(SONGS / "donkey-ride-polka.mxl", folder / "polka.mxl")
    shutil.copy(SONGS / "shrimpers-jig.mid", Path(os.fsdecode(os.fsencode(folder) + b"/\xff\n=.mid")))
    jig = (SONGS / "shrimpers-jig.mid").read_bytes()
    (folder / "empty.mid").write_bytes(b"")
    (folder / "text.midi").write_text("not a song", encoding="utf-8")
    (folder / "page.xml").write_text("<html><body>gone</body></html>", encoding="utf-8")
    (folder / "zip.mxl").write_bytes(b"PK\x03\x04 cut short")
    (folder / "head.mid").write_bytes(jig[:14])
    with (folder / "huge.mid").open("wb") as huge:
        huge.truncate(MAX_FILE_BYTES + 1)
    os.mkfifo(folder / "pipe.mid")
    (folder / "round").symlink_to(folder)
    (folder / "itself.mid").symlink_to("itself.mid")
    (folder / "readme.txt").write_text("hello", encoding="utf-8")
    survey = surveyed(folder, tmp_path / "out", workers=2)
    told = errors(survey)
    assert set(told) == {
        *("empty.mid", "text.midi", "page.xml", "zip.mxl", "head.mid", "huge.mid", "pipe.mid", "round/", "itself.mid")
    }
    assert "0 bytes" in told["empty.mid"]
    assert "web page" in told["page.xml"]
    assert "damaged or cut short" in told["zip.mxl"]
    assert f"larger than {MAX_FILE_BYTES:,} bytes" in told["huge.mid"]
    assert not any(str(tmp_path) in error or "\n" in error for error in told.values())
    fits = survey.counted.groups[FitGroup.FITS]
    assert sorted(row.path for row in fits) == ["polka.mxl", "sub/jig.mid", "\udcff\n=.mid"]
    assert survey.passed_over == 1
    table = list(csv.DictReader(io.StringIO(survey_files(survey)["survey.csv"].decode(), newline="")))
    assert [line["path"] for line in table if line["notes"] == "205"] == ["sub/jig.mid", "\\xff\\n=.mid"]
    assert len(table) == 12


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twelve songs."""
    return good_folder(tmp_path_factory.mktemp("survey") / "songs")


@pytest.fixture(scope="module")
def whole(folder: Path) -> dict[str, bytes]:
    """What an uninterrupted survey in one process writes of them."""
    return survey_files(surveyed(folder, folder.parent / "whole"))


def test_one_process_or_two_give_the_same_bytes(folder: Path, whole: dict[str, bytes], tmp_path: Path) -> None:
    assert survey_files(surveyed(folder, tmp_path / "two", workers=2)) == whole
    assert set(whole) == {"survey.csv", "survey.txt", "survey.json", "survey.svg"}


def test_a_survey_that_was_stopped_goes_on_and_ends_the_same(
    folder: Path, whole: dict[str, bytes], tmp_path: Path
) -> None:
    def stop_after_five(_phase: str, done: int, of: int) -> None:
        assert of == 12
        if done == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        surveyed(folder, tmp_path / "out", progress=stop_after_five)
    told: list[tuple[int, int]] = []
    survey = surveyed(folder, tmp_path / "out", progress=lambda _phase, done, of: told.append((done, of)))
    assert told == [(done, 12) for done in range(5, 13)], "only the seven that were left are judged"
    assert survey_files(survey) == whole
    again: list[tuple[int, int]] = []
    surveyed(folder, tmp_path / "out", progress=lambda _phase, done, of: again.append((done, of)))
    assert again == [(12, 12)]


def test_a_program_killed_half_way_goes_on_and_ends_the_same(whole: dict[str, bytes], tmp_path: Path) -> None:
    """As a power cut would have it: killed in the middle of a file, and its last line cut off."""
    folder, out = good_folder(tmp_path / "songs"), tmp_path / "out"
    slow = folder / "zz.mid"  # the last, which takes seconds to read
    slow.write_bytes(midi_file(note(0, 1) * 450_000 + END))
    command = [sys.executable, "-m", "pegwright", "survey", str(folder), "-w", str(WHEEL), "--semitones", "2"]
    command += ["-o", str(out), "--workers", "1"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        give_up = time.monotonic() + PATIENCE_S
        while not (out / JOURNAL).exists() or (out / JOURNAL).read_bytes().count(b"\n") < 13:
            assert time.monotonic() < give_up
            assert running.poll() is None, running.communicate()
            time.sleep(0.01)
        running.send_signal(signal.SIGKILL)
    assert sorted(path.name for path in out.iterdir()) == [JOURNAL], "nothing was written but what is kept"
    slow.unlink()
    (out / JOURNAL).write_bytes((out / JOURNAL).read_bytes()[:-9])
    told: list[int] = []
    survey = surveyed(folder, out, progress=lambda _phase, done, _of: told.append(done))
    assert told == [11, 12]
    assert survey_files(survey) == whole


def test_a_changed_file_is_judged_again(tmp_path: Path) -> None:
    folder = good_folder(tmp_path / "songs", 2)
    before = surveyed(folder, tmp_path / "out").rows
    (folder / "01.mid").write_bytes(song(72, 9))
    (folder / "02.mid").write_bytes(song(72, 3))
    after = surveyed(folder, tmp_path / "out").rows
    assert after[0] == before[0]
    assert [row.verdict.as_is.count.read for row in after if row.verdict] == [4, 9, 3]


def test_a_file_that_takes_too_long_is_given_up_and_not_kept(tmp_path: Path) -> None:
    folder = good_folder(tmp_path / "songs", 1)
    survey = run_survey(folder, load_wheel(WHEEL), SEMITONES, tmp_path / "out", workers=1, limit_s=0.0)
    assert errors(survey) == {"00.mid": "given up after 0 s (--time-limit allows more)"}
    assert errors(surveyed(folder, tmp_path / "out")) == {}


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds a process to a limit of its address space")
def test_a_file_that_needs_too_much_memory_is_given_up_and_the_others_are_judged(tmp_path: Path) -> None:
    folder = good_folder(tmp_path / "songs", 3)
    quarter = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>"
    many = f'<part id="P1"><measure number="1">{quarter * 190_000}</measure></part>'
    (folder / "01-large.musicxml").write_text(f"<score-partwise><part-list/>{many}</score-partwise>", encoding="utf-8")
    out = tmp_path / "out"
    survey = run_survey(
        folder, load_wheel(WHEEL), SEMITONES, out, workers=1, limit_s=PATIENCE_S, memory_bytes=128 * 2**20
    )
    assert errors(survey) == {
        "01-large.musicxml": "given up: it needs more memory than there is, or than --memory-limit allows"
    }
    assert [row.path for row in survey.rows if row.verdict] == ["00.mid", "01.mid", "02.mid"]


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        (ValueError("two\nlines"), "this is a bug in pegwright: ValueError: two lines"),
        (RecursionError("deep"), "this is a bug in pegwright: RecursionError: deep"),
    ],
)
def test_no_fault_gets_past_the_job_of_a_file(fault: Exception, told: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: Path) -> None:
        raise fault

    monkeypatch.setattr("pegwright.survey.job.read_score", fail)
    row = survey_file(Listed("air.mid", Path("air.mid")), load_wheel(WHEEL), SEMITONES)
    assert (row.verdict, row.error) == (None, told)


def test_a_tempo_that_the_wheel_cannot_follow_is_told(tmp_path: Path) -> None:
    path = tmp_path / "fast.mid"
    notes = [(0, 10, 72, 80, 0)]
    data = tracks_of_notes([notes], running=False, zero_offs=False)
    path.write_bytes(
        data.replace(b"\x00\x90", b"\x00\xff\x51\x03\x00\x00\x01\x00\x90", 1).replace(
            b"MTrk" + data[18:22], b"MTrk" + (int.from_bytes(data[18:22], "big") + 7).to_bytes(4, "big")
        )
    )
    row = survey_file(Listed("fast.mid", path), load_wheel(WHEEL), SEMITONES)
    assert "less than the re-strike" in row.error
