"""`--swing straight` among the remedies of a song whose swing is written out."""

from __future__ import annotations

import json
from pathlib import Path

import mido
import pytest

from commands import WHEEL, Command, runner

SAID = "- Its swing is written out; with pairs of long and short played even "


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


@pytest.fixture
def wheel(tmp_path: Path) -> Path:
    """The bundled wheel without its row of triplet holes."""
    text = WHEEL.read_text(encoding="utf-8")
    start = text.index('[[row]]\nname = "triplet"')
    text = text[:start] + text[text.index("[channel_defaults]") :].replace('"on", "half", "triplet"', '"on", "half"')
    path = tmp_path / "no-triplets.toml"
    path.write_text(text, encoding="utf-8")
    return path


def song(path: Path, long_ticks: int) -> Path:
    """Twelve pairs of a long and a short note, in quarters of 480 ticks."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(112))])
    for key, length in ((72, long_ticks), (74, 480 - long_ticks)) * 12:
        track += [mido.Message("note_on", note=key), mido.Message("note_off", note=key, time=length)]
    mido.MidiFile(ticks_per_beat=480, tracks=[track]).save(path)
    return path


def test_a_song_with_swing_written_out_is_offered_straight_as_it_was_tried(
    pegwright: Command, wheel: Path, tmp_path: Path
) -> None:
    fit = ("fit", song(tmp_path / "swung.mid", 320), "--wheel", wheel)
    text = " ".join(pegwright(*fit, "--remedies").out.split())
    offer = text.partition(SAID)[2]
    assert offer.startswith("all 24 notes sound (now all 24 notes sound, 12 moved, 11 audibly):")
    assert offer.partition(":")[2].split(" The song")[0].endswith("--swing straight")
    assert "Sounding: 24 notes, 24 exact" in pegwright(*fit, "--swing", "straight").out
    data = json.loads(pegwright(*fit, "--remedies", "--json").out)["remedies"]
    assert data["straight"] == {"not_sounding": 0, "moved_audibly": 0, "merged": 0, "moved": 0}
    assert data["now"]["moved"] == 12


def test_where_straightening_helps_nothing_it_is_not_offered(pegwright: Command, wheel: Path, tmp_path: Path) -> None:
    """A wheel with triplet holes, a song without triplets, and a song that is straightened already."""
    swung, plain = song(tmp_path / "swung.mid", 320), song(tmp_path / "plain.mid", 300)
    for options in ((swung, "-w", WHEEL), (plain, "-w", wheel), (swung, "-w", wheel, "--swing", "straight")):
        assert "swing is written out" not in pegwright("fit", *options, "--remedies").out
