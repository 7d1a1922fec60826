"""A constant lateness of a whole song against its beats: measured and removed."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import Floats, Ints, frozen_ints
from pegwright.errors import UsageError
from pegwright.score import BarMap, Score

_PLACES = 24  # in a quarter note
_AGREEMENT = 0.5  # minimum mean resultant length: 1 when all onsets agree, 0 when they are spread evenly
_RAYLEIGH = 4.6  # -ln 0.01: evenly spread onsets agree so well by chance once in a hundred songs


def constant_offset(score: Score) -> int:
    """How much later than its places on the beat a whole song is.

    Places are the 24ths of a quarter, which hold sixteenths, 32nds and triplets. Where most onsets are on such a
    place, to the file's own rounding, there is no offset. Else the circular mean of the onsets' distances from the
    12ths (sixteenths and triplets), or where they disagree (many 32nds) from the 24ths, is the guess; around it,
    the offset is the distance that most onsets share, or their mean distance where they share none. It must be
    larger than the spread about it, so that it holds for the song and not for a few notes.

    Returns:
        Ticks; positive for late, negative for early, 0 for none that is constant.

    Source: mean direction, resultant length and Rayleigh's test of circular data, as in K. V. Mardia and P. E. Jupp,
        Directional Statistics (2000), chapters 2 and 6 (from memory).
    """
    onsets, resolution, slack = score.onset_ticks, score.resolution, score.tolerance_ticks
    if score.note_count == 0 or _agree(_from_places(onsets, 0, resolution), 0, slack):
        return 0
    for units in (_PLACES // 2, _PLACES):
        angle = onsets * units % resolution * (2 * np.pi / resolution)
        mean = complex(np.exp(1j * angle).mean())
        if abs(mean) < _AGREEMENT or score.note_count * abs(mean) ** 2 < _RAYLEIGH:
            continue
        guess = round(float(np.angle(mean)) / (2 * np.pi) * resolution / units)
        late = guess + _from_places(onsets, guess, resolution)
        middle = round(float(np.median(late)))
        offset = middle if _agree(late, middle, slack) else round(float(late.mean()))
        if abs(offset) > slack and np.mean((late - offset) ** 2) < offset**2:
            return offset
    return 0


def _from_places(onsets: Ints, offset: int, resolution: int) -> Floats:
    """Shape (n,): signed ticks from the nearest place, once `offset` is taken out."""
    past_half = 2 * (onsets - offset) * _PLACES + resolution
    return (past_half % (2 * resolution) - resolution) / (2.0 * _PLACES)


def _agree(distances: Floats, centre: float, slack: int) -> bool:
    """Whether more than half the distances are the same as `centre`, but for the file's rounding to whole ticks."""
    apart = np.abs(distances - centre)
    return 2 * int(np.count_nonzero((apart < 1) | (apart <= slack))) > len(distances)


def shift(score: Score, ticks: int) -> Score:
    """The score with an offset taken out: every onset `ticks` earlier, bars and tempi where they were.

    A note that was on its place although the song is late cannot begin before 0; it begins there.

    Args:
        score: the song.
        ticks: as `constant_offset` gives it; negative makes onsets later.

    Returns:
        A score with as many bars as its notes need after the move.

    Raises:
        UsageError: the first note would begin more than a 24th of a quarter before the song.
    """
    latest = int(score.onset_ticks[0]) + score.resolution // 24 if score.note_count else ticks
    if ticks > latest:
        raise UsageError(
            f"an offset of {ticks:,} ticks would put the first note before the start of the song; "
            f"at most {latest:,} can be taken out",
            where=score.file,
            hint="choose a smaller offset",
        )
    onsets = np.maximum(score.onset_ticks - ticks, 0)
    moved = replace(score, onset_ticks=frozen_ints(onsets)).in_order()
    before, after = (
        song_end(each.onset_ticks, each.onset_ticks + each.duration_ticks, score.resolution) for each in (score, moved)
    )
    return replace(moved, bar_map=_bars_for(score, before, after))


def song_end(onset: Ints, end: Ints, ticks_per_quarter: Fraction | int) -> int:
    """The tick to which a song needs bars: the last bar holds the moment before it.

    A note that ends less than a 32nd into a bar was meant to end at its bar line, and needs no bar for it.

    Args:
        onset: shape (n,), ticks.
        end: shape (n,), ticks.
        ticks_per_quarter: of those ticks.

    Returns:
        Ticks, at least 1.
    """
    return int(np.maximum(end - int(ticks_per_quarter / 8), onset + 1).max(initial=1))


def _bars_for(score: Score, before: int, after: int) -> BarMap:
    """The bars of a song whose last note ended at `before` and now ends at `after`.

    Bars that only the move emptied go, bars that were empty already stay, and bars it runs into are added.
    """
    bars = score.bar_map
    count = len(bars.ticks)
    kept = bars.bar_of(after - 1) + 1 if bars.bar_of(before - 1) == count - 1 else count
    if kept < count:
        return bars.section(0, kept, 0, int(bars.ticks[kept]))
    return bars.reaching(after, score.resolution)
