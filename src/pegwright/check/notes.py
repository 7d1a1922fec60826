"""Rules of notes before any pin is looked at: their channels, shared strikes, and that every hole exists."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pegwright.check.subject import Subject
from pegwright.placement import Outcome


def channels(subject: Subject) -> Iterator[str]:
    """A note has a channel that sounds it, or no channel does."""
    placement, sounds = subject.placement, subject.sounds
    some = placement.channel >= 0
    notes = np.arange(subject.note_count)
    yield from subject.each(some & ~sounds[placement.channel, notes], "has a channel that does not sound it")
    yield from subject.each(~some & sounds.any(axis=0), "has no channel although one sounds it")
    yield from subject.each(
        some == (placement.outcome == Outcome.NO_CHANNEL),
        "is left out for lack of a channel and has one, or has none and another outcome",
    )


def shared_strikes(subject: Subject) -> Iterator[str]:
    """Notes of one onset and the same channels are one strike, that of the heaviest, then the first."""
    placement, note = subject.placement, np.arange(subject.note_count)
    heads, weight, onset = placement.unison, subject.weight, subject.onset_ticks
    needs_strike = (placement.channel >= 0) & (onset < subject.turn_ticks)
    shared = heads >= 0
    yield from subject.each(shared & ~needs_strike, "shares a strike although it needs none")
    same = (subject.kind[heads] == subject.kind) & (onset[heads] == onset)
    same &= placement.channel[heads] == placement.channel
    yield from subject.each(shared & ~same, "shares a strike with a note of other channels or another onset")
    yield from subject.each(shared & (heads[heads] >= 0), "shares a strike with a note that shares one itself")
    lighter = (weight[heads] > weight) | ((weight[heads] == weight) & (heads < note))
    yield from subject.each(shared & ~lighter, "shares a strike with a note that weighs less or comes later")
    expected = np.where(placement.outcome[heads] == Outcome.PLACED, Outcome.HOLE_USED, placement.outcome[heads])
    yield from subject.each(shared & (placement.outcome != expected), "shares a strike and has another outcome")
    alone = np.flatnonzero(needs_strike & ~shared)
    order = alone[np.lexsort([alone, onset[alone], subject.kind[alone], subject.turn[alone]])]
    twice = np.zeros(len(order), dtype=bool)
    twice[1:] = (np.diff(subject.turn[order]) == 0) & (np.diff(subject.kind[order]) == 0)
    twice[1:] &= np.diff(onset[order]) == 0
    yield from subject.each_of(order, twice, "is the same strike as another and does not say so")


def holes(subject: Subject) -> Iterator[str]:
    """Every pin is in a hole that its channel has and that is not lost."""
    placement, placed, table = subject.placement, subject.placed, subject.holes
    plate, row, index = placement.plate[placed], placement.row[placed], placement.index[placed]
    inside = index < table.row_holes[row]
    yield from subject.each_of(placed, ~inside, "is in a hole that the row does not have")
    number = table.numbers[row, plate, np.where(inside, index, 0)]
    channel = placement.channel[placed]
    has, exists = table.has[channel, number], table.present[channel, number]
    yield from subject.each_of(placed, ~has, "is in a row that the channel does not have")
    yield from subject.each_of(placed, inside & has & ~exists, "is in a lost hole")
