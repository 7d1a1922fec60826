"""The General MIDI key of an unpitched note that names no key itself."""

from __future__ import annotations

import re
from functools import lru_cache

SNARE = 38

# General MIDI System Level 1 percussion map (MMA RP-003, from memory), with everyday names beside the official ones.
# The first phrase found in a name decides, so the particular stands before the general.
_KEY_BY_PHRASE: tuple[tuple[str, int], ...] = (
    ("acoustic bass drum", 35), ("side stick", 37), ("sidestick", 37), ("cross stick", 37), ("rim", 37),
    ("hand clap", 39), ("clap", 39), ("electric snare", 40), ("snare", 38),
    ("low floor tom", 41), ("high floor tom", 43), ("floor tom", 41),
    ("pedal hi hat", 44), ("foot hi hat", 44), ("hi hat pedal", 44), ("hi hat foot", 44),
    ("open hi hat", 46), ("hi hat open", 46), ("hi hat half open", 46), ("hi hat", 42),
    ("low mid tom", 47), ("hi mid tom", 48), ("high mid tom", 48), ("mid tom", 47), ("middle tom", 47),
    ("low tom", 45), ("high tom", 50), ("hi tom", 50), ("tom 1", 50), ("tom 2", 47), ("tom 3", 45), ("tom 4", 43),
    ("tom", 47), ("ride bell", 53), ("ride cymbal 2", 59), ("ride", 51),
    ("chinese", 52), ("china", 52), ("splash", 55), ("crash cymbal 2", 57), ("crash 2", 57), ("crash", 49),
    ("cymbal", 49), ("tambourine", 54), ("cowbell", 56), ("cow bell", 56), ("vibraslap", 58),
    ("low bongo", 61), ("bongo", 60), ("mute hi conga", 62), ("mute high conga", 62), ("low conga", 64), ("conga", 63),
    ("low timbale", 66), ("timbale", 65), ("low agogo", 68), ("agogo", 67), ("cabasa", 69), ("maraca", 70),
    ("shaker", 70), ("long whistle", 72), ("whistle", 71), ("long guiro", 74), ("guiro", 73), ("clave", 75),
    ("low wood block", 77), ("low woodblock", 77), ("wood block", 76), ("woodblock", 76), ("temple block", 76),
    ("open cuica", 79), ("cuica", 78), ("mute triangle", 80), ("triangle", 81),
    ("bass drum", 36), ("kick", 36), ("drum", 38),
)  # fmt: skip

# Drum set on a five-line staff as most drum parts are written: common practice, no source.
_KEY_BY_PLACE = {
    "D4": 44, "E4": 35, "F4": 36, "G4": 43, "A4": 41, "B4": 45, "C5": 38, "D5": 47, "E5": 48,
    "F5": 51, "G5": 42, "A5": 49, "B5": 57, "C6": 52,
}  # fmt: skip


@lru_cache(maxsize=1024)
def key_of_name(name: str) -> int | None:
    """The General MIDI percussion key that an instrument's name stands for, or None."""
    words = re.sub(r"[^a-z0-9]+", " ", name.lower()).replace("hihat", "hi hat")
    return next((key for phrase, key in _KEY_BY_PHRASE if re.search(rf"\b{phrase}", words)), None)


def key_of_place(step: str, octave: str) -> int:
    """The key usual at a place on the staff, as if under a treble clef; the snare drum anywhere else."""
    return _KEY_BY_PLACE.get(step + octave, SNARE)
