"""Whether a song was written or played by hand, judged by where its notes begin.

The moments at which notes begin are compared with the simple grids of a quarter note: its 24ths, 16ths, tenths, ninths
and sevenths, which hold all from sixteenths to 64ths, and tuplets of three, five, six, seven and nine. In a written
song nearly every moment is on such a place, exactly or by no more than the rounding of its file to whole ticks. In
one that was played by hand, no more are than chance would put there. The share is corrected for chance as Cohen's kappa
is: 1 where every moment is on a grid, 0 where as many are as chance puts there.

Source: J. Cohen, "A coefficient of agreement for nominal scales", Educational and Psychological Measurement 20 (1960)
(from memory); that a song is judged by half of what is beyond chance is our rule, tried on scores written and played.
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Ints, distinct, frozen_ints
from pegwright.findings import Finding, Severity
from pegwright.frozen import frozen
from pegwright.score import Score
from pegwright.units import percent_text, plural

GRIDS = (24, 16, 10, 9, 7)  # parts of a quarter note
HALF_BEYOND_CHANCE = 0.5  # of the share on a grid: a song with less was played by hand
MIN_OFF_BY_CHANCE = 8  # moments that chance would have to put off the grids; with fewer nothing can be said
PLAYED_CODE = "played-by-hand"


@frozen()
class Judgement:
    """How a song was judged.

    Args:
        moments: at which notes begin.
        on_grid: those of them that lie on a simple grid.
        by_chance: the share that would lie there by chance, 0 to 1.
        by_hand: whether the song was played by hand.
    """

    moments: int
    on_grid: int
    by_chance: float
    by_hand: bool

    @property
    def unclear(self) -> bool:
        """Whether there is too little to judge by: few moments, or coarse ticks; all of them on a grid are enough."""
        return self.on_grid < self.moments and self.moments * (1 - self.by_chance) < MIN_OFF_BY_CHANCE


def judged(score: Score, late_ticks: int = 0) -> Judgement:
    """Judge whether a song was written or played by hand.

    Args:
        score: as it was read.
        late_ticks: a constant delay of the whole song, which is no playing.
    """
    resolution = score.resolution
    factor = max(1, score.tolerance_ticks)  # of a tick of the file, where ticks are finer than the file's
    moments = distinct(frozen_ints(score.onset_ticks - late_ticks))
    on_grid = int(np.count_nonzero(_on_grid(moments % resolution, resolution, factor)))
    by_chance = float(np.mean(_on_grid(np.arange(0, resolution, factor), resolution, factor)))
    judgement = Judgement(len(moments), on_grid, by_chance, by_hand=False)
    if judgement.unclear or on_grid == len(moments):
        return judgement
    beyond = (on_grid / len(moments) - by_chance) / (1 - by_chance)
    return Judgement(len(moments), on_grid, by_chance, by_hand=beyond < HALF_BEYOND_CHANCE)


def _on_grid(within: Ints, resolution: int, tick: int) -> Ints:
    """Shape (n,): 1 for each place within a quarter that is less than a tick of the file from a place of a grid."""
    on = np.zeros(len(within), dtype=np.int64)
    for parts in GRIDS:
        away = within * parts % resolution
        on |= np.minimum(away, resolution - away) < tick * parts
    return on


def by_hand_finding(score: Score, judgement: Judgement) -> Finding:
    """The finding that a song was played by hand, with what to try."""
    message = f"{judgement_words(judgement)}: the song was played by hand, or not to the file's own beat"
    hint = "--performed puts every note on the hole that was meant"
    return Finding(PLAYED_CODE, Severity.NOTE, score.file, message, hint)


def judgement_words(judgement: Judgement) -> str:
    """What was counted: `412 of 530 onsets lie on a simple grid (chance alone puts 26 % there)`."""
    on_grid, moments = judgement.on_grid, plural(judgement.moments, "onset")
    if on_grid == judgement.moments:
        return f"all {moments} lie on a simple grid" if on_grid > 1 else "the only onset lies on a simple grid"
    verb = "lies" if on_grid == 1 else "lie"
    by_chance = percent_text(judgement.by_chance)
    return f"{on_grid:,} of {moments} {verb} on a simple grid (chance alone puts {by_chance} there)"
