"""What is played: which sounds, when and how loud, before it becomes a MIDI file or samples."""

from __future__ import annotations

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen


@frozen()
class Sound:
    """One thing that can be struck.

    Args:
        name: for the reader of a MIDI file.
        pitch_midi: its pitch, or its General MIDI percussion key.
        percussion: which of the two.
        side: its place, from -1 (left) to 1 (right).
        alone: whether it stays on its side, to be distinguished from another performance on the other one.
        holds: whether it sounds for as long as it is held, and is not struck.
    """

    name: str
    pitch_midi: int
    percussion: bool
    side: float = 0.0
    alone: bool = False
    holds: bool = False


@frozen(eq=False)
class Performance:
    """Strikes of sounds, by time; columns of shape (s,).

    Args:
        title: of the song.
        sounds: in the order of the wheel's channels.
        sound: index into `sounds`.
        seconds: when each sounds, from 0.
        velocity: 1..127.
        lasts_s: how long sounds that hold are held, 0 for others.
        us_per_quarter: the tempo.
        resolution: ticks per quarter note at which the wheel's holes are at whole ticks.
        beats, beat_type: the song's first metre; 0 where it is not known.
    """

    title: str
    sounds: tuple[Sound, ...]
    sound: Ints
    seconds: Floats
    velocity: Ints
    lasts_s: Floats
    us_per_quarter: int
    resolution: int
    beats: int = 4
    beat_type: int = 4

    @property
    def strike_count(self) -> int:
        """Strikes in all."""
        return len(self.sound)
