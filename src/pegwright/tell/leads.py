"""Notes meant together that do not sound together: because their channels are late, or as they were placed.

How late a channel is follows from its lead, its reader and its early pins at the song's tempo (`strikes.late_seconds`).

Source: I. J. Hirsh, "Auditory perception of temporal order", JASA 31, 1959, 759-767, as quoted by C. Watson 2004: the
order of two sounds is heard from about 20 ms. It is a guide: no threshold of a flam is published.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple, TypeAlias

import numpy as np

from pegwright.columns import Floats, Ints, distinct, firsts
from pegwright.frozen import frozen
from pegwright.placement import Outcome, Placement
from pegwright.score import Score, SourceRef
from pegwright.strikes import late_seconds, turn_seconds
from pegwright.tell.audible import FLAM_RISK_MS
from pegwright.units import figures
from pegwright.wheel import Wheel

_SLACK_MS = 1e-6
Turn: TypeAlias = tuple[Score, Placement]


@frozen()
class ApartPair:
    """Two channels whose notes are meant together and sound `FLAM_RISK_MS` or more apart.

    Args:
        first, later: indexes of the channels, the one that sounds first and the other, where they are farthest apart.
        moments: how often they are so far apart.
        apart_ms: how far at most; the sum of the next two.
        leads_ms, placed_ms: what the channels' leads, and what the placement of the notes make of that.
        where: the place in the score where that is.
    """

    first: int
    later: int
    moments: int
    apart_ms: float
    leads_ms: float
    placed_ms: float
    where: SourceRef


@frozen()
class SongApart:
    """What the leads and the placement do to notes meant together in a song.

    Args:
        pairs: the channels concerned, the worst first.
        placed_ms: how far apart the placement makes such notes, at most.
        others_ms: where no notes meant together are concerned, how much later the latest channel of the song sounds
            than the earliest.
    """

    pairs: tuple[ApartPair, ...]
    placed_ms: float
    others_ms: float

    @property
    def leads_ms(self) -> float:
        """How far apart leads make notes meant together, at most."""
        return max((abs(pair.leads_ms) for pair in self.pairs), default=0.0)

    def words(self) -> Iterator[str]:
        """A line for each of the two that is `FLAM_RISK_MS` or more: `leads: up to 36 ms apart`."""
        for name, apart_ms in (("leads", self.leads_ms), ("placement", self.placed_ms)):
            if apart_ms >= FLAM_RISK_MS - _SLACK_MS:
                yield f"{name}: up to {figures(apart_ms)} ms apart"
        if not self.pairs and self.others_ms >= FLAM_RISK_MS - _SLACK_MS:
            yield f"leads: up to {figures(self.others_ms)} ms apart, of notes that are not meant together"


class _Apart(NamedTuple):
    """Pairs of notes; columns of shape (m,): numbers of the notes, the one that sounds first before the other."""

    key: Ints
    first: Ints
    later: Ints
    apart_ms: Floats


def song_apart(turns: Sequence[Turn], wheel: Wheel) -> SongApart:
    """Find the channels whose notes are meant together and do not sound so.

    Args:
        turns: of a song, with their placements at one tempo.
        wheel: what they were fitted to.
    """
    late_ms = 1000 * late_seconds(wheel, turn_seconds(wheel, turns[0][1].us_per_quarter))
    placed = [np.flatnonzero(placement.outcome == Outcome.PLACED) for _, placement in turns]
    turn = np.repeat(np.arange(len(turns)), [len(notes) for notes in placed])
    note = np.concatenate(placed)

    def column(of_turn: Sequence[Ints | Floats]) -> Ints:
        return np.concatenate([values[notes] for values, notes in zip(of_turn, placed, strict=True)])

    channel = column([placement.channel for _, placement in turns])
    onset = column([score.onset_ticks for score, _ in turns])
    moved_ms = column([placement.deviation_ms for _, placement in turns])
    order = np.lexsort([channel, onset, turn])
    turn, note, channel, onset, moved_ms = (values[order] for values in (turn, note, channel, onset, moved_ms))
    sounds_ms = late_ms[channel] + moved_ms
    apart = _pairs(np.cumsum(firsts(turn, onset)), channel, sounds_ms, len(wheel.channels))
    pairs = []
    for rows in _by_key(apart):
        worst = rows[np.argmax(apart.apart_ms[rows])]
        one, other = int(apart.first[worst]), int(apart.later[worst])
        leads_ms = float(late_ms[channel[other]] - late_ms[channel[one]])
        placed_ms = float(moved_ms[other] - moved_ms[one])
        where = turns[int(turn[one])][0].source(int(note[one]))
        apart_ms = float(apart.apart_ms[worst])
        pairs.append(ApartPair(int(channel[one]), int(channel[other]), len(rows), apart_ms, leads_ms, placed_ms, where))
    pairs.sort(key=lambda pair: (-pair.apart_ms, pair.first, pair.later))
    used = late_ms[distinct(channel)]
    placed_ms = np.abs(moved_ms[apart.later] - moved_ms[apart.first]).max(initial=0.0)
    return SongApart(tuple(pairs), float(placed_ms), float(np.ptp(used)) if len(used) else 0.0)


def _pairs(group: Ints, channel: Ints, sounds_ms: Floats, channels: int) -> _Apart:
    """All pairs of notes of one group that sound far enough apart.

    Args:
        group: shape (n,), rising; equal for notes meant together.
        channel: shape (n,).
        sounds_ms: shape (n,), how late each sounds.
        channels: of the wheel.
    """
    columns_of_each = []
    for away in range(1, int(np.bincount(group).max(initial=0))):
        one = np.flatnonzero(group[away:] == group[:-away])
        apart_ms = sounds_ms[one + away] - sounds_ms[one]
        one = one[np.abs(apart_ms) >= FLAM_RISK_MS - _SLACK_MS]
        later = sounds_ms[one + away] > sounds_ms[one]
        first, other = np.where(later, one, one + away), np.where(later, one + away, one)
        columns_of_each.append((first, other))
    first, other = (
        (np.concatenate(columns) for columns in zip(*columns_of_each, strict=True))
        if columns_of_each
        else (group[:0],) * 2
    )
    key = np.minimum(channel[first], channel[other]) * channels + np.maximum(channel[first], channel[other])
    return _Apart(key, first, other, sounds_ms[other] - sounds_ms[first])


def _by_key(apart: _Apart) -> Iterator[Ints]:
    """The pairs of the same two channels together, as places in the columns, by the first of the notes."""
    order = np.lexsort([apart.first, apart.key])
    if len(order):
        yield from np.split(order, np.flatnonzero(np.diff(apart.key[order])) + 1)
