"""Sound from a SoundFont, made by the program `fluidsynth` where it is installed."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import wave
from pathlib import Path

import numpy as np

from pegwright.errors import UsageError
from pegwright.plain_file import plain_bytes
from pegwright.preview.mix import Recording, levelled
from pegwright.preview.modal import RATE_HZ

PROGRAM = "fluidsynth"
_GAIN = "0.3"  # low enough not to clip; the level is set afterwards
_SECONDS = 600


def record_with(soundfont: Path, midi: bytes) -> Recording:
    """Play a MIDI file with a SoundFont.

    Args:
        soundfont: the .sf2 or .sf3 file.
        midi: the MIDI file.

    Raises:
        UsageError: there is no such file or program, or the program fails.
    """
    program = shutil.which(PROGRAM)
    if program is None:
        hint = "install FluidSynth, or leave --soundfont out to hear pegwright's own sounds"
        raise UsageError(f"needs the program {PROGRAM}, which is not installed", where="--soundfont", hint=hint)
    if not soundfont.exists():
        raise UsageError("no such file", where=str(soundfont), hint="name an .sf2 or .sf3 file")
    if not _is_soundfont(soundfont):
        raise UsageError("is not a SoundFont file", where=str(soundfont), hint="name an .sf2 or .sf3 file")
    with tempfile.TemporaryDirectory(prefix="pegwright-") as folder:
        source, output = Path(folder) / "pins.mid", Path(folder) / "pins.wav"
        source.write_bytes(midi)
        command = [program, "-ni", "-q", "-g", _GAIN, "-r", str(RATE_HZ), "-F", str(output)]
        try:
            process = subprocess.run(  # noqa: S603  # a program of the user's own, without a shell
                [*command, str(soundfont.absolute()), str(source)], capture_output=True, timeout=_SECONDS, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise _failed(soundfont, str(error)) from error
        if process.returncode or not output.is_file():
            raise _failed(soundfont, process.stderr.decode(errors="replace"))
        try:
            return levelled(_samples(output))
        except (wave.Error, EOFError) as error:
            raise _failed(soundfont, str(error)) from error


def _is_soundfont(path: Path) -> bool:
    """Whether a file begins as a SoundFont does. Source: SoundFont 2.04, RIFF form `sfbk` (from memory)."""
    try:
        head = plain_bytes(path, 12)
    except (OSError, ValueError):
        return False
    return head[:4] == b"RIFF" and head[8:] == b"sfbk"


def _samples(path: Path) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    with wave.open(str(path), "rb") as file:
        frames = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2")
        return frames.reshape(-1, file.getnchannels())[:, [0, -1]].T / 32768.0


def _failed(soundfont: Path, reason: str) -> UsageError:
    lines = " ".join(reason.split())[-200:] or "it gave no reason"
    return UsageError(f"{PROGRAM} failed: {lines}", where=str(soundfont), hint="try another SoundFont, or none")
