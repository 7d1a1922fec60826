"""SoundFonts through the program that plays them: a stand-in for it, and the program itself where it is installed."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import numpy as np
import pytest

from listening import RATE_HZ, SOUNDFONTS, cents, loudest_hz, needs_soundfont, onsets_s, read_wav
from pegwright.columns import frozen_floats, frozen_ints
from pegwright.errors import UsageError
from pegwright.preview.midi_out import midi_bytes
from pegwright.preview.performance import Performance, Sound
from pegwright.preview.soundfont import PROGRAM, record_with
from pegwright.preview.wav import wav_bytes

PERFORMANCE = Performance(
    "Air",
    (Sound("chime", 72, False),),
    frozen_ints([0, 0, 0]),
    frozen_floats([0.5, 1.0, 1.75]),
    frozen_ints([80, 90, 100]),
    frozen_floats([0.0] * 3),
    500_000,
    24,
)
STAND_IN = """#!{python}
import sys, wave
{first}
out = sys.argv[sys.argv.index("-F") + 1]
assert open(sys.argv[-1], "rb").read(4) == b"MThd" and sys.argv[-2].endswith("x.sf2"), sys.argv
with wave.open(out, "wb") as file:
    file.setnchannels(2)
    file.setsampwidth(2)
    file.setframerate(int(sys.argv[sys.argv.index("-r") + 1]))
    file.writeframes(b"".join((b"\\x10\\x70" if n // 50 % 2 else b"\\x10\\x90") * 2 for n in range(9000)))
"""


def stand_in(folder: Path, monkeypatch: pytest.MonkeyPatch, first: str = "") -> Path:
    """Put a program of that name first on the path; the SoundFont to play with."""
    program = folder / PROGRAM
    program.write_text(STAND_IN.format(python=sys.executable, first=first), encoding="utf-8")
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", str(folder), prepend=os.pathsep)
    font = folder / "x.sf2"
    font.write_bytes(b"RIFF\x04\0\0\0sfbk")
    return font


def test_what_the_program_plays_is_brought_to_level(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    recording = record_with(stand_in(tmp_path, monkeypatch), midi_bytes(PERFORMANCE))
    assert recording.seconds == pytest.approx(9000 / 44_100)
    assert recording.peak_dbtp == pytest.approx(-1.1)


@pytest.mark.parametrize(
    ("first", "said"),
    [
        ('sys.exit("no such preset")', "fluidsynth failed: no such preset"),
        ("sys.exit(3)", "it gave no reason"),
        ("sys.exit(0)", "it gave no reason"),
        ("open(sys.argv[sys.argv.index('-F') + 1], 'w').write('no wave'); sys.exit(0)", "fluidsynth failed"),
    ],
)
def test_its_failures_are_told_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, first: str, said: str
) -> None:
    font = stand_in(tmp_path, monkeypatch, first)
    with pytest.raises(UsageError) as caught:
        record_with(font, midi_bytes(PERFORMANCE))
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_without_the_program_the_way_out_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(UsageError, match="needs the program fluidsynth, which is not installed"):
        record_with(tmp_path / "x.sf2", b"")


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (None, "no such file"),
        (b"", "is not a SoundFont file"),
        (b"RIFF1234WAVE", "is not a SoundFont file"),
        (b"not a font at all", "is not a SoundFont file"),
    ],
)
def test_what_is_no_soundfont_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: bytes | None, told: str
) -> None:
    stand_in(tmp_path, monkeypatch)
    font = tmp_path / "y.sf2"
    if content is not None:
        font.write_bytes(content)
    with pytest.raises(UsageError, match=told):
        record_with(font, midi_bytes(PERFORMANCE))


@needs_soundfont
def test_the_program_itself_plays_the_strikes_when_they_are_due() -> None:
    recording = record_with(SOUNDFONTS[0], midi_bytes(PERFORMANCE))
    samples = read_wav(wav_bytes(recording))
    onsets = onsets_s(samples)
    for seconds in PERFORMANCE.seconds:
        assert np.abs(onsets - seconds).min() < 0.012  # it goes by steps of 64 samples, and fonts have soft attacks
    assert onsets[0] > 0.45, "nothing sounds before the first strike"
    second = samples[:, int(1.1 * RATE_HZ) : int(1.6 * RATE_HZ)].sum(axis=0)
    assert abs(cents(loudest_hz(second, 400, 700), 440 * 2 ** (3 / 12))) < 20  # key 72, C5, in equal temperament
    assert recording.peak_dbtp == pytest.approx(-1.1)
