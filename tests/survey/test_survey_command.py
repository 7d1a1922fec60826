"""`pegwright survey` as a user runs it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from pegwright.cli.survey import survey as command
from pegwright.verdict.judge import MAX_SEMITONES


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def test_a_folder_is_surveyed_and_taken_up_again(run: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my songs").mkdir()
    for name in ("shrimpers-jig.mid", "lamplighters-march.mid", "the-committee-regrets.musicxml"):
        shutil.copy(SONGS / name, tmp_path / "my songs")
    first = run("survey", "my songs", "-w", WHEEL, "--workers", "1")
    assert (first.code, first.err) == (0, "")
    assert first.out.startswith("3 score files in my songs on Merrow Sands Pavilion\n")
    names = "survey.csv, survey.txt, survey.json, survey.svg, pegwright.sha256"
    assert " ".join(first.out.split()).endswith(f" Written to my-songs-survey: {names}")
    out = tmp_path / "my-songs-survey"
    files = {path.name: path.read_bytes() for path in out.iterdir()}
    written = {"survey.csv", "survey.txt", "survey.json", "survey.svg"}
    assert set(files) == written | {"journal.jsonl", "pegwright.sha256"}
    assert first.out.startswith(files["survey.txt"].decode())
    again = run("survey", "my songs", "-w", WHEEL, "--json")
    assert again.out.encode() == files["survey.json"]
    assert {path.name: path.read_bytes() for path in out.iterdir()} == files
    counts = json.loads(again.out)["counts"]
    assert (counts["fits"], counts["fits-with-start"], counts["not-judged"]) == (1, 1, 0)
    refused = run("survey", "my songs", "-w", WHEEL, "--semitones", "3").refused(2)
    assert "its semitones is 12, now it is 3" in refused
    assert "--again" in refused


def test_what_cannot_be_surveyed_is_told_in_one_line(run: Command, tmp_path: Path) -> None:
    file = tmp_path / "air.mid"
    file.write_bytes(b"")
    assert "is not a folder (for one song, use `pegwright fit`)" in run("survey", file, "-w", WHEEL).refused(2)
    assert "no such file" in run("survey", tmp_path / "gone", "-w", WHEEL).refused(2)
    assert "no survey" in run("survey", tmp_path, "-w", WHEEL, "-o", tmp_path).refused(2)
    assert "--semitones" in run("survey", tmp_path, "-w", WHEEL, "--semitones", "49").refused(2)
    assert "--time-limit" in run("survey", tmp_path, "-w", WHEEL, "--time-limit", "nan").refused(2)
    assert "--workers" in run("survey", tmp_path, "-w", WHEEL, "--workers", "0").refused(2)


def test_a_folder_without_scores_is_an_error_in_one_line_and_nothing_is_written(run: Command, tmp_path: Path) -> None:
    (tmp_path / "none").mkdir()
    (tmp_path / "none" / "list.txt").write_text("", "utf-8")
    refused = run("survey", tmp_path / "none", "-w", WHEEL, "-o", tmp_path / "out").refused(1)
    nothing = "none: no score file in this folder nor in the folders in it, 1 file of other kinds skipped"
    assert nothing in refused
    assert ".musicxml" in refused
    assert not (tmp_path / "out").exists()
    (tmp_path / "none" / "list.txt").unlink()
    assert "skipped" not in run("survey", tmp_path / "none", "-w", WHEEL, "-o", tmp_path / "out").refused(1)


def test_octaves_are_folded_on_request_and_kept_apart(run: Command, tmp_path: Path) -> None:
    (tmp_path / "songs").mkdir()
    shutil.copy(SONGS / "the-committee-regrets.musicxml", tmp_path / "songs")
    survey = ("survey", tmp_path / "songs", "-w", WHEEL, "-o", tmp_path / "out", "--semitones", "0", "--workers", "1")
    plain = json.loads(run(*survey, "--json").out)
    assert "its fold-octaves is no, now it is yes" in run(*survey, "--fold-octaves").refused(2)
    folded = json.loads(run(*survey, "--fold-octaves", "--again", "--json").out)
    assert (plain["fold_octaves"], folded["fold_octaves"]) == (False, True)
    assert folded["pieces"][0]["count"]["sounding"] > plain["pieces"][0]["count"]["sounding"]
    text = " ".join((tmp_path / "out" / "survey.txt").read_text("utf-8").split())
    assert "pitches without a channel are moved by octaves" in text


def test_the_command_bounds_transpositions_as_the_verdict_does() -> None:
    kind = next(option.type for option in command.params if option.name == "semitones")
    assert (kind.min, kind.max) == (0, MAX_SEMITONES)


def test_a_bar_is_shown_on_a_terminal_only(run: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "one").mkdir()
    shutil.copy(SONGS / "shrimpers-jig.mid", tmp_path / "one")
    survey = ("survey", tmp_path / "one", "-w", WHEEL, "-o", tmp_path / "out", "--semitones", "0", "--workers", "1")
    assert run(*survey).err == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    monkeypatch.setenv("TERM", "xterm")
    shown = run(*survey)
    assert "Judging" in shown.err
    assert "Judging" not in shown.out


def test_files_that_cannot_be_read_are_named_and_the_exit_code_says_so(run: Command, tmp_path: Path) -> None:
    (tmp_path / "songs").mkdir()
    shutil.copy(SONGS / "shrimpers-jig.mid", tmp_path / "songs")
    command = ("survey", tmp_path / "songs", "-w", WHEEL, "-o", tmp_path / "out", "--workers", "1")
    assert run(*command).code == 0
    (tmp_path / "songs" / "broken.mid").write_bytes(b"MThd")
    line = f"pegwright: not judged: 1 of 2 score files; {tmp_path / 'out' / 'survey.csv'} says why of each\n"
    for more in ((), ("--json",)):  # the second run takes what the first one kept
        done = run(*command, *more)
        assert (done.code, done.err) == (1, line)
        assert "broken.mid" in done.out
        assert "The Shrimpers' Jig" in done.out, "the others are judged"
    assert "broken.mid" in (tmp_path / "out" / "survey.csv").read_text("utf-8")


def test_the_progress_bar_names_the_phase(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    from pegwright.cli.survey import _bar

    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    monkeypatch.setenv("FORCE_COLOR", "1")
    with _bar() as show:
        for phase in ("Judging", "Fitting with additions"):
            show(phase, 1, 3)
            show(phase, 2, 3)
    shown = capsys.readouterr().err
    assert "Fitting with additions" in shown
    assert "Judging" not in shown.rpartition("Fitting with additions")[2]
