"""Note-ons and note-offs paired into notes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints, firsts
from pegwright.frozen import frozen
from pegwright.read.midi.events import NoteEvents


@frozen(eq=False)
class Notes:
    """Notes by track, channel and pitch, then onset; columns of shape (n,).

    Args:
        onset, end: ticks from the start of the track; the end is never before the onset.
        voice: track x 16 + channel.
        pitch_midi, velocity: 0..127; 1..127.
        overlapping: the pitch was sounding already in the same voice.
        hanging: no note-off was left for this or another note of its pitch and voice.
        hanging_count: notes for which no note-off came.
    """

    onset: Ints
    end: Ints
    voice: Ints
    pitch_midi: Ints
    velocity: Ints
    overlapping: NDArray[np.bool_]
    hanging: NDArray[np.bool_]
    hanging_count: int


def pair_notes(events: NoteEvents, track_ends: Ints) -> Notes:
    """Pair each note-on with a note-off of the same track, channel and pitch.

    The first note-off ends the note that began first. Where a voice has too few note-offs for a pitch, none can
    be trusted: each note of that pitch then ends at the next note-on or note-off of the pitch, and the last at the
    end of its track. A note-off with nothing sounding means nothing.

    Args:
        events: in file order, track after track.
        track_ends: shape (tracks,), tick of the last event of each.
    """
    key = events.voice << 7 | events.pitch_midi
    order = np.argsort(key, kind="stable")
    key, tick, voice = key[order], events.tick[order], events.voice[order]
    on = events.velocity[order] > 0
    first = firsts(key)
    group = np.cumsum(first) - 1
    depth, orphan = _sounding(on, first, group)

    off = ~on & ~orphan
    group_count = int(first.sum())
    on_count = np.bincount(group[on], minlength=group_count)
    off_count = np.bincount(group[off], minlength=group_count)
    short_of_offs = on_count > off_count

    last = np.append(first[1:], True)[: len(key)]
    following = np.where(last, track_ends[voice >> 4], np.append(tick[1:], 0)[: len(key)])
    end = following.copy()
    paired = ~short_of_offs[group]
    end[on & paired] = tick[off & paired]  # both lists run by pitch, then time: the k-th off ends the k-th on
    return Notes(
        onset=tick[on],
        end=end[on],
        voice=voice[on],
        pitch_midi=key[on] & 127,
        velocity=events.velocity[order][on],
        overlapping=(paired & (depth > 1))[on],
        hanging=(~paired)[on],
        hanging_count=int((on_count - off_count)[short_of_offs].sum()),
    )


def _sounding(on: NDArray[np.bool_], first: NDArray[np.bool_], group: Ints) -> tuple[Ints, NDArray[np.bool_]]:
    """How many notes of the pitch sound after each event, and which events are offs with nothing sounding.

    Args:
        on: shape (e,), note-on or note-off, one group of equal pitches after another.
        first: shape (e,), the first event of its group.
        group: shape (e,), number of the group.
    """
    total = np.cumsum(np.where(on, 1, -1))
    starts = np.flatnonzero(first)
    total -= (total[starts] - np.where(on[starts], 1, -1))[group]
    # An off with nothing sounding takes the running total to a new low below 0. Setting each group far below
    # the one before lets a single running minimum serve them all.
    drop = group * (len(on) + 1)
    floor = np.minimum.accumulate(np.minimum(total, 0) - drop) + drop
    before = np.where(first, 0, np.concatenate([np.zeros(1, np.int64), floor[:-1]])[: len(on)])
    return total - floor, floor < before
