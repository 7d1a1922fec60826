"""Whether a song was played to the beat that its file states, as to a click."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from pegwright.columns import Floats
from pegwright.played.beam_search import BeatHypothesis, clusters, follow_pulses
from pegwright.played.beat_tracking import BEHIND, DRIFT, EVEN, START_SPREAD_S, START_TEMPO_SPREAD, Playing, marks_of
from pegwright.played.track import Pulse

RIGID = 1e-4  # drift of a tempo that is not the player's, and the share by which its first quarter may be off
LEAST_CLUSTERS = 24  # with fewer, any beat may fit


def keeps_to_guide(places: tuple[Fraction, ...], play: Playing) -> bool:
    """Whether the guide's beat explains the onsets at least as well as a beat that follows the player.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets along the guide.
    """
    which = clusters(play.time_s, play.voice, EVEN.gap_s)
    if which[-1] + 1 < LEAST_CLUSTERS:
        return False
    marks = marks_of(which, play.mark)

    def along(pulse: Pulse, at_least: Floats | None = None) -> BeatHypothesis:
        return follow_pulses(play.time_s, which, marks, places, [(0.0, pulse)], EVEN.player_s, EVEN.guesses, at_least)

    quarter_s = play.quarter_s
    free = along(Pulse(0.0, quarter_s, START_SPREAD_S, START_TEMPO_SPREAD * quarter_s, DRIFT))
    rigid = along(Pulse(0.0, quarter_s, RIGID * quarter_s, RIGID * quarter_s, RIGID), free.so_far - BEHIND)
    return bool(np.isfinite(rigid.fit)) and rigid.fit >= free.fit
