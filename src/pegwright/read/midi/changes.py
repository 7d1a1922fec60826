"""Tempo and metre events of a MIDI file, and the one time line that the tracks of format 2 are laid on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from operator import itemgetter

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.findings import Notices
from pegwright.frozen import frozen
from pegwright.read.midi.events import Meta
from pegwright.read.midi.notices import MidiNotice
from pegwright.read.midi.scan import KEY, METRE, TEMPO
from pegwright.read.midi.time import DEFAULT_METRE, MAX_BEAT_TYPE
from pegwright.score import DEFAULT_US_PER_QUARTER
from pegwright.spelling import Spellings, frozen_spellings, spellings_in_keys


@frozen()
class Changes:
    """Tempo and metre changes in file order.

    Args:
        tempi: (track, tick, microseconds per quarter).
        metres: (track, tick, beats, beat type).
    """

    tempi: tuple[tuple[int, int, int], ...]
    metres: tuple[tuple[int, int, int, int], ...]

    @property
    def first_tempo(self) -> int:
        """Microseconds per quarter of the first tempo in time, or the default."""
        return min(self.tempi, key=lambda change: change[1], default=(0, 0, DEFAULT_US_PER_QUARTER))[2]

    def on_line(self, starts: Sequence[int]) -> tuple[list[tuple[int, int]], list[tuple[int, int, int]]]:
        """Tempi (tick, microseconds) and metres (tick, beats, beat type) of all tracks on one line.

        Args:
            starts: tick at which each track begins, with the default tempo and metre until it states its own:
                tracks before it have no effect.
        """
        tempi = [(start, DEFAULT_US_PER_QUARTER) for start in starts] if self.tempi else []
        metres = [(start, *DEFAULT_METRE) for start in starts] if self.metres else []
        tempi += [(starts[track] + tick, tempo) for track, tick, tempo in self.tempi]
        metres += [(starts[track] + tick, beats, kind) for track, tick, beats, kind in self.metres]
        return tempi, metres


def read_changes(metas: Sequence[Meta], notices: Notices) -> Changes:
    """Tempi and metres from meta events, each long enough for its type; those that no music can follow are left out."""
    stated_tempi = [(track, tick, int.from_bytes(data[:3])) for track, tick, kind, data in metas if kind == TEMPO]
    stated_metres = [(track, tick, data[0], 1 << data[1]) for track, tick, kind, data in metas if kind == METRE]
    tempi = tuple(change for change in stated_tempi if change[2])
    metres = tuple(change for change in stated_metres if change[2] and change[3] <= MAX_BEAT_TYPE)
    notices.add(MidiNotice.BAD_TEMPO, len(stated_tempi) - len(tempi))
    notices.add(MidiNotice.BAD_METRE, len(stated_metres) - len(metres))
    return Changes(tempi, metres)


def read_spellings(metas: Sequence[Meta], starts: Ints, onset: Ints, pitch_midi: Ints) -> Spellings:
    """How notes are spelled in the keys that the file gives; empty where it gives none.

    Args:
        metas: in file order.
        starts: shape (tracks,), tick at which each track begins.
        onset: shape (n,), ticks.
        pitch_midi: shape (n,).

    Source: Standard MIDI Files 1.0, meta event FF 59 (from memory): sharps, below 0 flats, then 0 for major, 1 for
        minor.
    """
    stated = [(starts[track] + tick, data) for track, tick, kind, data in metas if kind == KEY]
    keys = [(tick, int.from_bytes(data[:1], signed=True), data[1]) for tick, data in sorted(stated, key=itemgetter(0))]
    if not keys:
        return frozen_spellings([])
    ticks, sharps, minor = np.array(keys, dtype=np.int64).T
    at = np.maximum(np.searchsorted(ticks, onset, side="right") - 1, 0)  # before the first key that one holds
    return spellings_in_keys(pitch_midi, sharps[at], minor[at] == 1)


def starts_in_turn(changes: Changes, track_ends: Ints, ticks_per_quarter: Fraction) -> Ints:
    """Where each track begins when they are played one after the other, each from a bar line.

    Args:
        changes: see there.
        track_ends: shape (tracks,), tick of the last event of each.
        ticks_per_quarter: of those ticks.

    Returns:
        Shape (tracks,), ticks.
    """
    last_metre = {track: (tick, beats, kind) for track, tick, beats, kind in changes.metres}
    starts, start = [], 0
    for track, end in enumerate(track_ends.tolist()):
        starts.append(start)
        tick, beats, kind = last_metre.get(track, (0, *DEFAULT_METRE))
        bar = ticks_per_quarter * 4 * beats / kind
        start += math.ceil(tick + math.ceil((end - tick) / bar) * bar)
    return frozen_ints(starts)
