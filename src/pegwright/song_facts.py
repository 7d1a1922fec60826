"""What a song is made of, before anything is fitted: its parts, bars, tempi and marks, and what a wheel can sound."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.edit.bars import silent_bars
from pegwright.edit.by_hand import Judgement, judged
from pegwright.edit.offset import constant_offset
from pegwright.edit.turns import length_turns
from pegwright.findings import Finding
from pegwright.fit.arrange import arrange
from pegwright.fit.turn import prevailing_tempo
from pegwright.frozen import frozen
from pegwright.score import NO_ORNAMENT, Part, Score
from pegwright.units import quarters_per_minute
from pegwright.wheel import Wheel


@frozen()
class SoundCount:
    """A pitch or percussion key of a part.

    Args:
        note: the first note of the song that has it.
        pitch_midi: a MIDI pitch or percussion key.
        count: notes that have it.
    """

    note: int
    pitch_midi: int
    count: int


@frozen()
class PartFacts:
    """A part of a song.

    Args:
        part: see there.
        note_count: notes.
        lowest, highest: its outer pitches or keys; None without notes.
        channels: the channels of the wheel that can sound notes of it, in wheel order; empty without a wheel.
        silent: pitches or keys that no channel sounds, ascending; empty without a wheel.
    """

    part: Part
    note_count: int
    lowest: SoundCount | None
    highest: SoundCount | None
    channels: tuple[int, ...]
    silent: tuple[SoundCount, ...]


@frozen()
class Stretch:
    """Bars in playing order that have the same metre, or the same mark of swing.

    Args:
        value: beats and beat type, or the ratio of the swing.
        first, last: numbers of the bars, from 0.
    """

    value: tuple[int, int] | Fraction
    first: int
    last: int


@frozen(eq=False)
class SongFacts:
    """What a song is made of.

    Args:
        score: the song.
        wheel: that it is for, or None.
        findings: of reading.
        parts: in the order of the score.
        metres: with the bars that have them.
        swings: marks of swing, with their bars; bars without one are left out.
        tempi: in quarter notes a minute, in playing order; equal ones that follow each other once.
        prevailing: the tempo in force for most of the time, in quarter notes a minute.
        seconds: how long the song lasts at its own tempi.
        turns: its length in turns of the wheel; None without a wheel.
        judgement: whether it was written or played by hand.
        late_ticks: a constant delay of the file.
        silent_bars: bars before the first note.
        ornaments: how many of each kind.
    """

    score: Score
    wheel: Wheel | None
    findings: tuple[Finding, ...]
    parts: tuple[PartFacts, ...]
    metres: tuple[Stretch, ...]
    swings: tuple[Stretch, ...]
    tempi: tuple[float, ...]
    prevailing: float
    seconds: float
    turns: Fraction | None
    judgement: Judgement
    late_ticks: int
    silent_bars: int
    ornaments: dict[str, int]

    @property
    def length_quarters(self) -> Fraction:
        """From its beginning to the end of its last bar."""
        return Fraction(self.score.length_ticks, self.score.resolution)


def song_facts(score: Score, wheel: Wheel | None = None, findings: tuple[Finding, ...] = ()) -> SongFacts:
    """Gather what a song is made of.

    Args:
        score: as it was read.
        wheel: that it is for; None leaves out what only a wheel says.
        findings: of reading.
    """
    bars, late_ticks = score.bar_map, constant_offset(score)
    metres = list(zip(bars.beats.tolist(), bars.beat_types.tolist(), strict=True))
    us_per_quarter, seconds = _tempi(score)
    kinds = Counter(score.ornaments[number].kind.value for number in score.ornament.tolist() if number != NO_ORNAMENT)
    return SongFacts(
        score,
        wheel,
        findings,
        parts=_parts(score, wheel),
        metres=tuple(_stretches(metres)),
        swings=tuple(stretch for stretch in _stretches(bars.swing) if stretch.value != 1),
        tempi=tuple(quarters_per_minute(each) for each, _ in groupby(us_per_quarter)),
        prevailing=quarters_per_minute(prevailing_tempo(score.tempo_map, score.length_ticks)),
        seconds=seconds,
        turns=None if wheel is None else length_turns(score, wheel),
        judgement=judged(score, late_ticks),
        late_ticks=late_ticks,
        silent_bars=silent_bars(score),
        ornaments=dict(kinds.most_common()),
    )


def _parts(score: Score, wheel: Wheel | None) -> tuple[PartFacts, ...]:
    choices = arrange(score, wheel, FitOptions()).choices if wheel else ((),) * score.note_count
    facts = []
    for number, part in enumerate(score.parts):
        notes = np.flatnonzero(score.part == number)
        pitches, first, counts = np.unique(score.pitch_midi[notes], return_index=True, return_counts=True)
        sounds = [
            SoundCount(*row) for row in zip(notes[first].tolist(), pitches.tolist(), counts.tolist(), strict=True)
        ]
        channels = sorted({channel for sound in sounds for channel in choices[sound.note]})
        silent = tuple(sound for sound in sounds if wheel and not choices[sound.note])
        lowest, highest = (sounds[0], sounds[-1]) if sounds else (None, None)
        facts.append(PartFacts(part, len(notes), lowest, highest, tuple(channels), silent))
    return tuple(facts)


def _stretches(values: Sequence[tuple[int, int] | Fraction]) -> list[Stretch]:
    """Bars of equal value that follow each other."""
    stretches, first = [], 0
    for value, bars in groupby(values):
        past = first + len(list(bars))
        stretches.append(Stretch(value, first, past - 1))
        first = past
    return stretches


def _tempi(score: Score) -> tuple[list[int], float]:
    """The tempi of the song in microseconds a quarter, and how long it lasts in seconds."""
    tempi, end = score.tempo_map, score.length_ticks
    within = tempi.ticks < max(1, end)
    us_per_quarter = tempi.us_per_quarter[within].tolist()
    held = np.diff(np.append(tempi.ticks[within], end)).tolist()
    total = sum(each * ticks for each, ticks in zip(us_per_quarter, held, strict=True))
    return us_per_quarter, total / score.resolution / 1e6
