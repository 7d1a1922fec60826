"""Where every note of a song played by hand was meant to be."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from pegwright.columns import Floats, Ints, frozen_floats
from pegwright.frozen import frozen
from pegwright.played.alternatives import Alternative
from pegwright.played.beats import BeatTrack
from pegwright.played.doubts import Doubts


@frozen(eq=False)
class PerformedResult:
    """Where every note was meant to be; columns have shape (n,), in the score's order.

    Args:
        onset_units: hole of each note, in units from quarter 0, from 0.
        confidence: 0..1, how probable it is that the player meant that hole.
        deviation_ms: the note as played less its hole; later is positive.
        resolution: units per quarter.
        beats: the beat track, on the same quarters.
        player_ms: standard deviation of the player's onsets about the holes.
        keeps_bars: quarter 0 is that of the score's own tempo map, so its bars still hold.
        own_beat_kept: the beat that the file states was kept, though it had only been asked to hold at the beginning.
        alternatives: places from which on other readings of the beat put all notes elsewhere, in the song's order.
        doubts: what is in doubt about the beat; None where it was given, or bars were not followed.
        certainty: 0..1, how probable each hole is by the beat chosen alone; None where the confidence is that.
        tempo_open: whether nothing that was given says in which note values the beat is to be written.
    """

    onset_units: Ints
    confidence: Floats
    deviation_ms: Floats
    resolution: int
    beats: BeatTrack
    player_ms: float
    keeps_bars: bool
    own_beat_kept: bool = False
    alternatives: tuple[Alternative, ...] = ()
    tempo_open: bool = False
    doubts: Doubts | None = None
    certainty: Floats | None = None


def in_doubt(result: PerformedResult, doubts: Doubts, places: tuple[Fraction, ...]) -> PerformedResult:
    """The same holes, with the confidences and other readings that follow from what is in doubt about the beat.

    Args:
        result: as it was.
        doubts: about its beat.
        places: where holes lie within a quarter, in quarters.
    """
    certainty = result.confidence if result.certainty is None else result.certainty
    sure = frozen_floats(certainty * doubts.sure()[doubts.cluster])
    alternatives = doubts.alternatives(result.onset_units, result.resolution, places)
    return replace(result, confidence=sure, alternatives=alternatives, doubts=doubts, certainty=certainty)
