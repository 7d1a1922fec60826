"""Whether a song was played to the beat that its file states, as to a click."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

from pegwright.played.beam_search import BeatHypothesis
from pegwright.played.by_patterns import BEHIND, EVENLY, from_guide, hypothesis
from pegwright.played.playing import Playing, first_notes
from pegwright.played.track import Pulse

RIGID = replace(EVENLY, drift=1e-6)  # a tempo that is not the player's: a thousandth off is half a beat in 500
LEAST_CLUSTERS = 24  # with fewer, any beat may fit
TRIAL_NOTES = 96  # after which most players have left a click that they do not hear


def keeps_to_guide(places: tuple[Fraction, ...], play: Playing) -> bool:
    """Whether the guide's beat explains the onsets at least as well as a beat that follows the player.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets along the guide.
    """
    if len(play.time_s) > 2 * TRIAL_NOTES and _compared(places, first_notes(play, TRIAL_NOTES))[0].fit == -math.inf:
        return False
    rigid, even = _compared(places, play)
    return len(even.so_far) >= LEAST_CLUSTERS and rigid.fit >= even.fit


def _compared(places: tuple[Fraction, ...], play: Playing) -> tuple[BeatHypothesis, BeatHypothesis]:
    """The guide's beat, with a fit of -inf where it was soon left far behind, and the beat that follows the player.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets along the guide.
    """
    even = from_guide(places, play)
    spread_s = RIGID.drift * play.quarter_s
    pulse = Pulse(0.0, play.quarter_s, spread_s, spread_s, RIGID.drift)
    return hypothesis(places, play, [(0.0, pulse)], RIGID, even.so_far - BEHIND), even
