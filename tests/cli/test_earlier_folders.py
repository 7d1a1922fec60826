"""Folders that earlier versions wrote, each command that takes one: the pins are those of the songs as they were typed.

`tests/data/folders` has maps and plates of folders that `pin` and `set` wrote when a pin map had version 1, 2 and 3;
a show had its songs in `songs` then.
"""

from __future__ import annotations

import json
import shutil
from collections import Counter
from pathlib import Path

import mido
import pytest

from commands import Command, runner
from places import ROOT

FOLDERS = ROOT / "tests" / "data" / "folders"
WHEEL = FOLDERS / "boathouse.toml"
EBB, ROUND = FOLDERS / "version-1" / "ebb", FOLDERS / "version-2" / "two-turns"
SHOW = FOLDERS / "version-3" / "evening"
FLOW = SHOW / "songs" / "02-flow"
# The songs as they were typed: sixteenths from the start, MIDI pitch or drum key.
NOTES = {
    "ebb": [(0, 72), (2, 76), (4, 72), (6, 76), (8, 72), (9, 76), (12, 72), (14, 76), (0, 36), (8, 36)],
    "flow": [(0, 72), (2, 76), (5, 72), (6, 76), (8, 76), (10, 72), (13, 76), (14, 72), (4, 36), (12, 36)],
    "two-turns": [(0, 72), (4, 76), (8, 72), (16, 76), (20, 72), (24, 76), (0, 36), (16, 36)],
}
STAY = len(set(NOTES["ebb"]) & set(NOTES["flow"]))
SIXTEENTH_S = 60 / 100 / 4  # at 100 quarter notes a minute
EVERY = [(EBB, "ebb"), (ROUND, "two-turns"), (SHOW / "songs" / "01-ebb", "ebb"), (FLOW, "flow")]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Command:
    plain = runner(capsys)
    return lambda *arguments: plain(*arguments, "--wheel", WHEEL)


def struck(path: Path) -> Counter[tuple[int, int]]:
    """Sixteenths and pitches of what sounds in a MIDI file; read by mido."""
    now_s, found = 0.0, []
    for message in mido.MidiFile(path):
        now_s += message.time
        if message.type == "note_on" and message.velocity:
            found.append((round(now_s / SIXTEENTH_S), message.note))
    return Counter(found)


@pytest.mark.parametrize(("folder", "song"), EVERY, ids=lambda value: getattr(value, "name", value))
def test_it_is_checked_found_in_heard_and_pinned_again(run: Command, tmp_path: Path, folder: Path, song: str) -> None:
    checked = json.loads(run("check", folder, "--json").out)
    assert (checked["faults"], checked["edits"], checked["findings"]) == ([], [], [])
    assert sum(each["pins"] for each in checked["maps"]) == len(NOTES[song])
    found = json.loads(run("find", folder, "--bar", "1", "--beat", "1", "--json").out)["pins"]
    here = [(pin["note"], pin["channel_pitch_midi"]) for pin in found if pin["when"] == "here"]
    assert len(here) == sum(at == 0 for at, _ in NOTES[song])
    heard = run("hear", folder, "-o", tmp_path / "heard.mid")
    assert (heard.code, heard.err) == (0, "")
    assert struck(tmp_path / "heard.mid") == Counter(NOTES[song])
    again = run("pin", folder, "-o", tmp_path / "again")
    assert (again.code, again.err) == (0, "")
    for path in folder.rglob("pin-map.json"):
        assert (tmp_path / "again" / path.relative_to(folder)).read_bytes() == path.read_bytes()


def test_a_swap_and_a_show_go_from_it(run: Command, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plain = runner(capsys)
    moves = f"Pull {10 - STAY}, set {10 - STAY}, {STAY} stay: 10 pins before, 10 after"
    assert moves in run("swap", EBB, FLOW).out
    assert moves in run("swap", EBB / "pin-map.json", FLOW / "pin-map.json").out
    shutil.copytree(FOLDERS, tmp_path / "folders")
    song = mido.MidiFile(ticks_per_beat=16)
    song.tracks.append(mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=600_000)]))
    song.tracks.append(mido.MidiTrack(_messages(NOTES["flow"])))
    song.save(tmp_path / "flow.mid")
    for carried in ("version-1/ebb", "version-3/evening/songs/01-ebb/pin-map.json"):
        text = 'title = "E"\nwheel = "folders/boathouse.toml"\n'
        text += f'plates.carry = ["folders/{carried}", "folders/{carried}"]\n'
        text += '[[song]]\nscore = "flow.mid"\nstart = 1\n'
        (tmp_path / "evening.toml").write_text(text, encoding="utf-8")
        planned = json.loads(plain("set", tmp_path / "evening.toml", "--json").out)
        assert [(each["pull"], each["set"], each["stay"]) for each in planned["pinnings"]] == [(7, 7, STAY)]


def _messages(notes: list[tuple[int, int]]) -> list[mido.Message]:
    played = [(4 * at + off, p, off) for at, p in notes for off in (0, 3)]
    made, last = [], 0
    for ticks, pitch, off in sorted(played):
        kind = "note_off" if off else "note_on"
        made.append(mido.Message(kind, channel=9 if pitch == 36 else 0, note=pitch, time=ticks - last))
        last = ticks
    return made


def test_a_folder_of_several_songs_is_refused_with_those_to_name(run: Command, tmp_path: Path) -> None:
    more: tuple[str, ...]
    hint = "(name the folder of one song in it: {0}01-ebb or {0}02-flow)"
    for folder, within in ((SHOW, "songs/"), (SHOW / "songs", "")):
        for more in (("check",), ("find", "--bar", "1")):
            assert hint.format(within) in run(*more, folder).refused(1)
    for more in (("hear",), ("pin", "-o", str(tmp_path / "new"))):
        assert hint.format("songs/") in run(*more, SHOW).refused(1)
    assert not list(tmp_path.iterdir())
