"""Names of the General MIDI percussion keys."""

from __future__ import annotations

FIRST_KEY = 35
_NAMES = (
    *("Acoustic Bass Drum", "Bass Drum 1", "Side Stick", "Acoustic Snare", "Hand Clap", "Electric Snare"),
    *("Low Floor Tom", "Closed Hi-Hat", "High Floor Tom", "Pedal Hi-Hat", "Low Tom", "Open Hi-Hat", "Low-Mid Tom"),
    *("Hi-Mid Tom", "Crash Cymbal 1", "High Tom", "Ride Cymbal 1", "Chinese Cymbal", "Ride Bell", "Tambourine"),
    *("Splash Cymbal", "Cowbell", "Crash Cymbal 2", "Vibraslap", "Ride Cymbal 2", "Hi Bongo", "Low Bongo"),
    *("Mute Hi Conga", "Open Hi Conga", "Low Conga", "High Timbale", "Low Timbale", "High Agogo", "Low Agogo"),
    *("Cabasa", "Maracas", "Short Whistle", "Long Whistle", "Short Guiro", "Long Guiro", "Claves", "Hi Wood Block"),
    *("Low Wood Block", "Mute Cuica", "Open Cuica", "Mute Triangle", "Open Triangle"),
)


def drum_key_name(key: int) -> str:
    """Name of a drum key; `key 30` where the standard names none.

    Source: General MIDI System Level 1, MMA RP-003 (1991), percussion map, keys 35 to 81 (from memory; the tests
    compare all with pretty_midi's table).
    """
    place = key - FIRST_KEY
    return _NAMES[place] if 0 <= place < len(_NAMES) else f"key {key}"
