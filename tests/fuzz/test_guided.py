"""The fuzzer led by coverage runs outside these tests; what it calls a failure is held here."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from commands import SONGS
from fuzz import run
from fuzz.guided import LONGEST_BYTES, MUTATORS, SEEDS, fault_of, fill, judge_of
from pegwright.errors import InputError
from pegwright.musicxml.reader import read_musicxml
from pegwright.read.midi.reader import read_midi

READERS = {"midi": read_midi, "musicxml": read_musicxml}
SONG = (SONGS / "shrimpers-jig.mid").read_bytes()


def contradicting(data: bytes, name: str) -> tuple[Any, Any]:
    score, findings = read_midi(data, name)
    return replace(score, resolution=0), findings


def refusing(data: bytes, name: str) -> tuple[Any, Any]:
    raise InputError(f"the file has {len(data)} bytes", where=name)


def failing(data: bytes, name: str) -> tuple[Any, Any]:
    raise KeyError(data[:4], name)


def test_a_score_that_holds_and_a_refusal_are_no_failures() -> None:
    assert fault_of(read_midi, SONG) == fault_of(refusing, SONG) == ""


def test_a_broken_score_and_any_other_error_are_failures_with_their_place() -> None:
    assert fault_of(contradicting, SONG).startswith("a score that contradicts itself: song: resolution is 0")
    assert fault_of(failing, SONG).startswith("KeyError at test_guided.py:")


def test_the_first_input_of_each_failure_is_kept_as_a_case(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(run, "KEPT", tmp_path)
    judge = judge_of("midi", failing)
    judge(SONG)
    judge(SONG[:-1])
    ((kind, folder),) = run.kept_cases()
    assert run.kept_case(kind, folder) == (
        SONG,
        ["fit", "song.mid", "-w", str(SONGS / "merrow-sands.toml"), "--json"],
    )
    assert f"kept as {folder.name}" in capsys.readouterr().out


@pytest.mark.parametrize("kind", MUTATORS)
def test_a_run_begins_with_short_songs_and_inputs_at_random_which_the_readers_take(tmp_path: Path, kind: str) -> None:
    fill(tmp_path, kind)
    inputs = [path.read_bytes() for path in sorted(tmp_path.iterdir())]
    assert len(inputs) > SEEDS / 2
    assert any((tmp_path / path.name).exists() for path in SONGS.glob(f"*.{kind.replace('midi', 'mid')}"))
    assert max(map(len, inputs)) <= LONGEST_BYTES
    assert [fault for data in inputs if (fault := fault_of(READERS[kind], data))] == []


@pytest.mark.parametrize(
    ("kind", "folder"), [pytest.param(*case, id=case[1].name) for case in run.kept_cases() if case[0] in READERS]
)
def test_what_a_reader_once_failed_on_it_takes_or_refuses(kind: str, folder: Path) -> None:
    assert fault_of(READERS[kind], run.kept_case(kind, folder)[0]) == ""
