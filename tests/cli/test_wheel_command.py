"""`pegwright wheel` as a maker runs it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pegwright.config import load_wheel, parse_wheel
from places import ROOT

SOUND = ROOT / "tests" / "config" / "sound_wheel.toml"


def run(*arguments: str, folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command line in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "pegwright", *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=60,
    )


def test_a_wheel_file_is_told_in_plain_lines(tmp_path: Path) -> None:
    done = run("wheel", str(SOUND), folder=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "\x1b" not in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 100
    for told in (
        "Merrow Sands Pavilion",
        "6 plates of 32 steps; 192 steps or 48 quarter notes a turn",
        "120 quarter notes a minute: 24.00 s a turn",
        "125.01 mm/s at the rim, 7.999 ms/mm, 125.00 ms a step",
        "2,120 on every plate; 12,720 in a set; 25,440 in all, in 2 sets of plates",
        "half hole 32 (at step 32.5) of every plate, 24 channels: 2.51 mm from the trailing edge, needs 4.25 mm",
        "38 Acoustic Snare",
        "drum drive: up to 3 strikes of 5 channels within 50 ms",
    ):
        assert told in " ".join(done.stdout.split())
    (metre,) = [line for line in done.stdout.splitlines() if line.startswith("6/8")]
    assert metre.split() == ["6/8", "12", "36", "2", "2/3", "16"]
    (snare,) = [line for line in done.stdout.splitlines() if line.startswith("21 snare")]
    assert snare.split() == ["21", "snare", "drum", "38/40", "strike", "192", "186", "-", "378", "55", "25"]


def test_another_tempo(tmp_path: Path) -> None:
    done = run("wheel", str(SOUND), "--tempo", "60", folder=tmp_path)
    assert "60 quarter notes a minute: 48.00 s a turn" in done.stdout
    assert "62.50 mm/s at the rim, 15.999 ms/mm, 250.00 ms a step" in done.stdout


def test_json_says_the_same_in_numbers(tmp_path: Path) -> None:
    done = run("wheel", str(SOUND), "--json", folder=tmp_path)
    told = json.loads(done.stdout)
    made = load_wheel(SOUND)
    assert told["wheel_sha256"] == made.sha256
    assert told["holes"] == {"by_plate": [2120] * 6, "in_set": 12720, "in_all_sets": 25440, "lost_in_set": 144}
    assert told["turn_quarters"] == "48"
    assert told["rim"]["rim_mm_per_s"] == pytest.approx(125.009, abs=1e-3)
    assert len(told["channels"]) == 24
    assert told["channels"][20] == {
        "number": 21,
        "name": "snare",
        "kind": "strike",
        "pitches": [],
        "drum_keys": [38, 40],
        "restrike_ms": 55,
        "lead_ms": 25,
        "reader_mm": 0,
        "advance_steps": 0,
        "hold_mm": 0,
        "holes": {"on": 192, "half": 186},
    }
    assert told["lost"][0] | {"edge_mm": 0} == {
        "row": "half",
        "hole": 32,
        "plates": [1, 2, 3, 4, 5, 6],
        "channel_count": 24,
        "lost_count": 144,
        "reason": "trail-edge",
        "edge_mm": 0,
        "needed_mm": 4.25,
    }
    assert told["pitches"][0] == {"pitch": 43, "name": "G2", "channels": ["bass G2"]}
    assert {"key": 81, "name": "Open Triangle", "channels": ["triangle"]} in told["drum_keys"]
    assert [(limit["name"], limit["strikes"], limit["window_ms"]) for limit in told["limits"]] == [
        ("drum drive", 3, 50)
    ]
    (metre,) = [metre for metre in told["metres"] if metre["metre"] == "9/8"]
    assert (metre["steps_per_bar"], metre["places_per_bar"]) == ("18", "54")
    assert (metre["bars_per_plate"], metre["bars_per_turn"]) == ("16/9", "32/3")


def test_the_file_of_this_folder_is_taken(tmp_path: Path) -> None:
    shutil.copy(SOUND, tmp_path / "wheel.toml")
    assert run("wheel", folder=tmp_path).stdout == run("wheel", str(SOUND), folder=tmp_path).stdout


def test_without_a_file_the_way_to_one_is_told(tmp_path: Path) -> None:
    done = run("wheel", folder=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "pegwright: error: no wheel.toml in this folder "
        "(name a wheel file, or write one with `pegwright wheel --new`)\n"
    )


def test_a_starter_is_written_that_loads(tmp_path: Path) -> None:
    done = run("wheel", "--new", folder=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert [file.name for file in tmp_path.iterdir()] == ["wheel.toml"]
    assert load_wheel(tmp_path / "wheel.toml").name == "Practice wheel"
    assert run("wheel", folder=tmp_path).returncode == 0


def test_a_starter_goes_where_it_is_told(tmp_path: Path) -> None:
    done = run("wheel", "--new", "my wheel.toml", folder=tmp_path)
    assert "pegwright wheel 'my wheel.toml'" in done.stdout
    assert (tmp_path / "my wheel.toml").exists()


def test_a_starter_replaces_nothing_unless_told(tmp_path: Path) -> None:
    (tmp_path / "wheel.toml").write_text("mine")
    done = run("wheel", "--new", folder=tmp_path)
    assert done.returncode == 2
    assert "wheel.toml: the file exists" in done.stderr
    assert (tmp_path / "wheel.toml").read_text() == "mine"
    assert run("wheel", "--new", "--overwrite", folder=tmp_path).returncode == 0
    assert parse_wheel((tmp_path / "wheel.toml").read_bytes(), "new").name == "Practice wheel"
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--new", "a/b.toml"], "a/b.toml: the folder"),
        (["--new", "a.toml", "b.toml"], "--new goes without FILE and --json"),
        (["--new", "a.toml", "--json"], "--new goes without FILE and --json"),
        (["x.toml", "--overwrite"], "--overwrite goes with --new only"),
        (["none.toml"], "none.toml: cannot be read: No such file or directory"),
        (["."], ".: cannot be read: Is a directory"),
        (["--tempo", "0"], "Invalid value for '--tempo'"),
        (["--tempo", "nan"], "Invalid value for '--tempo'"),
        (["--tempo", "fast"], "Invalid value for '--tempo'"),
        (["--tmpo", "3"], "--tempo"),
        (["a.toml", "b.toml"], "unexpected extra argument"),
    ],
)
def test_misuse_is_told_in_one_line(arguments: list[str], told: str, tmp_path: Path) -> None:
    done = run("wheel", *arguments, folder=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("pegwright: error: ")
    assert done.stderr.count("\n") == 1
    assert told in done.stderr


def test_a_faulty_file_tells_every_fault(tmp_path: Path) -> None:
    text = SOUND.read_text(encoding="utf-8").replace("plates = 6", "plates = 65").replace("[67]", "[128]")
    (tmp_path / "wheel.toml").write_text(text, encoding="utf-8")
    done = run("wheel", folder=tmp_path)
    assert done.returncode == 2
    lines = done.stderr.splitlines()
    assert lines[0] == "pegwright: error: wheel.toml: 2 faults"
    assert [line.split()[0] for line in lines[1:]] == ["wheel.plates", "channel[1].pitches[1]"]


def test_names_that_the_terminal_cannot_show_do_not_stop_the_work(tmp_path: Path) -> None:
    text = SOUND.read_text(encoding="utf-8").replace("chime G4", "čim 鐘 G4")
    (tmp_path / "wheel.toml").write_text(text, encoding="utf-8")
    plain = run("wheel", folder=tmp_path, PYTHONIOENCODING="latin-1")
    assert (plain.returncode, plain.stderr) == (0, "")
    assert "?im ? G4" in plain.stdout
    assert "čim 鐘 G4" in run("wheel", folder=tmp_path).stdout
