"""Samples as a WAV file, 44.1 kHz, 16 bits, stereo."""

from __future__ import annotations

import wave
from io import BytesIO

from pegwright.preview.mix import Recording
from pegwright.preview.modal import RATE_HZ


def wav_bytes(recording: Recording) -> bytes:
    """The file of a recording."""
    out = BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(recording.samples.astype("<i2").tobytes())
    return out.getvalue()
