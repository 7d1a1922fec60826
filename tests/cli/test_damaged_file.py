"""A file of which part could not be read says so beside the count of its notes, wherever that is printed."""

from __future__ import annotations

from pathlib import Path

import pytest

from commands import SONGS, WHEEL, runner
from documents import pages_of

DAMAGED = "All 72 notes sound. The file is damaged, and notes in what could not be read are not counted."


def test_a_song_that_breaks_off_is_not_said_to_sound_whole(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    run, song = runner(capsys), tmp_path / "cut.mid"
    song.write_bytes((SONGS / "shrimpers-jig.mid").read_bytes()[:700])
    assert run("fit", song, "--wheel", WHEEL).out.startswith(DAMAGED)
    assert DAMAGED in run("hear", song, "--wheel", WHEEL, "-o", tmp_path / "cut.wav").out
    run("pin", song, "--wheel", WHEEL, "-o", tmp_path / "pins")
    assert DAMAGED in (tmp_path / "pins" / "report.html").read_text(encoding="utf-8")
    sheets = pages_of(tmp_path / "pins/print-a4.pdf", "Pin sheets")
    assert sheets
    assert all("The file is damaged" in page.extract_text() for page in sheets)


def test_a_song_that_is_whole_is_not_said_to_be_damaged(capsys: pytest.CaptureFixture[str]) -> None:
    assert "damaged" not in runner(capsys)("fit", SONGS / "shrimpers-jig.mid", "--wheel", WHEEL).out
