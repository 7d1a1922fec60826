"""`hear`, as a user meets it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import mido
import numpy as np
import pytest

from commands import SONGS, WHEEL, Command, runner
from listening import SOUNDFONTS, needs_soundfont, onsets_s, read_wav
from pegwright.cli.hear import COMPARE_WORDS
from pegwright.preview.perform import Compare

MARCH = SONGS / "lamplighters-march.mid"
TANGO = SONGS / "turnstile-tango.mid"
SEAMS = "[[seam]]\nafter_plate = 1\nerror_mm = 0.5\n\n[[seam]]\nafter_plate = 6\nerror_mm = -0.5\n"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def notes(path: Path) -> int:
    return sum(message.type == "note_on" and message.velocity > 0 for message in mido.MidiFile(path))


def test_a_song_is_heard_as_wav_and_midi_beside_you(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = pegwright("hear", TANGO, "--wheel", WHEEL)
    assert ran.code == 0, ran
    assert sorted(path.name for path in tmp_path.iterdir()) == ["turnstile-tango-pins.mid", "turnstile-tango-pins.wav"]
    assert notes(tmp_path / "turnstile-tango-pins.mid") == 275
    seconds = read_wav((tmp_path / "turnstile-tango-pins.wav").read_bytes()).shape[1] / 44_100
    assert 27 < seconds < 34
    assert "Turnstile Tango: 275 strikes, 1 turn of 27.7 s at 104 quarter notes a minute." in ran.out
    assert "Leads of 6 to 42 ms are heard; --no-leads takes them out." in ran.out
    assert f"Sound: {seconds:.1f} s, 44.1 kHz, 16 bits, true peak -1.1 dBTP." in ran.out
    assert "Written: turnstile-tango-pins.wav, turnstile-tango-pins.mid" in ran.out


@pytest.mark.parametrize("name", ["x.wav", "x.WAV", "x.mid", "x.midi"])
def test_a_file_alone_is_of_the_kind_that_its_name_says(pegwright: Command, tmp_path: Path, name: str) -> None:
    ran = pegwright("hear", MARCH, "--wheel", WHEEL, "-o", tmp_path / name)
    assert ran.code == 0, ran
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_bytes()[:4] == (b"RIFF" if "w" in name.lower() else b"MThd")
    assert ("true peak" in ran.out) == ("w" in name.lower())
    assert (
        "203 of 204 notes sound; 1 left out: 1 lost at a seam. Those left out are not heard; `pegwright fit` says why."
        in " ".join(ran.out.split())
    )


def test_both_files_go_into_a_folder_old_or_new(pegwright: Command, tmp_path: Path) -> None:
    for folder in (tmp_path, tmp_path / "new"):
        assert pegwright("hear", MARCH, "--wheel", WHEEL, "-o", folder, "--bars", "1-2").code == 0
        assert {path.name for path in folder.glob("*.*")} == {
            "lamplighters-march-pins.wav",
            "lamplighters-march-pins.mid",
        }


def test_nothing_is_overwritten_unasked_not_even_half(pegwright: Command, tmp_path: Path) -> None:
    standing = tmp_path / "lamplighters-march-pins.mid"
    standing.write_bytes(b"mine")
    bars = ("--bars", "1-2")
    said = pegwright("hear", MARCH, "--wheel", WHEEL, "-o", tmp_path, *bars).refused(2)
    assert "lamplighters-march-pins.mid: the file exists" in said
    assert "--overwrite" in said
    assert [path.name for path in tmp_path.iterdir()] == [standing.name]
    assert standing.read_bytes() == b"mine"
    (tmp_path / "other.txt").write_bytes(b"keep")
    assert pegwright("hear", MARCH, "--wheel", WHEEL, "-o", tmp_path, *bars, "--overwrite").code == 0
    assert standing.read_bytes()[:4] == b"MThd"
    assert (tmp_path / "other.txt").read_bytes() == b"keep"


def test_the_song_itself_is_never_written_over(pegwright: Command, tmp_path: Path) -> None:
    song = tmp_path / "march.mid"
    song.write_bytes(MARCH.read_bytes())
    said = pegwright("hear", song, "--wheel", WHEEL, "-o", tmp_path / "." / "march.mid", "--overwrite").refused(2)
    assert "is the song itself" in said
    assert song.read_bytes() == MARCH.read_bytes()


def test_the_ways_of_comparing_are_those_that_are_played() -> None:
    assert list(COMPARE_WORDS) == [way.value for way in Compare]


@pytest.mark.parametrize("way", COMPARE_WORDS)
def test_the_score_can_be_heard_with_the_pins(pegwright: Command, tmp_path: Path, way: str) -> None:
    ran = pegwright("hear", MARCH, "--wheel", WHEEL, "-o", tmp_path / "x.mid", "--compare", way)
    assert COMPARE_WORDS[way] in ran.out
    assert "Those left out are heard as written" in ran.out
    heard = notes(tmp_path / "x.mid")
    assert notes(MARCH) + notes(MARCH) - 1 == heard


def test_only_what_was_changed_can_be_heard(pegwright: Command, tmp_path: Path) -> None:
    assert pegwright("hear", MARCH, "--wheel", WHEEL, "-o", tmp_path / "x.mid", "--only-changed").code == 0
    assert notes(tmp_path / "x.mid") == 2  # songs/README.md: one moved, one lost at the seam
    ran = pegwright("hear", TANGO, "--wheel", WHEEL, "-o", tmp_path / "y.mid", "--only-changed")
    assert ran.code == 0
    assert ran.out == "Nothing to hear: no note was moved or left out. Nothing was written.\n"
    assert not (tmp_path / "y.mid").exists()


def test_turns_and_seams_are_told_and_heard(pegwright: Command, tmp_path: Path) -> None:
    seams = tmp_path / "seams.toml"
    seams.write_text(SEAMS, encoding="utf-8")
    plain, limp = (tmp_path / name for name in ("plain.mid", "limp.mid"))
    assert pegwright("hear", TANGO, "--wheel", WHEEL, "-o", plain, "--turns", "2").code == 0
    ran = pegwright("hear", TANGO, "--wheel", WHEEL, "-o", limp, "--turns", "2", "--seams", seams)
    # 0.5 mm of 3000.2 mm in a turn of 27.69 s is 4.6 ms.
    assert "Seams: against plate 1, plates come up to 4.6 ms late and 0.0 ms early." in ran.out
    assert "550 strikes, 2 turns" in ran.out
    assert notes(plain) == notes(limp) == 550
    assert plain.read_bytes() != limp.read_bytes()


@pytest.mark.parametrize("compare", [(), ("--compare", "beside")])
def test_notes_of_turns_that_are_not_played_are_counted(
    pegwright: Command, tmp_path: Path, compare: tuple[str, ...]
) -> None:
    song, out = SONGS / "the-committee-regrets.musicxml", tmp_path / "first.mid"
    whole = " ".join(pegwright("hear", song, "--wheel", WHEEL, "-o", tmp_path / "whole.mid", *compare).out.split())
    first = " ".join(pegwright("hear", song, "--wheel", WHEEL, "-o", out, "--turns", "1", *compare).out.split())
    sounding, sharing = map(int, re.findall(r"(\d+) of 247 notes sound \((\d+) shares a pin\)", first)[0])
    found = re.search(r"Of those that sound, (\d+) notes are in turn 2, which the pins do not play here(.)", first)
    assert found, first
    by_pins = sounding - sharing - int(found[1])
    assert f": {by_pins + (247 if compare else 0)} strikes, 1 turn of" in first
    assert compare or notes(out) == by_pins
    assert ("; the score is heard through all turns." in first) == bool(compare)
    assert "do not play" not in whole


@needs_soundfont
def test_a_soundfont_plays_the_strikes_of_the_midi_file(pegwright: Command, tmp_path: Path) -> None:
    """The times are those that mido reads in the MIDI file of the same command."""
    ran = pegwright("hear", MARCH, "--wheel", WHEEL, "-o", tmp_path, "--bars", "1-2", "--soundfont", SOUNDFONTS[0])
    assert ran.code == 0, ran
    onsets = onsets_s(read_wav((tmp_path / "lamplighters-march-pins.wav").read_bytes()))
    due: list[float] = []
    now = 0.0
    for message in mido.MidiFile(tmp_path / "lamplighters-march-pins.mid"):  # in seconds
        now += message.time
        if message.type == "note_on" and message.velocity and (not due or now - due[-1] > 0.05):
            due.append(now)
    assert 10 < len(due) <= len(onsets) + 2
    assert len(onsets) < 1.5 * len(due), "or something would always be near"
    away = [np.abs(onsets - at).min() for at in due]
    assert np.median(away) < 0.008, np.round(away, 3)  # a string under a bell is hard to tell


def test_leads_can_be_taken_out_and_strikes_evened(pegwright: Command, tmp_path: Path) -> None:
    ran = pegwright("hear", TANGO, "--wheel", WHEEL, "-o", tmp_path / "x.mid", "--no-leads", "--even")
    assert "Leads" not in ran.out
    loud = {it.velocity for it in mido.MidiFile(tmp_path / "x.mid") if it.type == "note_on" and it.velocity}
    assert loud == {80}


def test_a_song_without_a_note_that_fits_is_nothing_to_hear(pegwright: Command, tmp_path: Path) -> None:
    ran = pegwright("hear", MARCH, "--wheel", WHEEL, "-o", tmp_path / "x.wav", "--bars", "1-2", "--transpose", "60",
                    "--drum", "36=1", "--drum", "38=1", "--drum", "76=1", "--drum", "42=1", "--drum", "81=1",
                    "--drum", "54=1")  # fmt: skip
    assert ran.code == 0, ran
    assert ran.out.startswith("Nothing to hear: no note has a pin.")
    assert list(tmp_path.iterdir()) == []


REFUSED = [
    (("--turns", "0"), "1"),
    (("--turns", "1000"), "above the maximum, 600 s"),
    (("--compare", "between"), "beside"),
    (("--seams", "nowhere.toml"), "nowhere.toml: cannot be read"),
    (("--soundfont", str(MARCH)), "not a SoundFont"),
    (("-o", "x.mp3"), "neither in .wav nor in .mid"),
    (("-o", "nowhere/x.wav"), "nowhere"),
    (("-o", "x.mid", "--soundfont", "x.sf2"), "goes with a WAV only"),
    (("--bars", "40-41"), "12"),
]


@pytest.mark.parametrize(("options", "said"), REFUSED, ids=[" ".join(options)[:40] for options, _ in REFUSED])
def test_what_cannot_be_done_is_one_line_and_leaves_nothing(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...], said: str
) -> None:
    fake = tmp_path / "bin" / "fluidsynth"
    fake.parent.mkdir()
    fake.write_text("#!/bin/sh\nexit 1\n", encoding="utf-8")
    fake.chmod(0o755)
    monkeypatch.setenv("PATH", str(fake.parent))
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    assert said in pegwright("hear", MARCH, "--wheel", WHEEL, *options).refused(2)
    assert list(here.iterdir()) == []


def test_without_the_program_a_soundfont_is_refused_with_a_way_out(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    said = pegwright("hear", MARCH, "--wheel", WHEEL, "-o", tmp_path / "x.wav", "--soundfont", "x.sf2").refused(2)
    assert "install FluidSynth" in said


def test_a_song_that_is_none_is_refused_as_unreadable(pegwright: Command, tmp_path: Path) -> None:
    song = tmp_path / "noise.mid"
    song.write_bytes(b"MThd" + bytes(range(256)))
    pegwright("hear", song, "--wheel", WHEEL, "-o", tmp_path / "x.wav").refused(1)


@pytest.mark.parametrize(
    "title", ["../../x", "a\x1b[31m\x07b", "\u202egnol=1", "\U0001f469\u200d\U0001f4bb", "x" * 5000]
)
def test_hostile_titles_and_names_are_harmless(pegwright: Command, tmp_path: Path, title: str) -> None:
    song = mido.MidiFile(MARCH, charset="utf-8")
    song.tracks[0].insert(0, mido.MetaMessage("track_name", name=title))
    song.charset = "utf-8"
    path = tmp_path / "a b$(x);'.mid"
    song.save(path)
    out = tmp_path / "out"
    ran = pegwright("hear", path, "--wheel", WHEEL, "-o", out, "--bars", "1-2")
    assert ran.code == 0, ran
    assert sorted(made.suffix for made in out.iterdir()) == [".mid", ".wav"]
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f\u202a-\u202e]", ran.out)
    assert {made.name for made in tmp_path.iterdir()} == {path.name, "out"}


def test_same_input_gives_the_same_bytes_in_two_processes(tmp_path: Path) -> None:
    made = []
    for number in range(2):
        out = tmp_path / f"run{number}"
        command = [sys.executable, "-m", "pegwright", "hear", str(MARCH), "--wheel", str(WHEEL), "-o", str(out)]
        environment = {**os.environ, "PYTHONHASHSEED": str(number)}
        subprocess.run(command, check=True, capture_output=True, env=environment)
        made.append({path.name: path.read_bytes() for path in out.iterdir()})
    assert made[0] == made[1]


def test_help_has_examples(pegwright: Command) -> None:
    ran = pegwright("hear", "--help")
    assert re.search(r"Examples:\n +pegwright hear", ran.out)
    assert max(map(len, ran.out.splitlines())) <= 100
