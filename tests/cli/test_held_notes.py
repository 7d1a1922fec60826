"""Held notes as a maker meets them: a wheel file with holding channels, from the fit to the sound."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from commands import SONGS, WHEEL, Command, runner
from listening import RATE_HZ, read_wav
from pegwright.config.wheel_file import load_wheel
from pegwright.read.pinmap import read_pin_map

SONG = SONGS / "the-sands-at-evening.musicxml"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


@pytest.fixture
def organ(tmp_path: Path) -> Path:
    """The Pavilion's wheel with pipes for its bass strings, and bridges two steps long."""
    text = WHEEL.read_text(encoding="utf-8")
    for name in ("G2", "A2", "C3", "D3", "E3", "F3"):
        text = text.replace(f'name = "bass {name}"\n', f'name = "bass {name}"\nkind = "hold"\nhold_mm = 16\n')
    bridge = '[[pin_type]]\nname = "bridge"\nstock = 80\nbridge_mm = 31.25\n\n'
    text = text.replace('[[pin_type]]\nname = "early"', f'{bridge}[[pin_type]]\nname = "early"')
    path = tmp_path / "organ.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_pins_bridges_and_verdict(pegwright: Command, organ: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert pegwright("pin", SONG, "--wheel", organ, "-o", out).code == 0
    document: dict[str, Any] = json.loads((out / "pin-map.json").read_text(encoding="utf-8"))
    rows = [pin for plate in document["plates"] for pin in plate["pins"]]
    assert document["pin_count"] == len(rows) == 153
    assert len({pin["note"] for pin in rows}) == 96
    assert sum(pin["deviation_ms"] is None for pin in rows) == 57  # those that hold a note on
    assert "31 notes held, by 57 further pins" in " ".join((out / "report.txt").read_text(encoding="utf-8").split())
    counted = json.loads((out / "pin-count.json").read_text(encoding="utf-8"))["pin_types"]
    assert [it["pins"] for it in counted] == [90, 59, 0, 4]
    assert read_pin_map(out / "pin-map.json", wheel=load_wheel(organ)).pin_count == 153


def test_a_held_note_sounds_until_it_is_let_go(pegwright: Command, organ: Path, tmp_path: Path) -> None:
    import pretty_midi

    heard = tmp_path / "heard"
    assert "96 strikes" in pegwright("hear", SONG, "--wheel", organ, "-o", heard, "--no-leads").out
    (midi,) = heard.glob("*.mid")
    notes = [note for track in pretty_midi.PrettyMIDI(str(midi)).instruments for note in track.notes]
    basses = sorted((note for note in notes if note.pitch <= 53), key=lambda note: note.start)
    assert len(basses) == 31
    first_s = 2 * 60 / 76  # a half note
    assert basses[0].end - basses[0].start == pytest.approx(first_s, abs=0.010)
    (sound,) = heard.glob("*.wav")
    samples = read_wav(sound.read_bytes()).sum(axis=0)
    pitch_hz = 440 * 2 ** ((basses[0].pitch - 69) / 12)

    def level(begin_s: float) -> float:
        """Of the pitch, over a fifth of a second."""
        window = samples[int(begin_s * RATE_HZ) : int((begin_s + 0.2) * RATE_HZ)]
        turning = np.exp(-2j * np.pi * pitch_hz * np.arange(len(window)) / RATE_HZ)
        return float(abs(np.sum(window * np.hanning(len(window)) * turning)))

    assert level(first_s - 0.25) > 0.8 * level(0.2)  # a string would have died away by then
    assert level(first_s + 0.25) < 0.1 * level(0.2)


@pytest.mark.parametrize(
    ("right", "wrong", "told"),
    [
        ("hold_mm = 16\n", "", "is missing"),
        ("hold_mm = 16\n", "hold_mm = 0\n", "hold_mm"),
        ("restrike_ms = 160", "restrike_ms = 0.9", "below the minimum of a channel that holds, 1 ms"),
        ("bridge_mm = 31.25", "bridge_mm = 600", "not below a plate"),
        ('name = "snare"', 'name = "snare"\nhold_mm = 3', "is for channels that hold"),
        ('name = "plain"', 'name = "plain"\nbridge_mm = 2', "every one is a bridge"),
    ],
)
def test_faults_of_holding_channels_are_told(
    pegwright: Command, organ: Path, right: str, wrong: str, told: str
) -> None:
    text = organ.read_text(encoding="utf-8").replace(right, wrong)
    if "bridge_mm = 2" in wrong:  # and none of the others is plain either
        text = text.replace("offset_mm", "bridge_mm = 3\noffset_mm").replace('collar = "stays"', "")
    organ.write_text(text, encoding="utf-8")
    done = pegwright("wheel", organ)
    assert done.code == 2
    assert told in done.err


def test_a_map_of_held_notes_is_heard_and_shown_as_its_song(pegwright: Command, organ: Path, tmp_path: Path) -> None:
    """Without the score, what holds a note on is known by the channel and the place of its pins alone."""
    import pretty_midi

    pins, again = tmp_path / "pins", tmp_path / "again"
    assert pegwright("pin", SONG, "--wheel", organ, "-o", pins, "--no-remedies").code == 0
    assert pegwright("pin", pins, "--wheel", organ, "-o", again).code == 0
    sounds = {}
    for name, source in (("song", SONG), ("map", pins)):
        file = tmp_path / f"{name}.mid"
        assert pegwright("hear", source, "--wheel", organ, "-o", file, "--even").code == 0
        tracks = pretty_midi.PrettyMIDI(str(file)).instruments
        sounds[name] = sorted((track.name, note.start, note.end) for track in tracks for note in track.notes)
    assert len(sounds["map"]) == len(sounds["song"]) == 96
    for heard, wanted in zip(sounds["map"], sounds["song"], strict=True):
        assert heard[0] == wanted[0]
        assert heard[1:] == pytest.approx(wanted[1:], abs=0.001)
    held = []
    for folder in (pins, again):
        text = (folder / "report.html").read_text(encoding="utf-8")
        data = json.loads(text.partition('<script type="application/json" id="data">')[2].partition("</script>")[0])
        notes, further = data["notes"], data["held"]
        begun = [(notes["channel"][note], notes["at"][note]) for note in further["note"]]
        held.append(sorted(zip(begun, further["at"], further["row"], strict=True)))
    assert len(held[0]) == 57
    assert held[0] == held[1]
