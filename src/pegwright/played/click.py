"""Whether a song was played to the beat that its file states, as to a click."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from pegwright.played.beam_search import BeatHypothesis
from pegwright.played.by_patterns import BEHIND, EVENLY, hypothesis
from pegwright.played.playing import Playing
from pegwright.played.track import Pulse

RIGID = replace(EVENLY, drift=1e-4)  # a tempo that is not the player's; its first quarter may be off by as much
LEAST_CLUSTERS = 24  # with fewer, any beat may fit


def keeps_to_guide(places: tuple[Fraction, ...], play: Playing, even: BeatHypothesis) -> bool:
    """Whether the guide's beat explains the onsets at least as well as a beat that follows the player.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets along the guide.
        even: the beat that follows the player.
    """
    if len(even.so_far) < LEAST_CLUSTERS:
        return False
    spread_s = RIGID.drift * play.quarter_s
    pulse = Pulse(0.0, play.quarter_s, spread_s, spread_s, RIGID.drift)
    rigid = hypothesis(places, play, [(0.0, pulse)], RIGID, even.so_far - BEHIND)
    return rigid.fit >= even.fit
