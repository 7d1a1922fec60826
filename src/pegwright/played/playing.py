"""A performance as the search for its beat sees it: when each note was played, on the clock of a guide."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.beats import BeatTrack, first_line
from pegwright.played.chords import voices
from pegwright.played.likelihood import Onsets
from pegwright.played.track import Track
from pegwright.score import Score


@frozen(eq=False)
class Playing:
    """Notes in order of time, in the time of a guide track; columns have shape (n,).

    Args:
        guide: musical time as first assumed.
        base: the whole quarter of the guide from which lines are counted.
        quarter_s: seconds a quarter on average, by the guide.
        seconds: when each note was played.
        time_s: time along the guide since `base`: quarters of the guide times `quarter_s`.
        voice, line: as in `Onsets`.
        mark: for each onset, what was struck: kinds that come back at the same places.
        pitch: of each note; equal for all that say nothing of a bass.
        velocity, lasts: of each note, the latter in ticks until it is released.
    """

    guide: BeatTrack
    base: int
    quarter_s: float
    seconds: Floats
    time_s: Floats
    voice: Ints
    line: Ints
    mark: Ints
    pitch: Ints
    velocity: Ints
    lasts: Floats

    @property
    def drums(self) -> bool:
        """Whether most notes are struck on drums, which change family at every beat and repeat whole patterns."""
        return 2 * int(np.count_nonzero(self.mark)) > len(self.mark)


def playing(score: Score, seconds: Floats, guide: BeatTrack) -> Playing:
    """Onsets in the time of a guide, with what was struck at each.

    Args:
        score: its notes in order of time.
        seconds: shape (n,), when each was played.
        guide: the beat track to measure time by.
    """
    pitch, percussion = score.pitch_midi, score.percussion_notes()
    voice = voices(score.part * 128 + pitch, seconds)
    _, line = np.unique(score.part * 129 + np.where(percussion, pitch, 128), return_inverse=True)
    mark = np.where(percussion, pitch + 1, 0)
    base, quarter_s, time_s = _timed(seconds, guide)
    return Playing(
        guide=guide,
        base=base,
        quarter_s=quarter_s,
        seconds=seconds,
        time_s=time_s,
        voice=voice,
        line=line,
        mark=mark,
        pitch=np.where(percussion, 0, pitch),
        velocity=score.velocity,
        lasts=score.duration_ticks / score.resolution,
    )


def first_notes(play: Playing, count: int) -> Playing:
    """The first few notes, along the same guide.

    Args:
        play: all notes.
        count: how many.
    """
    columns = ("seconds", "time_s", "voice", "line", "mark", "pitch", "velocity", "lasts")
    return replace(play, **{name: getattr(play, name)[:count] for name in columns})


def _timed(seconds: Floats, guide: BeatTrack) -> tuple[int, float, Floats]:
    """The quarter that is counted from, seconds a quarter, and the times along the guide."""
    quarters = guide.quarters_at(seconds)
    base = first_line(float(quarters[0]))
    span = quarters[-1] - quarters[0]
    quarter_s = float((seconds[-1] - seconds[0]) / span) if span > 0 else float(guide.quarter_s_at(seconds)[0])
    return base, quarter_s, (quarters - base) * quarter_s


def seen_from(track: Track, play: Playing) -> Onsets:
    """The onsets as a track shows them."""
    lines = np.arange(len(track.line_s), dtype=np.float64)
    own = BeatTrack(track.line_s, lines)
    quarters = np.maximum(own.quarters_at(play.time_s), 0.0)
    near = np.clip(np.floor(quarters).astype(np.int64), 0, len(lines) - 2)
    spread = np.maximum(track.spread_s[near], track.spread_s[near + 1])
    return Onsets(quarters, own.quarter_s_at(play.time_s), spread, play.voice, play.line, int(quarters[-1]) + 2)


def by_guide(play: Playing) -> Onsets:
    """The onsets as the guide shows them."""
    quarters = play.time_s / play.quarter_s
    seconds = play.guide.seconds_at(quarters + play.base)
    spread = np.full(len(quarters), play.guide.spread_s)
    return Onsets(quarters, play.guide.quarter_s_at(seconds), spread, play.voice, play.line, int(quarters[-1]) + 2)
